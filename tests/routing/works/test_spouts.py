"""Spouts of vents: flight of a projectile, and Torricelli under the full head."""

from __future__ import annotations

import math

import numpy as np
import pytest

from routing.errors import InputError
from routing.works.spouts import spout_m


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
