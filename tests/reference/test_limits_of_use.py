"""Limits that are common practice: what lies just inside and what just outside of them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from routing.choice import ChoiceLine, sweep_pipes
from routing.pipe import load_catalogue
from routing.strength import Offer
from routing.water import water_at


@pytest.mark.parametrize(("velocity_m_s", "holds"), [(5.9, True), (6.1, False)])
def test_sweep__offers_no_pipe_faster_than_six_metres_a_second(
    velocity_m_s: float, holds: bool
) -> None:
    # Handbooks of small hydro power give 2 to 5 m/s, up to 6 m/s in short steel pipe; from memory.
    pipe = load_catalogue().find("STEEL-B3610-40-8in")
    station = np.linspace(0.0, 100.0, 11)
    flow = velocity_m_s * math.pi / 4.0 * pipe.inside_diameter_m**2
    line = ChoiceLine(
        station_m=station,
        slope_station_m=station,
        pipe_m=300.0 - 0.4 * station,
        intake_level_m=301.0,
        highest_level_m=301.0,
        flow_m3_s=flow,
        water=water_at(10.0),
        closing_s=60.0,
    )
    sweep = sweep_pipes(line, [Offer(pipe=replace(pipe), price_per_m=1.0)], efficiency=0.6)
    assert sweep.velocity_m_s == pytest.approx(velocity_m_s)
    assert sweep.holds.tolist() == [holds]
