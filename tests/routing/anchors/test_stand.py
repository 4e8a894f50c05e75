"""Supports one by one and walls of slope anchors, against sums made by hand."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import pytest
from sample_study import sample_document

from routing.anchors import anchor_limits


@pytest.fixture(scope="module")
def doc() -> dict[str, Any]:
    return sample_document()


def test_supports__stand_evenly_and_carry_the_whole_pipe(doc: dict[str, Any]) -> None:
    (bridge,) = doc["bridges"]
    stands = doc["supports"]
    assert len(stands) == bridge["bays"] + 1
    assert (stands[0]["station_m"], stands[-1]["station_m"]) == (525.0, 557.0)
    gaps = [b["station_m"] - a["station_m"] for a, b in pairwise(stands)]
    assert max(gaps) - min(gaps) < 0.002
    # The published shares err on the safe side: never less than the pipe weighs.
    carried = sum(each["load_kn"] for each in stands)
    weight = bridge["weight_n_m"] * bridge["length_m"] / 1000.0
    assert weight <= carried <= 1.05 * weight


def test_supports__height_and_footing(doc: dict[str, Any]) -> None:
    outside = doc["pipes"][0]["outside_diameter_m"]
    bearing = doc["blocks"][0]["bearing_kpa"]
    for each in doc["supports"]:
        clear = each["pipe_m"] - outside / 2.0 - each["ground_m"]
        assert each["height_m"] == pytest.approx(max(clear, 0.0), abs=2e-4)
        assert each["floor_m2"] == pytest.approx(1.5 * each["load_kn"] / bearing, abs=6e-5)
        assert each["founded_m"] == 0.6


def test_anchors__walls_reach_into_the_ground_around_the_pipe(doc: dict[str, Any]) -> None:
    assert (anchor_limits().anchor_key_m, anchor_limits().anchor_thick_m) == (0.3, 0.3)
    for each in doc["anchors"]:
        outside = 0.2
        assert each["height_m"] == pytest.approx(outside + 0.6)
        assert each["width_m"] > outside + 0.6
        wall = each["width_m"] * each["height_m"] - math.pi / 4.0 * outside**2
        assert each["volume_m3"] == pytest.approx(wall * each["length_m"], abs=1e-4)
        assert each["length_m"] == 0.3
