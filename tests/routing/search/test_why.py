"""Hopeless searches: each says what to lift, in the place and the words of whoever asked."""

from __future__ import annotations

import numpy as np
import pytest
from plane_hill import place

from routing.errors import InputError, NoLine, OutsideTerrain
from routing.search import propose
from routing.search.bans import LEVEL, closed_levels
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain

START, END = place(65.0, 255.0), place(605.0, 255.0)
PIPE = [{"from": "0 m", "catalogue": "PE100-SDR11-110"}]


def plane():
    """Ground that falls a tenth to the east, 70 cells of 10 m long."""
    return np.tile(400.0 - 1.0 * np.arange(70.0), (50, 1))


def no_go(x, y, reach=30.0):
    ring = [(x - reach, y - reach), (x + reach, y - reach), (x + reach, y + reach)]
    ring += [(x - reach, y + reach), ring[0]]
    shape = {"type": "Polygon", "coordinates": [[list(place(*corner)) for corner in ring]]}
    feature = {"type": "Feature", "properties": {"name": "meadow"}, "geometry": shape}
    return {"kind": "no-go", "features": {"type": "FeatureCollection", "features": [feature]}}


def sought(make_raster, start=START, end=END, heights=None, **tables):
    told = settings_from_mapping(
        {**tables, "search": {"alternatives": 1, **tables.get("search", {})}}
    )
    terrain = open_study_terrain(
        [make_raster(plane() if heights is None else heights, nodata=-9999)]
    )
    return propose(terrain, start, end, told)


@pytest.mark.parametrize(
    ("asked", "words", "remedy"),
    [
        ({"start": END, "end": START}, "does not lie below the water", "Exchange the two places"),
        ({"outlet": {"level": "450 m"}}, "end at 450.0 m does not lie below", "Exchange"),
        ({"intake": {"level": "300 m"}}, "below the water at the intake, 300.0 m", "Exchange"),
        (
            {"layer": [no_go(65, 255)]},
            r"The intake at 15\.\d+, 46\.\d+ lies on no-go land",
            "Move it",
        ),
        ({"layer": [no_go(605, 255)]}, "The powerhouse at .* lies on no-go land", "Move it"),
        (
            {"layer": [no_go(300, 100)], "search": {"through": [list(place(300, 100))]}},
            "Place 1 to pass, at .*, lies on no-go land",
            "take the area out",
        ),
        ({"layer": [no_go(300, 250, 260)]}, "lies on no-go land", "take the area out"),
        (
            {"flow": {"design": "60 L/s"}, "pipe": PIPE},
            r"loses \d+\.\d m of head on the straight line .* they fall by 54\.0 m",
            "larger pipe or less flow",
        ),
        ({"search": {"margin": "50 m"}}, "ground above the hydraulic line", "Raise the intake"),
        ({"trench": {"steepest_ground": 0.05}}, "steeper than allowed", "steepest_ground"),
    ],
)
def test_no_line__says_what_to_lift(make_raster, asked, words, remedy):
    with pytest.raises(NoLine, match=words) as caught:
        sought(make_raster, **asked)
    assert remedy in caught.value.remedy


def test_no_line__a_place_without_elevation_is_named(make_raster):
    heights = plane()
    heights[5:10, 30:33] = -9999.0
    with pytest.raises(NoLine, match=r"Place 1 to pass, at .* has no elevation"):
        sought(make_raster, heights=heights, search={"through": [list(place(315, 75))]})


def test_propose__places_that_are_none_are_refused_before_any_search(make_raster):
    with pytest.raises(OutsideTerrain, match="lies outside the raster"):
        sought(make_raster, end=(10.0, 10.0))
    with pytest.raises(InputError, match="within two cells"):
        sought(make_raster, end=START)


def test_closed_levels__the_margin_is_whole_from_25_m_on():
    away = np.array([[0.0, 12.5, 25.0, 100.0]])
    for height, shut in ((399.9, [0, 0, 1, 1]), (400.2, [0, 1, 1, 1]), (399.4, [0, 0, 0, 0])):
        found = closed_levels(
            np.full((1, 4), height, dtype=np.float32),
            away,
            intake_m=400.0,
            deepest_crown_m=0.5,
            margin_m=1.0,
            gradient=0.0,
            head_most_m=500.0,
        )
        assert (found == LEVEL).astype(int).tolist() == [shut]
