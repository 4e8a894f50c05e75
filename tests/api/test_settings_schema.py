from __future__ import annotations

from dataclasses import fields
from typing import Any

import pytest

from api.settings_schema import EXAMPLES, TABLES, settings_schema
from routing import settings as trade
from routing.errors import SettingsError
from routing.settings.title_block import SheetSettings
from routing.survey import SurveySettings

KINDS = {
    "study": trade.StudySettings,
    "terrain": trade.TerrainSettings,
    "intake": trade.IntakeSettings,
    "outlet": trade.OutletSettings,
    "trench": trade.TrenchSettings,
    "flow": trade.FlowSettings,
    "pipe": trade.PipeSettings,
    "turbine": trade.TurbineSettings,
    "surge": trade.SurgeSettings,
    "site": trade.SiteSettings,
    "energy": trade.EnergySettings,
    "prices": trade.PriceSettings,
    "survey": SurveySettings,
    "sheet": SheetSettings,
}
COMPANIONS = {
    ("intake", "bar"): {"bar_gap": "12 mm"},
    ("intake", "bar_gap"): {"bar": "6 mm"},
    ("prices", "per_metre"): {"date": "2026-11-25"},
    ("prices", "per_kg"): {"date": "2026-11-25"},
}
"""What a key cannot stand without."""


def as_given(table: str, values: dict[str, Any]) -> dict[str, Any]:
    return {table: [values] if table == "pipe" else values}


def test_tables__are_those_of_the_settings() -> None:
    assert TABLES.keys() == KINDS.keys() == settings_schema()["properties"].keys()


@pytest.mark.parametrize("table", list(TABLES))
def test_tables__keys_are_those_of_the_settings(table: str) -> None:
    assert set(TABLES[table]) == {field.name.rstrip("_") for field in fields(KINDS[table])}


@pytest.mark.parametrize(
    ("table", "key", "example"),
    [(table, key, row[0]) for table, rows in TABLES.items() for key, row in rows.items()],
)
def test_tables__every_example_is_accepted(table: str, key: str, example: object) -> None:
    with_it = COMPANIONS.get((table, key), {})
    trade.settings_from_mapping(as_given(table, {key: example, **with_it}))


@pytest.mark.parametrize("table", list(TABLES))
def test_settings_from_mapping__unknown_key_names_the_nearest(table: str) -> None:
    key = next(iter(TABLES[table]))
    with pytest.raises(SettingsError, match=key):
        trade.settings_from_mapping(as_given(table, {key + "x": "1"}))


def test_examples__are_accepted() -> None:
    trade.settings_from_mapping(EXAMPLES)
