from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

import routing.fittings.trade_data as trade_data
from routing.fittings import fitting_rules
from routing.fittings.trade_data import limits, nominal_sizes, outlet_sizes

DATA = Path(trade_data.__file__).parent / "data"


@pytest.mark.parametrize("path", sorted(DATA.glob("*.csv")), ids=lambda path: path.stem)
def test_data_files__every_row_has_a_status_and_a_source(path):
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert rows
    for row in rows:
        assert None not in row
        assert row["status"]
        # Common practice is the one status that may stand without a publication.
        assert row["source"] or row["status"] == "common practice, no source"


def test_fitting_rules__are_words_and_no_ids():
    # A vent is called V1, so that a rule may not be.
    rules = fitting_rules()
    assert {rule.fitting for rule in rules.values()} == {"vent", "drain"}
    assert not any(re.fullmatch(r"[VD]\d+", word) for word in rules)
    assert [word for word, rule in rules.items() if rule.fitting == "drain"] == [
        "sag",
        "lowest end",
        "above a valve",
        "crossing",
    ]


def test_limits__every_row_of_the_file_is_used():
    with (DATA / "limits.csv").open(encoding="utf-8", newline="") as stream:
        names = {row["name"] for row in csv.DictReader(stream)}
    assert names == set(type(limits()).__dataclass_fields__)


def test_tables__rise():
    bores = [row.largest_bore_m for row in outlet_sizes()]
    outlets = [row.outlet_m for row in outlet_sizes()]
    metres, inches = zip(*nominal_sizes(), strict=True)
    for column in (bores, outlets, list(metres), list(inches)):
        assert column == sorted(set(column))
