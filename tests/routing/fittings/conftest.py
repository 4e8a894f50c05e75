"""Made lines for the tests of vents, drains and trapped air."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from routing.fittings import FittingInputs, SizingInputs, place_drains, place_vents
from routing.pipe import load_catalogue, schedule_pipes
from routing.water import Water, water_at


def extremes(pipe: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return summits and sags straight from their definition, level tops at their far end."""
    summits, sags = [], []
    way = 0.0
    for i in range(1, pipe.size):
        step = pipe[i] - pipe[i - 1]
        if way > 0.0 and step < 0.0:
            summits.append(i - 1)
        if way < 0.0 and step > 0.0:
            sags.append(i - 1)
        way = step or way
    return np.array(summits, int), np.array(sags, int)


def make_line(
    station: Sequence[float],
    pipe: Sequence[float],
    *,
    intake_level: float | None = None,
    outlet_level: float | None = None,
    bore: float | Sequence[float] = 0.2,
    cover: float | Sequence[float] = 0.9,
    spans: Sequence[tuple[float, float]] = (),
    flowing: Sequence[float] | None = None,
    water: Water | None = None,
    **more: Any,
) -> FittingInputs:
    """Return a laid pipe from stations and centreline elevations."""
    s, z = np.asarray(station, float), np.asarray(pipe, float)
    inside = np.broadcast_to(np.asarray(bore, float), s.shape)
    outside = inside + 0.02
    level = float(z[0]) + 1.0 if intake_level is None else intake_level
    in_span = np.zeros(s.size, bool)
    ground = z + 0.5 * outside + np.asarray(cover, float)
    for start, end in spans:
        inside_span = (s >= start) & (s <= end)
        in_span |= inside_span
        ground[inside_span] = z[inside_span] - 3.0
    summits, sags = extremes(z)
    return FittingInputs(
        station_m=s,
        lon=10.0 + s / 70_000.0,
        lat=60.0 - s / 110_000.0,
        ground_m=ground,
        pipe_m=z,
        in_span=in_span,
        summits=summits,
        sags=sags,
        slope_station_m=np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(s), np.diff(z))))),
        static_head_m=level - z,
        flowing_head_m=None if flowing is None else np.asarray(flowing, float),
        inside_diameter_m=inside,
        outside_diameter_m=outside,
        intake_level_m=level,
        outlet_level_m=float(z[-1]) if outlet_level is None else outlet_level,
        water=water or water_at(10.0),
        **{"rmse_m": None, "cell_m": 1.0, **more},
    )


@pytest.fixture(scope="session")
def line() -> Callable[..., FittingInputs]:
    """A maker of laid pipes: stations, elevations and whatever differs from the plain case."""
    return make_line


def make_sizing(
    line_inputs: FittingInputs, *, pipe: str | None = "PVC-D2241IPS-SDR26-8in", **more: Any
) -> SizingInputs:
    """Return what the sizing needs, the fittings placed by the room itself."""
    end = float(line_inputs.station_m[-1])
    schedule = None
    if pipe is not None:
        schedule = schedule_pipes([(0.0, load_catalogue().find(pipe))], end)
    given = {
        "line": line_inputs,
        "vents": place_vents(line_inputs),
        "drains": place_drains(line_inputs),
        "schedule": schedule,
    }
    return SizingInputs(**{**given, **more})


@pytest.fixture(scope="session")
def sizing_of() -> Callable[..., SizingInputs]:
    """A maker of sizing inputs from a laid pipe."""
    return make_sizing
