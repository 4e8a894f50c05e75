from __future__ import annotations

import numpy as np
import pytest

from routing.errors import InputError
from routing.fittings.inputs import places
from routing.fittings.place.ends import falls_at, falls_to_end, rises_from_intake


@pytest.fixture
def dip(line):
    return line([0, 100, 200, 300], [50, 40, 45, 30], bore=[0.2, 0.2, 0.1, 0.1])


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"valves_m": (301.0,)}, "valve at station 301"),
        ({"flowing": [1.0]}, "flowing_head_m has shape"),
    ],
)
def test_check_against__refuses_what_does_not_fit_the_line(line, change, says):
    made = line([0, 100, 200, 300], [50, 40, 45, 30], **change)
    with pytest.raises(InputError, match=says) as caught:
        made.given.check_against(made.line)
    assert caught.value.remedy


def test_places__between_and_on_stations(dip):
    middle, joint, end = places(dip.line, [50.0, 200.0, 300.0])
    assert middle.pipe_m == pytest.approx(45.0)
    assert middle.flowing_head_m is None
    assert joint.pipe_m == 45.0
    # A station at a joint has the pipe below it.
    assert joint.inside_diameter_m == pytest.approx(0.1)
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
    assert falls_to_end(made.line) is falls
    assert rises_from_intake(made.line) is rises


def test_falls_at__looks_at_the_pipe_that_arrives(line):
    made = line([0, 100, 200, 300], [50, 40, 45, 30])
    falls = [falls_at(made.line, s) for s in (0.0, 50.0, 100.0, 150.0, 200.0, 250.0)]
    assert falls == [True, True, True, False, False, True]
