"""Before water: what must be done and seen, and the thrust that every end must be held against."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from routing.laid_line import LaidLine
from routing.need import need
from routing.trade_table import trade_table
from routing.value import dataclass
from routing.works.sections import Section

__all__ = ["EndThrust", "HoldPoint", "end_thrust_n", "end_thrusts", "hold_points"]


class HoldPoint(NamedTuple):
    """Something to be done and seen by somebody who signs for it, and before what."""

    name: str
    when: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EndThrust:
    """The push on one end while the line is filled and while it is tested [N]."""

    station_m: float
    what: str
    outside_diameter_m: float
    filling_n: float
    test_n: float


def hold_points() -> tuple[HoldPoint, ...]:
    """Return the hold points in their order."""
    rows = trade_table(__file__, "hold_points.csv")
    return tuple(HoldPoint(row["name"], row["when"], row["text"]) for row in rows)


def end_thrust_n(pressure_pa: float, outside_diameter_m: float) -> float:
    r"""Return the push of the water on a blank end, a shut valve or a coupling that only seals.

    .. math::
        T = p \frac{\pi}{4} D_o^2

    Parameters
    ----------
    pressure_pa : float
        Pressure, >= 0 [Pa]
    outside_diameter_m : float
        Outside diameter at the seal, > 0 [m]

    Returns
    -------
    thrust_n : float
        Push along the pipe [N]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: water at rest. Checked by ``tests/reference/test_commissioning.py``.

    Examples
    --------
    >>> end_thrust_n(700e3, 0.219) / 1e3
    26.4

    References
    ----------
    .. [1] Pressure times area, the seal being on the outside of the pipe.
    """
    need("The pressure", pressure_pa, least=0.0)
    need("The outside diameter", outside_diameter_m, above=0.0)
    return pressure_pa * 0.25 * math.pi * outside_diameter_m**2


def end_thrusts(
    line: LaidLine, sections: Sequence[Section], valves_m: Sequence[float] = ()
) -> tuple[EndThrust, ...]:
    """Return the push on every end of the sections of a test.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    sections : sequence of Section
        The sections in which it is tested
    valves_m : sequence of float
        Stations of isolating valves; any other end within the line is a blank end [m]

    Returns
    -------
    ends : tuple of EndThrust
        In order of station; where two sections meet, the greater push counts
    """
    weight = line.water.weight_n_m3
    pressures: dict[float, float] = {}
    for part in sections:
        for at in (part.from_m, part.to_m):
            level = float(np.interp(at, line.station_m, line.pipe_m))
            bottom = float(np.interp(part.bottom_station_m, line.station_m, line.pipe_m))
            test = max(part.bottom_pa - (level - bottom) * weight, 0.0)
            pressures[at] = max(test, pressures.get(at, 0.0))
    made = []
    for at, test in sorted(pressures.items()):
        static = max(float(np.interp(at, line.station_m, line.static_pressure_pa)), 0.0)
        here = int(np.argmin(np.abs(line.station_m - at)))
        outside = float(line.outside_diameter_m[max(here - 1, 0) : here + 1].max())
        valve = any(abs(at - each) < 1.0 for each in valves_m)
        ends = {0.0: "intake end", float(line.station_m[-1]): "outlet end"}
        made.append(
            EndThrust(
                station_m=at,
                what=ends.get(at, "shut valve" if valve else "blank end"),
                outside_diameter_m=outside,
                filling_n=end_thrust_n(static, outside),
                test_n=end_thrust_n(test, outside),
            )
        )
    return tuple(made)
