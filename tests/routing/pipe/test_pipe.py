"""A pipe by hand."""

from __future__ import annotations

import math
import pickle
from dataclasses import FrozenInstanceError

import pytest

from routing.errors import PipeError
from routing.pipe import find_material, is_plastic, load_catalogue, pipe_by_hand, with_roughness
from routing.pipe.material import load_materials


def test_pipe_by_hand__known_material() -> None:
    pipe = pipe_by_hand(material="upvc", inside_diameter_m=0.19, wall_m=0.005)
    assert (pipe.material, pipe.id, pipe.rating_pa) == ("PVC", None, None)
    assert pipe.outside_diameter_m == pytest.approx(0.2)
    assert pipe.roughness_m == pytest.approx(0.05e-3)
    assert pipe.roughness_new_m == pytest.approx(0.0015e-3)
    assert pipe.hazen_williams_c == 150
    assert "common practice" in pipe.roughness_source


def test_pipe_by_hand__own_material_needs_a_roughness() -> None:
    with pytest.raises(PipeError, match=r"'bamboo'.*WOOD STAVE"):
        pipe_by_hand(material="bamboo", inside_diameter_m=0.1, wall_m=0.01)
    pipe = pipe_by_hand(material="bamboo", inside_diameter_m=0.1, wall_m=0.01, roughness_m=1e-3)
    assert (pipe.material, pipe.roughness_m, pipe.roughness_new_m) == ("bamboo", 1e-3, 1e-3)
    assert pipe.hazen_williams_c is None


def test_pipe_by_hand__given_roughness_is_kept_and_new_pipe_is_no_rougher() -> None:
    rough = pipe_by_hand(material="PE", inside_diameter_m=0.1, wall_m=0.01, roughness_m=1e-5)
    assert (rough.roughness_m, rough.roughness_new_m) == (1e-5, pytest.approx(1.5e-6))
    glass = pipe_by_hand(material="PE", inside_diameter_m=0.1, wall_m=0.01, roughness_m=0.0)
    assert (glass.roughness_m, glass.roughness_new_m) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        ({"wall_m": 0.0}, "wall"),
        ({"wall_m": -0.005}, "wall"),
        ({"wall_m": 0.2}, "exchanged"),
        ({"inside_diameter_m": 0.0}, "inside diameter"),
        ({"inside_diameter_m": -0.19}, "inside diameter"),
        ({"inside_diameter_m": 190.0}, "inside diameter"),
        ({"inside_diameter_m": math.nan}, "inside diameter"),
        ({"rating_pa": 0.0}, "rating"),
        ({"rating_pa": math.inf}, "rating"),
        ({"roughness_m": -1e-6}, "roughness"),
        ({"roughness_m": 0.0096}, "twentieth"),
    ],
)
def test_pipe_by_hand__bad_input(bad: dict[str, float], words: str) -> None:
    good = {"material": "PVC", "inside_diameter_m": 0.19, "wall_m": 0.005}
    with pytest.raises(PipeError, match=words) as caught:
        pipe_by_hand(**(good | bad))
    assert caught.value.remedy


def test_with_roughness__keeps_everything_else() -> None:
    pipe = load_catalogue().find("STEEL-B3610-40-8in")
    other = with_roughness(pipe, 1e-3)
    assert (other.roughness_m, other.roughness_new_m) == (1e-3, pipe.roughness_new_m)
    assert other.id == pipe.id
    with pytest.raises(PipeError, match="twentieth"):
        with_roughness(pipe, 0.02)


def test_pipe__frozen_and_pickles() -> None:
    pipe = load_catalogue().find("DI-PC350-8in")
    assert pickle.loads(pickle.dumps(pipe)) == pipe
    with pytest.raises(FrozenInstanceError):
        pipe.wall_m = 0.0  # type: ignore[misc]


def test_find_material__words() -> None:
    for word, name in (
        ("HDPE", "PE100"),
        ("Ductile-Iron", "DI"),
        ("galvanized", "GALVANISED STEEL"),
    ):
        found = find_material(word)
        assert found is not None
        assert found.name == name
    assert find_material("") is None
    assert is_plastic("HDPE")
    assert is_plastic("PVC")
    assert not is_plastic("steel")
    assert not is_plastic("bamboo")


def test_load_materials__aged_pipe_is_rougher_and_carries_less() -> None:
    for material in load_materials():
        assert 0 < material.roughness_new_m < material.roughness_design_m
        assert material.hazen_williams_c_new >= material.hazen_williams_c_design
        assert material.source
        assert material.status in ("SOURCE SEEN", "COMMON PRACTICE")
