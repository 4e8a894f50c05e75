from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from routing.errors import InputError


@pytest.fixture
def dip(line):
    return line([0, 100, 200, 300], [50, 40, 45, 30], bore=[0.2, 0.2, 0.1, 0.1])


def test_fitting_inputs__arrays_cannot_be_written(dip):
    with pytest.raises(ValueError, match="read-only"):
        dip.pipe_m[0] = 1.0


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"ground_m": [1.0, 2.0]}, "ground_m has shape"),
        ({"pipe_m": [50, np.nan, 45, 30]}, "pipe_m is not a finite number at station 100"),
        ({"station_m": [0, 100, 100, 300]}, "station_m does not rise"),
        ({"slope_station_m": [0, 101, 90, 300]}, "slope_station_m does not rise"),
        ({"inside_diameter_m": [0.2, 0.2, 0.0, 0.1]}, "inside_diameter_m is not above zero"),
        ({"summits": [0]}, "summits"),
        ({"sags": [3]}, "sags"),
        ({"sags": [2, 1]}, "sags"),
        ({"valves_m": (301.0,)}, "valve at station 301"),
        ({"flowing_head_m": [1.0]}, "flowing_head_m has shape"),
    ],
)
def test_fitting_inputs__refuses_what_cannot_be(dip, change, says):
    with pytest.raises(InputError, match=says) as caught:
        replace(dip, **change)
    assert caught.value.remedy


def test_places__between_and_on_stations(dip):
    middle, joint, end = dip.places([50.0, 200.0, 300.0])
    assert middle.pipe_m == pytest.approx(45.0)
    assert middle.flowing_head_m is None
    assert joint.pipe_m == 45.0
    # A station at a joint has the pipe below it.
    assert joint.inside_diameter_m == 0.1
    assert (end.lon, end.lat) == (dip.lon[-1], dip.lat[-1])
    assert end.depth_m == pytest.approx(0.9 + 0.06 + 0.05)


@pytest.mark.parametrize(
    ("pipe", "falls", "rises"),
    [
        ([50, 40, 45, 30], True, False),
        ([50, 40, 45], False, False),
        ([50, 40, 30], True, False),
        ([30, 40, 50], False, True),
        ([40, 45, 30], True, True),
        ([40, 40, 40], True, False),
    ],
)
def test_ends__low_or_not(line, pipe, falls, rises):
    made = line(np.arange(len(pipe)) * 100.0, pipe)
    assert made.falls_to_end is falls
    assert made.rises_from_intake is rises


def test_falls_at__looks_at_the_pipe_that_arrives(line):
    made = line([0, 100, 200, 300], [50, 40, 45, 30])
    assert [made.falls_at(s) for s in (0.0, 50.0, 100.0, 150.0, 200.0, 250.0)] == [
        True,
        True,
        True,
        False,
        False,
        True,
    ]
