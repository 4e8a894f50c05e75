"""A short line over level and falling ground, for the anchors."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from routing.anchors import Ground, place_blocks
from routing.laid_line import simple_line
from routing.pipe import pipe_by_hand, with_jointing
from routing.trench import Span, find_bends
from routing.water import water_at

COLD = water_at(10.0)


def pipe(outside_m=0.2, material="PVC", **joints):
    """Return a pipe of this outside diameter with a wall of a twentieth of it."""
    wall = outside_m / 20.0
    made = pipe_by_hand(material=material, inside_diameter_m=outside_m - 2 * wall, wall_m=wall)
    return with_jointing(made, **joints)


@dataclass
class Case:
    """A line with the pressures and the ground it is judged with."""

    line: object
    pressure_pa: np.ndarray
    ground: Ground
    more: dict

    @property
    def blocks(self):
        return place_blocks(self.line, self.pressure_pa, self.ground, **self.more)


@pytest.fixture
def line():
    """Return a maker of lines: 200 m north, falling 10 %, then 30 degrees right and steeper.

    Water stands still, the pipe lies under a metre of cover in sand.
    """

    def make(
        *, pipes=None, bends=None, span=None, soil="sand", cover_m=1.0, pipe_m=None, factor=1.0,
        pressure_pa=None, velocity_m_s=0.0, **more,
    ):  # fmt: skip
        station = np.arange(0.0, 401.0, 5.0)
        second = np.maximum(station - 200.0, 0.0)
        turn = np.radians(30.0)
        north = np.minimum(station, 200.0) + second * np.cos(turn)
        east = second * np.sin(turn)
        level = 99.0 - 0.1 * station - 0.2 * np.maximum(station - 300.0, 0.0)
        level = level if pipe_m is None else np.broadcast_to(pipe_m, station.shape)
        if bends is None:
            bends = find_bends(
                station, level, np.arange(station.size), np.array([200.0]), np.array([turn])
            )
        laid = simple_line(
            station, level, pipe() if pipes is None else pipes, intake_m=float(level[0]),
            bends=bends, lon=east / 111_319.49, lat=north / 110_574.0, water=COLD,
        )  # fmt: skip
        ground = level + cover_m + laid.outside_diameter_m / 2.0
        spans = () if span is None else (Span(from_m=span[0], to_m=span[1]),)
        above = np.zeros(station.size, bool)
        if span is not None:
            above = (station > span[0]) & (station < span[1])
        laid = replace(laid, pipe=replace(laid.pipe, ground_m=ground, spans=spans, in_span=above))
        head = COLD.weight_n_m3 * (level[0] - level)
        given = head if pressure_pa is None else np.full(station.size, pressure_pa)
        if velocity_m_s is not None:
            more["velocity_m_s"] = np.full(station.size, velocity_m_s)
        return Case(laid, factor * given, Ground(soil=soil), more)

    return make
