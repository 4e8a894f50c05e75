"""Every number of a study can say where it comes from."""

from __future__ import annotations

import importlib
import inspect

import pytest

from routing.document import study_schema
from routing.errors import InputError
from routing.provenance import provenance_keys, where_from

SCHEMA = study_schema()
NAMES = {"id", "lon", "lat"}
"""A fitting's own name and place need no formula; its station has one."""


def numbers() -> list[str]:
    """Return part and member of every number that the schema publishes for page and papers."""
    found = []
    for part in ("summary", "water", "stations", "trench"):
        found += [f"{part}.{name}" for name in SCHEMA["properties"][part]["properties"]]
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
    assert found.tex == r"P = \rho g Q H_n \eta"
    assert {"flow_m3_s", "net_head_m", "efficiency"} <= {item.name for item in found.inputs}


@pytest.mark.parametrize("key", ["", "summary", "summary.", "nothing_like_it", "__class__"])
def test_where_from__an_unknown_key_is_an_error(key: str) -> None:
    with pytest.raises(InputError):
        where_from(key)
