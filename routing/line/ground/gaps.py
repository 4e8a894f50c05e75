"""Missing elevation on the line: refused, or bridged straight where the settings allow it."""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray, FloatArray
from routing.errors import MissingElevation
from routing.finding import Finding
from routing.line.ground.trace import Trace
from routing.value import dataclass

__all__ = ["Gap", "bridge_gaps"]


NO_GAP_M = 1e-3
"""Length up to which a gap is rounding [m]; its stations merge."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch without elevation on which the ground was assumed straight."""

    from_m: float
    to_m: float


def bridge_gaps(
    trace: Trace, bridge_m: float | None
) -> tuple[FloatArray, BoolArray, tuple[Gap, ...], tuple[Finding, ...]]:
    """Return heights of the points, which of them are assumed, and each gap with its warning."""
    ground = trace.ground
    assumed = np.zeros(ground.shape, dtype=np.bool_)
    runs = trace.gaps() if trace.missing.any() else []
    if not runs:
        return ground, assumed, (), ()
    ground, station = ground.copy(), trace.station
    gaps, findings = [], []
    for begin, end in runs:
        at_end = begin == 0 or end == station.size - 1
        gap_m = float(station[end] - station[begin])
        if gap_m < NO_GAP_M:
            ground[begin : end + 1] = ground[end if begin == 0 else begin]
            continue
        if at_end or bridge_m is None or gap_m > bridge_m:
            raise _missing(trace, begin, end, at_end, bridge_m)
        inner = slice(begin + 1, end)
        ground[inner] = np.interp(station[inner], station[[begin, end]], ground[[begin, end]])
        assumed[inner] = True
        gaps.append(Gap(from_m=float(station[begin]), to_m=float(station[end])))
        findings.append(
            Finding(
                code="gap_bridged",
                severity="warning",
                message=f"Elevation is missing from station {station[begin]:.1f} m to "
                f"{station[end]:.1f} m; the ground there was assumed straight. Level it before "
                "you dig.",
                station_m=float(station[begin]),
            )
        )
    return ground, assumed, tuple(gaps), tuple(findings)


def _missing(
    trace: Trace, begin: int, end: int, at_end: bool, bridge_m: float | None
) -> MissingElevation:
    """Return the error that names the gap and what may be done about it."""
    station, lon, lat = trace.station, trace.lon, trace.lat
    gap_m = float(station[end] - station[begin])
    if at_end:
        remedy = "A gap at an end of the line cannot be bridged: move that end or fill the raster."
    elif bridge_m is None:
        remedy = (
            "Lead the line around the gap, fill the raster, or allow it to be bridged straight "
            f'with bridge = "{np.ceil(gap_m):.0f} m" under [terrain].'
        )
    else:
        remedy = (
            f"That is more than the {bridge_m:g} m that may be bridged: lead the line around the "
            "gap, fill the raster, or raise bridge under [terrain]."
        )
    return MissingElevation(
        f"The raster has no elevation from station {station[begin]:.1f} m (longitude "
        f"{lon[begin]:.7f}, latitude {lat[begin]:.7f}) to station {station[end]:.1f} m (longitude "
        f"{lon[end]:.7f}, latitude {lat[end]:.7f}), {gap_m:.1f} m of the line.",
        remedy,
        station_m=float(station[begin]),
        lon=float(lon[begin]),
        lat=float(lat[begin]),
    )
