"""Lines whose flow would draw air at the intake: dug deeper there, as far as the trench may go."""

from __future__ import annotations

import math

import numpy as np
import pytest
from plane_hill import place

from routing.errors import NoLine
from routing.search import propose
from routing.search.sunk import CLEAR_M, sunk_limits
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study

START, END = place(65.0, 105.0), place(300.0, 105.0)
PIPE = [{"from": "0 m", "catalogue": "PE100-SDR11-110"}]


@pytest.fixture
def steep(make_raster):
    """A plane that falls by a half to the east: there water runs fast."""
    return open_study_terrain([make_raster(np.tile(400.0 - 5.0 * np.arange(40), (21, 1)))])


def told(flow_l_s=21.5, **trench):
    tables = {"flow": {"design": f"{flow_l_s} L/s"}, "pipe": PIPE, "search": {"alternatives": 1}}
    return settings_from_mapping({**tables, **({"trench": trench} if trench else {})})


def barred(study):
    return {each.code for each in study.findings if each.severity == "fault"}


def test_propose__digs_deeper_at_the_intake_where_the_water_drops_below_the_crown(steep):
    found = propose(steep, START, END, told())
    line = found.lines[0]
    (limit,) = line.tables["trench"]["limit"]
    assert limit["from"] == "0.00 m"
    # Entrance and velocity head: (0.5 + 1) v2/2g below the water, which stands at the ground.
    bore = float(line.study.line.inside_diameter_m[0])
    drop = 1.5 * (0.0215 / (math.pi / 4.0 * bore**2)) ** 2 / 2.0 / 9.80665
    want = drop + CLEAR_M - 0.5 * (0.110 - bore)
    assert float(limit["cover"].removesuffix(" m")) == pytest.approx(want, abs=0.01)
    assert "siphon" not in barred(line.study)
    plain = {**line.tables, "trench": {}}
    without = run_study(steep, line.route, settings_from_mapping(plain))
    assert "siphon" in barred(without)
    assert any("trench is deeper" in each for each in found.notes)


def test_propose__a_trench_that_may_not_go_so_deep_leaves_no_line(steep):
    with pytest.raises(NoLine, match="siphon"):
        propose(steep, START, END, told(cover="0.6 m", max_depth="0.85 m"))
    assert propose(steep, START, END, told(cover="0.6 m", max_depth="1.3 m")).lines


def test_sunk_limits__none_for_a_line_that_lies_low_enough(steep):
    route = propose(steep, START, END, told()).lines[0].route
    assert sunk_limits(run_study(steep, route, told(5.0))) == []
    assert sunk_limits(run_study(steep, route, settings_from_mapping({}))) == []


def test_sunk_limits__above_the_water_where_nothing_flows(make_raster):
    """A bump of 0.68 m above the intake's level, where a pipe 0.6 m down would lie too shallow."""
    ground = np.tile(400.0 - 1.0 * np.arange(40.0), (21, 1))
    ground[:, 12] = ground[:, 6] + 0.68
    ground[:, 11] = ground[:, 6] + 0.2
    ground[:, 13] = ground[:, 6] - 3.0
    terrain = open_study_terrain([make_raster(ground)])
    settings = settings_from_mapping({"trench": {"cover": "0.6 m", "max_depth": "1.5 m"}})
    found = propose(terrain, START, END, settings).lines[0]
    study = run_study(terrain, found.route, settings)
    tables = sunk_limits(study)
    assert len(tables) == 1
    begin, end = (float(tables[0][key].removesuffix(" m")) for key in ("from", "to"))
    assert begin < 60.0 < end  # the bump stands 60 m down the line
    again = {**settings.given, "trench": {**settings.given["trench"], "limit": tables}}
    assert "above_intake" not in barred(
        run_study(terrain, found.route, settings_from_mapping(again))
    )
