"""The types that the pages' modules name, held against the service's description and the trade."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path
from typing import Any, get_args

import httpx
import pytest
from chromium import node_path

import web
from routing.papers import signs
from routing.units import Kind, convert, show, unit_of

JS = Path(web.__file__).parent / "js"
TYPEDEF = re.compile(r"@typedef \{\{(.*?)\}\} (\w+)", re.DOTALL)
MEMBERS = {
    "Summary": "summary",
    "Trench": "trench",
    "Water": "water",
    "Flow": "flow",
    "Pipe": "pipes",
    "Fitting": "vents",
    "Warning": "warnings",
    "Verdict": "verdict",
    "Caution": "cautions",
    "Doubt": "doubt",
    "Level": "levels_to_shoot",
    "Energy": "energy",
    "Grade": "grades",
    "Cost": "cost",
}
"""Which part of a study each type is."""


def fields(body: str) -> set[str]:
    """Return the names of a typedef's own fields."""
    flat = re.sub(r"\{[^{}]*\}", "", body.replace("*", " "))
    return set(re.findall(r"(\w+)\??:", flat))


@pytest.fixture(scope="module")
def typedefs() -> dict[str, set[str]]:
    text = (JS / "types.js").read_text(encoding="utf-8")
    return {name: fields(body) for body, name in TYPEDEF.findall(text)}


@pytest.fixture(scope="module")
def schemas(client: httpx.Client) -> dict[str, Any]:
    found: dict[str, Any] = client.get("/api/openapi.json").json()["components"]["schemas"]
    return found


def properties(schema: dict[str, Any], schemas: dict[str, Any]) -> set[str]:
    """Return the member names of an object, of an array's entries, or of what may be null."""
    if "$ref" in schema:
        return properties(schemas[schema["$ref"].rsplit("/", 1)[1]], schemas)
    for choice in ("anyOf", "oneOf"):
        if choice in schema:
            return set().union(*(properties(part, schemas) for part in schema[choice]))
    if "items" in schema:
        return properties(schema["items"], schemas)
    return set(schema.get("properties", {}))


@pytest.mark.parametrize("name", MEMBERS)
@pytest.mark.parametrize("whole", ["Study", "StudyInShort"])
def test_types__fields_are_those_of_the_description(
    typedefs: dict[str, set[str]], schemas: dict[str, Any], name: str, whole: str
) -> None:
    told = properties(schemas[whole]["properties"][MEMBERS[name]], schemas)
    assert typedefs[name]
    assert typedefs[name] <= told


@pytest.mark.parametrize("name", ["StudyRow", "Terrain"])
def test_types__rows_are_those_of_the_lists(
    typedefs: dict[str, set[str]], schemas: dict[str, Any], name: str
) -> None:
    told = properties(schemas["TerrainOut" if name == "Terrain" else name], schemas)
    assert typedefs[name] <= told


def test_files__are_short_and_checked() -> None:
    for path in JS.glob("*.js"):
        text = path.read_text(encoding="utf-8")
        assert text.count("\n") <= 300, path.name
        assert text.startswith("// @ts-check"), path.name
        assert "innerHTML" not in text, path.name


def from_node(script: str) -> Any:
    """Return what a script that imports the pages' modules prints as JSON."""
    done = subprocess.run(
        [node_path(), "--input-type=module", "-e", script],
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    return json.loads(done.stdout)


VALUES = (0.0, 0.0004, 0.018, 0.9, 1.2345, 41.26, 412.6, 653526.0, -3.21)


def test_units__pages_and_papers_show_the_same() -> None:
    kinds = list(get_args(Kind))
    shown = from_node(
        f"import {{ show, unitOf }} from '{JS / 'units.js'}';"
        f"const out = {{}};"
        f"for (const units of ['metric', 'us']) for (const kind of {json.dumps(kinds)})"
        f"  out[`${{units}} ${{kind}}`] = {json.dumps(VALUES)}.map(v => show(v, kind, units));"
        f"console.log(JSON.stringify(out));"
    )
    for units in ("metric", "us"):
        for kind in kinds:
            for value, text in zip(VALUES, shown[f"{units} {kind}"], strict=True):
                number, unit = text.split(" ")
                assert unit == unit_of(kind, units)
                mine = show(value, kind, units).split(" ")[0]
                assert len(number.partition(".")[2]) == len(mine.partition(".")[2])
                half = 0.5 * 10.0 ** -len(number.partition(".")[2])
                plain = float(number.replace("−", "-"))
                assert abs(plain - convert(value, kind, units)) <= half * (1 + 1e-9)


def test_signs__are_those_of_the_papers() -> None:
    text = (JS / "signs.js").read_text(encoding="utf-8")
    for name, look in (("SHAPES", "solid"), ("LEFT_HALF", "half")):
        block = text.partition(f"const {name} = {{")[2].partition("}")[0]
        shapes = dict(re.findall(r'(\w+): "(M[^"]+)"', block))
        for kind in ("vent", "drain"):
            assert f' d="{shapes[kind]}"' in signs.sign_svg(kind, look=look)
    colours = dict(re.findall(r'(\w+): "(#\w{6})"', text))
    assert colours["vent"] == signs.VENT
    assert colours["drain"] == signs.DRAIN
    assert colours["ground"] == signs.GROUND
