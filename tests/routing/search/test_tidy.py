"""Corners that are not worth setting out: found by hand-made ways, left out where that is cheap."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from plane_hill import place

from routing.search import propose
from routing.search.lines import laid
from routing.search.tidy import idle_corners, tidied
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain

START, END = place(65.0, 255.0), place(605.0, 255.0)


def plane():
    return np.tile(400.0 - 1.0 * np.arange(70.0), (50, 1))


@pytest.fixture
def straight(make_raster):
    """Return the proposal on an even slope, and its site, with tables of settings."""

    def made(heights=None, **tables):
        terrain = open_study_terrain([make_raster(plane() if heights is None else heights)])
        told = settings_from_mapping({"search": {"alternatives": 1}, **tables})
        found = propose(terrain, START, END, told)
        return found.site, found.lines[0]

    return made


def through(site, line, *points, hung=()):
    """Return a line with these corners, in rows and columns [cells], and its ends."""
    ends = line.way.points[[0, -1]]
    places = np.vstack([ends[:1], np.reshape(points, (-1, 2)), ends[1:]])
    legs = np.zeros(len(places) - 1, dtype=np.bool_)
    legs[list(hung)] = True
    fixed = np.append(legs, True) | np.append(True, legs)
    return laid(site, replace(line.way, points=places, hung=legs, fixed=fixed))


@pytest.mark.parametrize(
    ("points", "named", "without_short"),
    [
        ([(0, 10)], [], []),
        ([(0.2, 10)], [1], [1]),  # 0.2 of 10 cells to either side: 2.3 and less than 3 degrees
        ([(1.0, 10)], [], []),
        ([(3, 10), (3, 10.5), (0, 30)], [2], []),  # two corners 5 m apart: the lesser turn goes
        ([(3, 10), (3, 10.9), (0, 30)], [2], []),  # 9 m apart are
        ([(3, 10), (3, 11.1), (0, 30)], [], []),  # and 11 m are not
        ([(0.68, 27)], [1], [1]),  # half way, 27 cells off: 2 atan(0.68 / 27) is 2.9 degrees
        ([(0.74, 27)], [], []),  # and 3.1
        ([(0.1, 12), (0.0, 24), (0.1, 36)], [1, 3], [1, 3]),  # of three in a row the middle stays
    ],
)
def test_idle_corners__by_hand(straight, points, named, without_short):
    site, line = straight()
    row, col = line.way.points[0]
    corners = [(row + y, col + x) for y, x in points]
    if points == [(0, 10)]:
        corners = [(row + 5.0, col + 10.0)]
    way = through(site, line, *corners).way
    assert np.flatnonzero(idle_corners(site, way)).tolist() == named
    assert np.flatnonzero(idle_corners(site, way, short=False)).tolist() == without_short


def test_idle_corners__ends_of_a_bridge_stay(straight):
    site, line = straight()
    row, col = line.way.points[0]
    way = through(site, line, (row, col + 10.0), (row, col + 10.8), hung=(1,)).way
    assert not idle_corners(site, way).any()


def test_tidied__idle_corners_go_and_the_study_is_that_of_the_line(straight):
    site, line = straight()
    row, col = line.way.points[0]
    crooked = through(site, line, (row + 2.1, col + 14.0), (row + 4.0, col + 28.0))
    found = tidied(site, site.field(), crooked)
    assert len(found.way.points) == 3
    assert found.way.hung.size == 2
    assert found.cost == pytest.approx(laid(site, found.way).cost)
    assert tidied(site, site.field(), found) is found


def test_tidied__a_corner_that_keeps_out_of_closed_ground_stays(straight):
    site, line = straight()
    row, col = line.way.points[0]
    bent = through(site, line, (row + 0.55, col + 28.0))
    assert len(tidied(site, site.field(), bent).way.points) == 2
    shut = site.shut.copy()
    shut[round(row), round(col + 28.0)] = 2
    assert tidied(site, site.field(shut=shut), bent) is bent


def test_tidied__a_corner_that_saves_its_price_stays(straight):
    """A mound on the straight line: round it the pipe needs no vent and no drain."""
    rows, cols = np.mgrid[:50, :70]
    heights = plane() + 7.0 * np.exp(-(((rows - 25) / 0.6) ** 2 + ((cols - 33) / 3.0) ** 2))
    site, line = straight(heights)
    row, col = line.way.points[0]
    round_it = through(site, line, (row + 0.65, col + 27.0))
    assert np.flatnonzero(idle_corners(site, round_it.way)).tolist() == [1]
    over = through(site, line)
    found = tidied(site, site.field(), round_it)
    assert (found is round_it) == (over.cost > 1.005 * round_it.cost)
    assert over.cost > 1.005 * round_it.cost
