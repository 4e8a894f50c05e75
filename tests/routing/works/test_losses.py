"""The table of losses of a field sheet: bores, heads at rest and the range of its flows."""

from __future__ import annotations

import math

import numpy as np
import pytest

from routing.flow import line_capacity_m3_s
from routing.laid_line import simple_line
from routing.pipe import load_catalogue
from routing.works.gauge import place_taps
from routing.works.losses import loss_table

PIPE = load_catalogue().find("PE100-SDR17-200")
LINE = simple_line(np.array([0.0, 100.0, 300.0]), np.array([50.0, 40.0, 10.0]), PIPE, intake_m=51.0)


def test_loss_table__area_and_head_at_rest_by_hand() -> None:
    table = loss_table(LINE, place_taps(LINE), 0.02)
    circle = math.pi * PIPE.inside_diameter_m**2 / 4.0
    assert table.area_m2 == pytest.approx(np.full(table.at_m.size, circle))
    level = np.interp(table.at_m, [0.0, 100.0, 300.0], [50.0, 40.0, 10.0])
    assert table.static_m == pytest.approx(51.0 - level)


def test_loss_table__reaches_twice_the_line_and_the_leak_at_1_4_of_design() -> None:
    # How far is common practice; what the sheet looks up beyond its table would be cut off.
    for design in (0.0, 0.02, 0.05):
        table = loss_table(LINE, place_taps(LINE), design)
        most = 2.0 * line_capacity_m3_s(LINE) + 1.4 * design
        assert table.flow_m3_s[[0, -1]] == pytest.approx([0.0, most])
        assert np.all(np.diff(table.flow_m3_s) > 0.0)
