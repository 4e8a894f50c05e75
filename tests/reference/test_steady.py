"""Whole lines against worked values and an independent solution with fluids and scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids.friction import Colebrook
from known_lines import known_line
from scipy.optimize import brentq

from routing.flow import line_capacity_m3_s, steady_flow
from routing.laid_line import LaidLine
from routing.pipe import load_catalogue, pipe_by_hand, schedule_pipes
from routing.water import water_at

COLD = water_at(10.0)
G = 9.80665


def test_steady_flow__two_diameters() -> None:
    # Worked case, independently computed: 50 L/s at 10 degC, new PVC SDR 41 (e 0.0015 mm):
    # 8 in loses 8.128 m/km, 10 in 2.818 m/km; 1200 m of 8 in lose 9.75 m, and with the first
    # 141.8 m in 10 in the loss is 9.0 m
    small, big = map(load_catalogue().find, ("PVC-D2241IPS-SDR41-8in", "PVC-D2241IPS-SDR41-10in"))
    station = np.array([0.0, 141.8, 1200.0])
    line = known_line(
        station,
        [99.0, 90.0, 40.0],
        small,
        intake_m=100.0,
        entrance_k=0.0,
        water=COLD,
        local_k=0.0,
    )
    whole = steady_flow(line, 0.05, new=True)
    assert whole.reaches[0].gradient * 1000 == pytest.approx(8.128, abs=0.001)
    assert whole.head_loss_m == pytest.approx(9.75, abs=0.005)
    two = line.with_pipes(schedule_pipes([(0.0, big), (141.8, small)], 1200.0))
    both = steady_flow(two, 0.05, new=True)
    assert both.reaches[0].gradient * 1000 == pytest.approx(2.818, abs=0.001)
    assert both.friction_m == pytest.approx(9.0, abs=0.001)


BORES = (0.25, 0.2, 0.22)
ROUGH = (0.1e-3, 0.05e-3, 0.3e-3)
LENGTHS = (300.0, 500.0, 250.0)
BENDS = ((200.0, 0.2, 0), (600.0, 0.35, 1))


def _independent_loss(flow: float) -> float:
    """Return the loss of the three-pipe line, written out with fluids' Colebrook."""
    nu = COLD.kinematic_viscosity_m2_s
    areas = [math.pi / 4 * bore**2 for bore in BORES]
    heads = [(flow / area) ** 2 / (2 * G) for area in areas]
    loss = 0.4 * heads[0]
    for bore, rough, length, area, head in zip(BORES, ROUGH, LENGTHS, areas, heads, strict=True):
        loss += Colebrook(flow / area * bore / nu, rough / bore) * length / bore * head
    loss += sum(k * heads[reach] for _, k, reach in BENDS)
    loss += 0.5 * (1 - areas[1] / areas[0]) * heads[1]
    return loss + (1 - areas[1] / areas[2]) ** 2 * heads[1]


def _line(head_m: float = 41.0) -> LaidLine:
    pipes = [
        pipe_by_hand(material="steel", inside_diameter_m=bore, wall_m=0.006, roughness_m=rough)
        for bore, rough in zip(BORES, ROUGH, strict=True)
    ]
    station = np.arange(0.0, 1051.0, 50.0)
    return known_line(
        station,
        np.linspace(100.0, 60.0, 22),
        list(zip((0.0, 300.0, 800.0), pipes, strict=True)),
        bends={4: 0.2, 12: 0.35},
        intake_m=101.0,
        outlet_m=101.0 - head_m,
        entrance_k=0.4,
        water=COLD,
    )


@pytest.mark.parametrize("flow", [0.005, 0.03, 0.09])
def test_steady_flow__independent_sum_of_three_pipes(flow: float) -> None:
    got = steady_flow(_line(), flow)
    assert got.head_loss_m == pytest.approx(_independent_loss(flow), rel=1e-12)
    end = 101.0 - got.head_loss_m - got.velocity_m_s[-1] ** 2 / (2 * G)
    assert got.hydraulic_grade_m[-1] == pytest.approx(end, abs=1e-10)


@pytest.mark.parametrize("head", [0.5, 12.0, 41.0, 250.0])
def test_line_capacity_m3_s__root_finder(head: float) -> None:
    root = brentq(lambda q: _independent_loss(q) - head, 1e-4, 2.0, xtol=1e-15, rtol=1e-14)
    assert line_capacity_m3_s(_line(head)) == pytest.approx(root, rel=1e-11)
