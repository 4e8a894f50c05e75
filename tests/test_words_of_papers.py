"""Rules are named by words in every output, and a paper speaks one system of units.

An inch is 25.4 mm and a foot 0.3048 m, both exact (NIST SP 811); sizes as sold are those of ASME
B36.10M, from memory.
"""

from __future__ import annotations

import csv
import re
import tomllib
from pathlib import Path
from typing import Any

import orjson
import pytest
from every_paper import every_paper

import routing
from routing.line import read_route
from routing.record import study_document, to_json
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study
from sample_dem import sample_paths

RULES = Path(routing.__file__).parent / "fittings" / "data" / "rules.csv"
OTHER_IDS = 40
"""Added to the number of each fitting, so that no name of one could be that of a rule."""


@pytest.fixture(scope="module", params=["metric", "us"])
def doc(request: pytest.FixtureRequest) -> dict[str, Any]:
    """Return the sample in a cold place, with a relief valve, its fittings numbered from 41 on."""
    sample = sample_paths()
    tables = tomllib.loads(sample.settings.read_text("utf-8"))
    tables["study"] = {**tables["study"], "units": request.param}
    tables["pipe"][0] = {**tables["pipe"][0], "catalogue": "PVCU-S10-200"}
    tables["site"] = {**tables["site"], "vents_may_freeze": True, "frost_depth": "1.1 m"}
    tables["relief"] = [{"at": "1100 m", "reason": "bench above the yard"}]
    tables["valve"] = [{"at": "600 m"}]
    settings = settings_from_mapping(tables)
    terrain = open_study_terrain([sample.terrain], settings)
    study = run_study(terrain, read_route(sample.line), settings)
    text = to_json(study_document(study))
    text = text if isinstance(text, str) else text.decode()
    renamed = re.sub(
        r"\b([VD])(\d+)\b", lambda found: f"{found[1]}{OTHER_IDS + int(found[2])}", text
    )
    return orjson.loads(renamed)


@pytest.fixture(scope="module")
def papers(doc: dict[str, Any]) -> dict[str, str]:
    return every_paper(doc)


def test_rules__are_words_in_every_output(doc: dict[str, Any], papers: dict[str, str]) -> None:
    with RULES.open(newline="", encoding="utf-8") as file:
        named = {row["rule"] for row in csv.DictReader(file)}
    assert not [rule for rule in named if re.search(r"\d", rule)]
    assert {rule for vent in doc["vents"] for rule in vent["rules"]} <= named
    assert {each["rule"] for each in (*doc["drains"], *doc["advised_folded"])} <= named
    ids = {each["id"] for each in (*doc["vents"], *doc["drains"])}
    for where, text in papers.items():
        told = set(re.findall(r"\b[VD]\d+\b", text))
        assert told <= ids, (where, told - ids)


METRIC = r"kPa|MPa|bar|L/s|m/s²?|m³(?:/s)?|m²|mm|cm|km|m|kN|k?N/m|kg(?:/m³?)?|litres?|°C"
US = r"psi|gpm|ft/s|ft³?|ft²|yd³|lbf?(?:/ft)?|in(?! each| \d)|gallons?|°F"
OWN = r"least bore: 1 in, least outlet|\b[EN] \d+\.\d\d m, EPSG|heights in metre"
"""A publication's own row; places on the map's own grid, and the raster's own unit."""


def test_rules__code_asks_only_for_rules_that_there_are() -> None:
    """A rule asked for by an old id is never found: what hangs on it would be lost in silence."""
    with RULES.open(newline="", encoding="utf-8") as file:
        named = {row["rule"] for row in csv.DictReader(file)}
    asked = {
        (path.name, rule)
        for path in RULES.parents[2].rglob("*.py")
        for rule in re.findall(r'"([^"]+)" in \w+(?:\.rules|\["rules"\])', path.read_text("utf-8"))
    }
    assert asked
    assert {each for each in asked if each[1] not in named} == set()


def test_units__every_output_speaks_one_system(doc: dict[str, Any], papers: dict[str, str]) -> None:
    """A figure of a publication may stand in brackets behind, or before, the reader's own."""
    own, foreign = (US, METRIC) if doc["units"] == "us" else (METRIC, US)
    pattern = (
        rf"(?<![\w.,/(–-])(?<!\(\d\d, \d\d, )\d+(?:\.\d+)? (?:{foreign})(?![\w³²/-])"
        rf"(?! \([\d.]+ (?:{own})\))"
    )
    wrong: dict[str, list[str]] = {}
    for where, text in papers.items():
        # What the user wrote in the settings stands as they wrote it.
        before, _, given = text.rpartition("What was given")
        told = before + given.partition("What was assumed")[2] if before else text
        told = re.sub(OWN, "", told)
        found = [
            told[max(0, hit.start() - 60) : hit.end() + 30] for hit in re.finditer(pattern, told)
        ]
        if found:
            wrong[where] = found
    assert wrong == {}


def test_units__heads_of_tables_speak_the_same(doc: dict[str, Any], papers: dict[str, str]) -> None:
    foreign = r"k?N|kPa|mm|L/s|m³|kg" if doc["units"] == "us" else r"psi|gpm|ft|lbf?|yd³"
    for where in ("report", "sheets", "works plan", "bill"):
        found = re.findall(rf".{{30}}[a-z], (?:{foreign})(?: |$)", papers[where])
        assert found == [], where


def test_units__every_output_tells_quantities_in_the_readers_own(
    doc: dict[str, Any], papers: dict[str, str]
) -> None:
    """So that the test above reads something: papers that tell pressures, lengths and bores."""
    wanted = ("psi", "ft", "in") if doc["units"] == "us" else ("kPa", "m", "mm")
    for where in ("terminal", "map", "field sheet", "report", "sheets", "works plan", "workbook",
                  "drawing", "waypoints", "earth"):  # fmt: skip
        for unit in wanted:
            assert re.search(rf"\d {unit}(?!\w)", papers[where]), (where, unit)
