"""The rows of the study document, and the schema made from them."""

from __future__ import annotations

import re

import jsonschema
import pytest

from routing.document import find_row, load_rows, study_schema

ROWS = load_rows()


def test_study_schema__is_a_schema_and_closed() -> None:
    schema = study_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert not schema["additionalProperties"]
    assert schema["properties"]["summary"]["required"][:2] == ["plan_length_m", "pipe_length_m"]


@pytest.mark.parametrize("path", [path for path, row in ROWS.items() if "." in path])
def test_rows__stand_in_an_object_that_has_a_row(path: str) -> None:
    parent = path.rpartition(".")[0].removesuffix("[]")
    assert parent in ROWS


@pytest.mark.parametrize("path", [path for path, row in ROWS.items() if row.item == "number"])
def test_rows__the_unit_of_the_name_stands_in_the_meaning(path: str) -> None:
    # A part of a name in square brackets says the unit; a bare number says [-] or its own words.
    row = ROWS[path]
    told = re.search(r"\[([^\]]+)\]", row.meaning)
    for suffix, unit in (("_kpa", "kPa"), ("_m3_s", "m3/s"), ("_kw", "kW"), ("_mm", "mm")):
        if row.key.endswith(suffix) and told:
            assert told[1] == unit


def test_rows__named_parts_exist_and_are_used() -> None:
    named = {row.item for row in ROWS.values() if row.item[:1].isupper()}
    parts = {path for path in ROWS if path[:1].isupper() and "." not in path}
    assert named == parts


def test_rows__every_member_is_explained() -> None:
    bare = [p for p, row in ROWS.items() if not row.meaning and not row.item[:1].isupper()]
    assert [p for p in bare if ROWS[p].item in ("number", "integer") and "." in p] == []


def test_find_row__walks_through_lists_and_parts() -> None:
    assert find_row("vents[].id") is ROWS["Vent.id"]
    assert find_row("stations.station_m").kind == "length"  # type: ignore[union-attr]
    assert find_row("summary.nothing") is None


@pytest.mark.parametrize(
    ("path", "wrong"),
    [("summary.plan_length_m", -1.0), ("vents", [{}]), ("units", "furlong"), ("checks", None)],
)
def test_study_schema__refuses(path: str, wrong: object) -> None:
    schema = study_schema()
    part = schema
    for key in path.split("."):
        part = part["properties"][key]
    assert not jsonschema.Draft202012Validator({"$defs": schema["$defs"], **part}).is_valid(wrong)
