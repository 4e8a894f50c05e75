"""Every row of the settings: its example is taken, its range is kept, its description is true."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from typing import Any

import jsonschema
import pytest

from routing.errors import InputError, SettingsError
from routing.settings import (
    LayerSettings,
    Row,
    Settings,
    rows_of,
    settings_from_mapping,
    settings_schema,
)
from routing.settings.tables import EXAMPLE
from routing.units import parse_quantity

BOG = rows_of(LayerSettings)["features"].example
COMPANIONS: Mapping[str, dict[str, Any]] = {
    "intake.bar": {"bar_gap": "12 mm"},
    "intake.bar_gap": {"bar": "6 mm"},
    "intake.gauging.weir": {"width": "0.6 m"},
    **{
        f"layer.{key}": {"features": BOG}
        for key in ("kind", "label", "crs", "width", "beside", "flood_depth", "consent")
    },
    "prices.per_metre": {"date": "2026-11-25"},
    "prices.per_kg": {"date": "2026-11-25"},
}
"""What a key cannot stand without."""
OTHER_KIND = {"length": "3 s", "temperature": "3 m"}
"""A unit of another kind; of all others a length is one."""
Path = tuple[Row, ...]


def paths(kind: type = Settings, above: Path = ()) -> Iterator[Path]:
    """Yield the rows from a table down to each key."""
    for told in rows_of(kind).values():
        if told.reader.rows is None or above:
            yield (*above, told)
        if told.reader.rows is not None:
            yield from paths(told.reader.rows, (*above, told))


def name_of(path: Path) -> str:
    return ".".join(told.key for told in path)


def given(path: Path, value: object) -> dict[str, Any]:
    """Return settings in which one key has a value, with what that key cannot stand without."""
    for depth in range(len(path) - 1, 0, -1):
        *above, told = path[: depth + 1]
        table = above[-1].reader
        needed = {row.key: row.example for row in rows_of(table.rows).values() if row.needed}
        with_it = COMPANIONS.get(name_of(path[: depth + 1]), {})
        value = {**needed, **with_it, told.key: value}
        if table.several:
            value = [value]
    if name_of(path).startswith("energy.curve."):
        value["curve"].append({"share": "100 %", "flow": "0 L/s"})
    return {path[0].key: value}


EVERY = list(paths())
QUANTITIES = [path for path in EVERY if path[-1].reader.dimension is not None]
NUMBERS = [path for path in EVERY if path[-1].reader.schema.get("type") in ("number", "integer")]


@pytest.mark.parametrize("path", EVERY, ids=name_of)
def test_row__its_example_is_taken_and_fits_the_schema(path: Path) -> None:
    told = path[-1]
    if not told.reader.schema:
        assert "names a file" in refused(path, told.example)
    elif told.example is not None:
        tables = given(path, told.example)
        settings_from_mapping(tables)
        jsonschema.validate(tables, settings_schema())


@pytest.mark.parametrize("path", EVERY, ids=name_of)
def test_row__says_what_it_means_and_what_holds_without_it(path: Path) -> None:
    told = path[-1]
    assert told.meaning
    assert told.example is not None or told.reader.rows is not None
    assert "|" not in told.meaning + told.reader.takes + told.without


def test_row__every_field_of_every_table_is_one() -> None:
    kinds = {path[i].reader.rows for path in EVERY for i in range(len(path))} - {None}
    for kind in kinds:
        assert all("row" in field.metadata for field in dataclasses.fields(kind)), kind


def refused(path: Path, value: object) -> str:
    with pytest.raises(InputError) as caught:
        settings_from_mapping(given(path, value))
    return f"{caught.value.problem} {caught.value.remedy}"


@pytest.mark.parametrize("path", QUANTITIES, ids=name_of)
def test_quantity__what_is_not_in_its_range_is_refused_by_key_value_and_range(path: Path) -> None:
    reader = path[-1].reader
    least, most = reader.ends
    low, high = (parse_quantity(end, reader.dimension, name="end") for end in reader.ends)
    assert low < high
    unit = "%" if reader.dimension == "ratio" else most.partition(" ")[2]
    one = parse_quantity(f"1 {unit}", reader.dimension, name="one")
    zero = parse_quantity(f"0 {unit}", reader.dimension, name="zero")
    beyond = 1e-6 * (high - low)
    below, above = (
        f"{(end - zero) / (one - zero)!r} {unit}" for end in (low - beyond, high + beyond)
    )
    wrong = f"3 {OTHER_KIND.get(reader.dimension, 'm').partition(' ')[2]}"
    words = (below, above, wrong, f"1e999 {unit}", f"nan {unit}", f"inf {unit}", "3 parsec", "")
    for value in (*words, float("nan"), float("inf"), None, True, [], {}):
        said = refused(path, value)
        assert path[-1].key in said, value
        assert str(value) in said, value
        assert least in said, value
        assert most in said, value


@pytest.mark.parametrize("path", QUANTITIES, ids=name_of)
def test_quantity__both_ends_of_its_range_are_taken(path: Path) -> None:
    for end in path[-1].reader.ends:
        path[-1].reader(end, "key")


@pytest.mark.parametrize("path", NUMBERS, ids=name_of)
def test_number__what_is_not_in_its_range_is_refused_by_key_value_and_range(path: Path) -> None:
    schema = path[-1].reader.schema
    least, most = schema["minimum"], schema["maximum"]
    for value in (least - 1, most + 1, float("nan"), float("inf"), "1", None, True):
        said = refused(path, value)
        assert path[-1].key in said
        assert str(value) in said
        assert f"{least:g}" in said
        assert f"{most:.12g}" in said


@pytest.mark.parametrize("path", EVERY, ids=name_of)
def test_row__unknown_key_beside_it_names_the_nearest(path: Path) -> None:
    *above, told = path
    kind = above[-1].reader.rows
    wrong = dataclasses.replace(told, key=f"{told.key}x")
    near = sorted(key for key in rows_of(kind) if key == told.key)
    with pytest.raises(SettingsError, match=near[0]):
        settings_from_mapping(given((*above, wrong), "1"))


def test_example__is_taken_and_fits_the_schema() -> None:
    settings_from_mapping(EXAMPLE)
    jsonschema.validate(dict(EXAMPLE), settings_schema())


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        ({"trench": {"cover": "0.9 parsec"}}, ["trench.cover", "0.9 parsec", "0 m to 20 m"]),
        ({"flow": {"design": "1e30 L/s"}}, ["flow.design", "1e30 L/s", "100 m3/s"]),
    ],
)
def test_quantity__absurd_values_are_refused_where_they_stand(tables: Any, words: Any) -> None:
    with pytest.raises(SettingsError) as caught:
        settings_from_mapping(tables)
    for word in words:
        assert word in str(caught.value)


def test_hydrotest__anything_but_water_is_refused_with_the_reason() -> None:
    with pytest.raises(SettingsError, match=r"'air'.*energy"):
        settings_from_mapping({"test": {"medium": "air"}})
