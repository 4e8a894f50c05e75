"""Spouts of vents: flight of a projectile, and Torricelli under the full head."""

from __future__ import annotations

import math

import numpy as np
import pytest

from routing.errors import InputError
from routing.fittings import FittingInputs, place_drains, place_vents, size_fittings
from routing.laid_line import simple_line
from routing.pipe import load_catalogue
from routing.works.spouts import spout_m, spouts_of


def test_spout_m__torricelli_gives_back_the_head() -> None:
    # Torricelli: v = sqrt(2 g h); thrown straight up it comes back to h.
    for head in (0.5, 10.0, 66.0):
        height, reach = spout_m(math.sqrt(2.0 * 9.80665 * head))
        assert height == pytest.approx(head, rel=1e-12)
        assert reach == pytest.approx(2.0 * head, rel=1e-12)


def test_spout_m__no_angle_throws_farther_or_higher() -> None:
    speed, gravity = 12.0, 9.80665
    height, reach = spout_m(speed, gravity)
    angle = np.radians(np.linspace(0.0, 90.0, 901))
    flown = speed**2 * np.sin(2.0 * angle) / gravity
    risen = (speed * np.sin(angle)) ** 2 / (2.0 * gravity)
    assert reach == pytest.approx(flown.max(), rel=1e-6)
    assert height == pytest.approx(risen.max(), rel=1e-9)


def test_spout_m__rises_with_speed_and_refuses_what_cannot_be() -> None:
    heights = [spout_m(float(v))[0] for v in np.linspace(0.0, 60.0, 61)]
    assert heights == sorted(heights)
    assert heights[0] == 0.0
    with pytest.raises(InputError):
        spout_m(-1.0)


def test_spouts_of__continuity_and_torricelli_at_each_vent() -> None:
    """Air leaves as fast as water comes: v = 4 Q / (pi d2); under head h: h high, 2 h far."""
    pipe, levels = load_catalogue().find("PE100-SDR17-200"), [50.0, 30.0, 45.0, 20.0, 40.0, 5.0]
    line = simple_line(np.arange(6) * 100.0, np.array(levels), pipe, intake_m=51.0)
    given = FittingInputs()
    vents = size_fittings(
        line, place_vents(line, given).vents, place_drains(line, given), given
    ).vents
    summit = next(vent for vent in vents if vent.serves_m == 400.0)
    spout = next(each for each in spouts_of(line, vents, 0.004) if each.vent_id == summit.id)
    assert spout.air_m_s == pytest.approx(4.0 * 0.004 / (math.pi * summit.size_m**2))
    assert spout.height_m == pytest.approx(spout.air_m_s**2 / 19.6133)
    # By hand: water at 51 m, ground of the vent's place on the line between its neighbours.
    head = 51.0 - float(np.interp(spout.station_m, np.arange(6) * 100.0, levels))
    assert spout.full_height_m == pytest.approx(head, abs=1e-6)
    assert spout.full_reach_m == pytest.approx(2.0 * head, abs=1e-6)
