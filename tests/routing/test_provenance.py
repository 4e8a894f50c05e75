"""Every number of a study can say where it comes from."""

from __future__ import annotations

import importlib
import inspect

import pytest

from routing.document import study_schema
from routing.errors import InputError
from routing.mathematics import mathml, typst_math
from routing.provenance import provenance_keys, where_from

SCHEMA = study_schema()
NAMES = {"id", "lon", "lat"}
"""A fitting's own name and place need no formula; its station has one."""


def numbers() -> list[str]:
    """Return part and member of every number that the schema publishes for page and papers."""
    found = []
    for part in ("summary", "water", "stations", "trench"):
        members = SCHEMA["properties"][part]["properties"]
        found += [f"{part}.{name}" for name, kind in members.items() if kind["type"] != "string"]
    for part, entry in (("vents", "Vent"), ("drains", "Drain"), ("flow", "Flow")):
        members = SCHEMA["$defs"][entry]["properties"]
        found += [f"{part}.{name}" for name in members if name not in NAMES]
    return found


@pytest.mark.parametrize("key", numbers())
def test_where_from__every_number_has_a_formula(key: str) -> None:
    found = where_from(key)
    assert found.key == key
    assert found.name
    assert found.formula
    assert found.meaning.endswith((".", ":"))


@pytest.mark.parametrize("key", provenance_keys())
def test_where_from__inputs_are_those_of_the_function(key: str) -> None:
    found = where_from(key)
    path, _, name = found.function.rpartition(".")
    function = inspect.unwrap(getattr(importlib.import_module(path), name))
    known = set(inspect.signature(function).parameters)
    for item in found.inputs:
        assert {word.strip() for word in item.name.split(",")} <= known
        assert item.meaning
    assert "tests/" not in found.notes


def test_where_from__the_member_alone_means_the_summary() -> None:
    assert where_from("net_head_m") == where_from("summary.net_head_m")


def test_where_from__an_equation_where_the_function_states_one() -> None:
    found = where_from("power_kw")
    assert found.equations == (r"P = \rho g Q H_n \eta",)
    assert {"flow_m3_s", "net_head_m", "efficiency"} <= {item.name for item in found.inputs}


@pytest.mark.parametrize("key", ["", "summary", "summary.", "nothing_like_it", "__class__"])
def test_where_from__an_unknown_key_is_an_error(key: str) -> None:
    with pytest.raises(InputError):
        where_from(key)


@pytest.mark.parametrize("key", [k for k in provenance_keys() if where_from(k).equations])
def test_equations__are_set_for_page_and_paper(key: str) -> None:
    for latex in where_from(key).equations:
        page, paper = mathml(latex), typst_math(latex)
        assert page.startswith("<math")
        assert "merror" not in page
        assert "\\" not in page
        assert "\\" not in paper.replace("\\/", "").replace("\\#", "")


def test_equations__several_of_one_docstring_stand_apart() -> None:
    assert len(where_from("water.density_kg_m3").equations) == 3


@pytest.mark.parametrize("key", provenance_keys())
def test_inputs__words_are_no_code(key: str) -> None:
    for given in where_from(key).inputs:
        assert "_" not in given.words
