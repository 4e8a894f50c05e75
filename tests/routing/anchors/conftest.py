"""A short line over level and falling ground, for the anchors."""

import numpy as np
import pytest

from routing.anchors import AnchorInputs
from routing.trench import find_bends


@pytest.fixture
def line():
    """Return a maker of inputs: 200 m north, falling 10 %, then 30 degrees right and steeper."""

    def make(**change):
        station = np.arange(0.0, 401.0, 5.0)
        second = np.maximum(station - 200.0, 0.0)
        turn = np.radians(30.0)
        north = np.minimum(station, 200.0) + second * np.cos(turn)
        east = second * np.sin(turn)
        ground = 100.0 - 0.1 * station - 0.2 * np.maximum(station - 300.0, 0.0)
        pipe = ground - 1.0
        n = np.ones(station.size)
        given = {
            "station_m": station,
            "lon": east / 111_319.49,
            "lat": north / 110_574.0,
            "ground_m": ground,
            "pipe_m": pipe,
            "in_span": n < 0.0,
            "slope_station_m": np.concatenate(
                ([0.0], np.cumsum(np.hypot(np.diff(station), np.diff(pipe))))
            ),
            "outside_diameter_m": 0.2 * n,
            "inside_diameter_m": 0.18 * n,
            "pressure_pa": 1000.0 * 9.80665 * (pipe[0] - pipe),
            "bends": find_bends(station, pipe, np.array([200.0]), np.array([turn])),
            "joints": ((0.0, "gasket pvc"),),
            "velocity_m_s": 0.0 * n,
            "soil": "sand",
        }
        return AnchorInputs(**{**given, **change})

    return make
