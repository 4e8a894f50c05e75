"""Walked tracks: what receivers do to them is taken out, what walkers do stays."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.line import Route, clean_track, looks_walked
from routing.line.track import STANDING_RADIUS_M

METRE = 1.0 / 111_195.0
"""A metre of latitude [deg], on the mean sphere."""
LAT0 = 46.0
ACROSS = METRE / np.cos(np.radians(LAT0))


def track(x: np.ndarray | list[float], y: np.ndarray | list[float], **more: object) -> Route:
    """Return a recorded line through places in metres."""
    return Route(
        name="walk",
        lon=7.0 + np.asarray(x, dtype=float) * ACROSS,
        lat=LAT0 + np.asarray(y, dtype=float) * METRE,
        **{"recorded": True, **more},  # type: ignore[arg-type]
    )


def walk(count: int = 200, step: float = 3.0, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Return a winding way of steps."""
    chance = np.random.default_rng(seed)
    heading = np.cumsum(chance.normal(0.0, 0.08, count))
    return np.cumsum(step * np.cos(heading)), np.cumsum(step * np.sin(heading))


def codes(route: Route) -> list[str]:
    return [found.code for found in route.findings]


def test_clean_track__sound_walk_stays_to_the_last_bit() -> None:
    route = track(*walk())
    assert clean_track(route) is route


def test_clean_track__standing_still_becomes_one_point() -> None:
    x, y = walk()
    chance = np.random.default_rng(2)
    knot = chance.normal(0.0, 1.2, (60, 2))
    standing_x = np.concatenate([x[:100], x[100] + knot[:, 0], x[101:]])
    standing_y = np.concatenate([y[:100], y[100] + knot[:, 1], y[101:]])
    cleaned = clean_track(track(standing_x, standing_y))
    assert codes(cleaned) == ["track_cleaned"]
    assert "standing still at 1 place" in cleaned.findings[0].message
    assert 195 <= cleaned.lon.size <= 200
    # Every point left lies on the walk, but for the receiver's scatter.
    px, py = (cleaned.lon - 7.0) / ACROSS, (cleaned.lat - LAT0) / METRE
    nearest = np.min(np.hypot(px[:, None] - x[None, :], py[:, None] - y[None, :]), axis=1)
    assert nearest.max() < STANDING_RADIUS_M


@pytest.mark.parametrize("points", [1, 2, 3])
def test_clean_track__spikes_go(points: int) -> None:
    x, y = walk()
    spiked = y.copy()
    spiked[50 : 50 + points] += 300.0
    cleaned = clean_track(track(x, spiked))
    assert codes(cleaned) == ["track_cleaned"]
    assert cleaned.lon.size == 200 - points
    assert f"{points} point(s) that jump out and back" in cleaned.findings[0].message


def test_clean_track__ways_there_and_back_and_hairpins_stay() -> None:
    out = np.arange(0.0, 120.0, 3.0)
    there_and_back = track(
        np.concatenate([out, out[::-1][1:], -out[1:]]), np.zeros(out.size * 3 - 2) + 0.001
    )
    assert clean_track(there_and_back) is there_and_back
    # A hairpin whose legs are four metres apart.
    turn = np.linspace(0.0, np.pi, 8)
    x = np.concatenate([out, out[-1] + 2.0 * np.sin(turn), out[::-1]])
    y = np.concatenate([np.zeros(out.size), 2.0 - 2.0 * np.cos(turn), np.full(out.size, 4.0)])
    hairpin = track(x, y)
    assert clean_track(hairpin) is hairpin


def test_clean_track__drawn_corner_far_out_stays() -> None:
    # A real corner: the way back does not end near where the way out began.
    route = track([0.0, 100.0, 400.0, 100.0, 0.0], [0.0, 0.0, 200.0, 400.0, 400.0])
    assert clean_track(route) is route


def test_clean_track__keeps_what_is_known_of_the_line() -> None:
    x, y = walk()
    y[50] += 300.0
    route = track(np.insert(x, 10, x[9]), np.insert(y, 10, y[9]))
    cleaned = clean_track(route)
    assert (cleaned.name, cleaned.dropped, cleaned.recorded) == ("walk", 1, True)


def test_clean_track__of_a_cleaned_one_changes_nothing() -> None:
    x, y = walk()
    y[50] += 300.0
    once = clean_track(track(x, y))
    assert clean_track(once) is once


def test_looks_walked__only_for_lines_that_need_it() -> None:
    x, y = walk(400)
    assert not looks_walked(track(x, y, recorded=False))
    y[50] += 300.0
    assert looks_walked(track(x, y, recorded=False))
    assert not looks_walked(track(x, y))  # a recorded one is cleaned, not remarked upon
    assert not looks_walked(track(x[:100], y[:100], recorded=False))


@settings(max_examples=60, deadline=None)
@given(
    places=st.lists(st.tuples(st.floats(-300, 300), st.floats(-300, 300)), min_size=4, max_size=60)
)
def test_clean_track__ends_near_its_ends_and_never_grows(places: list[tuple[float, float]]) -> None:
    x, y = np.array(places).T
    if np.ptp(x) < 20.0:
        return
    route = track(x, y)
    cleaned = clean_track(route)
    assert cleaned.lon.size <= route.lon.size
    for end in (0, -1):
        away = np.hypot(
            (cleaned.lon[end] - route.lon[end]) / ACROSS,
            (cleaned.lat[end] - route.lat[end]) / METRE,
        )
        assert away <= 2.0 * STANDING_RADIUS_M
