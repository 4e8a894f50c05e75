"""Whether frost reaches a line: the buried pipe's cover, and what its spans stand."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from routing.arrays import BoolArray, stretches
from routing.check import Check
from routing.errors import InputError
from routing.finding import Finding
from routing.fittings.frost.cold import (
    frost_depth_m,
    heat_resistance_m_k_w,
    least_running_flow_m3_s,
    standing_time_s,
)
from routing.fittings.requirements import asked
from routing.fittings.sizing_data import sizing
from routing.laid_line import LaidLine
from routing.units import UnitSystem, show
from routing.value import dataclass

__all__ = ["ColdCheck", "ColdSpan", "FrostData", "check_cold"]

Winter = Literal["below frost", "drained in winter", "not settled"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostData:
    """What is known of the winter: SI units, temperatures in degC.

    The frost's depth is ``depth_m`` where the place's own is known, else it follows from the
    freezing index. ``arriving_c`` is the water's temperature in winter: 0 under ice.
    """

    depth_m: float | None = None
    freezing_index_c_days: float | None = None
    surface_factor: float | None = None
    conductivity_w_m_k: float | None = None
    dry_density_kg_m3: float | None = None
    moisture: float | None = None
    air_c: float | None = None
    arriving_c: float = 0.0
    insulation_m: float = 0.0
    insulation_w_m_k: float | None = None
    film_w_m2_k: float | None = None
    drained_in_winter: bool = False

    def __post_init__(self) -> None:
        if self.depth_m is not None and not (math.isfinite(self.depth_m) and self.depth_m >= 0.0):
            raise InputError(
                f"The depth of frost is {self.depth_m} m.", "Give a depth of zero or more."
            )

    def frost_m(self) -> float | None:
        """Return the depth of frost [m], None where nothing is known of it."""
        if self.depth_m is not None:
            return self.depth_m
        if self.freezing_index_c_days is None:
            return None
        return frost_depth_m(
            freezing_index_c_days=self.freezing_index_c_days,
            surface_factor=self.surface_factor,
            conductivity_w_m_k=self.conductivity_w_m_k,
            dry_density_kg_m3=self.dry_density_kg_m3,
            moisture=self.moisture,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdSpan:
    """One stretch above ground: how long it may stand still, and what must run through it.

    ``least_flow_m3_s`` is infinite for water that arrives at 0 degC: no flow is then enough.
    """

    from_m: float
    to_m: float
    length_m: float
    resistance_m_k_w: float
    standing_s: float
    least_flow_m3_s: float
    flow_m3_s: float | None
    running_holds: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdCheck:
    """What frost does to a line; ``winter`` must stand on its papers.

    ``least_cover_m`` is the least cover of the buried pipe, at ``least_cover_station_m``;
    ``in_frost`` holds the stretches whose crown lies within the frost. ``findings`` are notes; what
    the checks ask and do not get is theirs to say.
    """

    frost_m: float | None
    least_cover_m: float | None
    least_cover_station_m: float | None
    in_frost: tuple[tuple[float, float], ...]
    spans: tuple[ColdSpan, ...]
    winter: Winter
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]


def check_cold(
    line: LaidLine,
    frost: FrostData | None = None,
    *,
    flow_m3_s: float | None = None,
    units: UnitSystem = "metric",
) -> ColdCheck:
    """Return whether frost reaches the pipe, and what its spans stand.

    Parameters
    ----------
    line : LaidLine
        The laid pipe
    frost : FrostData, optional
        What is known of the winter; None: nothing, and the check says so
    flow_m3_s : float, optional
        Flow in winter; the design flow of summer is no substitute [m3/s]
    units : str
        Units in which messages are written

    Returns
    -------
    check : ColdCheck
        Cover against frost, each span, what must be settled

    Raises
    ------
    InputError
        If a number of the frost data cannot be.

    Notes
    -----
    Either the pipe lies below the frost, or it is drained for the winter: one of the two must be
    said. Water under ice arrives at 0 degC and has no heat to give, whatever runs. Checked by
    ``tests/routing/fittings/test_cold_line.py``.

    References
    ----------
    Sources of the formulas are in :mod:`routing.fittings.frost.cold`.
    """
    known = frost or FrostData()
    depth = known.frost_m()
    buried = ~line.pipe.in_span
    least = place = None
    shallow: tuple[tuple[float, float], ...] = ()
    if buried.any():
        at = int(np.flatnonzero(buried)[np.argmin(line.cover_m[buried])])
        least, place = float(line.cover_m[at]), float(line.station_m[at])
        if depth is not None:
            shallow = _stretches(line, buried & (line.cover_m < depth))
    spans = tuple(
        _span(line, known, start, end, flow_m3_s)
        for start, end in _stretches(line, line.pipe.in_span)
        if known.air_c is not None and end > start
    )
    winter: Winter = "not settled"
    if known.drained_in_winter:
        winter = "drained in winter"
    elif depth is not None and not shallow and not line.pipe.in_span.any():
        winter = "below frost"
    checks: list[Check] = []
    if not known.drained_in_winter:
        if depth is not None and least is not None:
            checks.append(_cover_check(least, depth, place, shallow, units))
        checks += [_span_check(span, known) for span in spans]
    unsettled = depth is None and not known.drained_in_winter
    return ColdCheck(
        frost_m=depth,
        least_cover_m=least,
        least_cover_station_m=place,
        in_frost=shallow,
        spans=spans,
        winter=winter,
        checks=tuple(checks),
        findings=(_unknown(),) if unsettled else (),
    )


def _stretches(line: LaidLine, mask: BoolArray) -> tuple[tuple[float, float], ...]:
    """Return the stretches of stations at which ``mask`` holds."""
    station = line.station_m
    return tuple((float(station[first]), float(station[last])) for first, last in stretches(mask))


def _span(
    line: LaidLine, known: FrostData, start: float, end: float, flow: float | None
) -> ColdSpan:
    ends = np.interp([start, end], line.station_m, line.slope_station_m)
    length = float(ends[1] - ends[0])
    at = int(np.searchsorted(line.station_m, start))
    resistance = heat_resistance_m_k_w(
        outside_diameter_m=float(line.outside_diameter_m[at]),
        insulation_m=known.insulation_m,
        insulation_w_m_k=known.insulation_w_m_k,
        film_w_m2_k=known.film_w_m2_k,
    )
    air = 0.0 if known.air_c is None else min(known.air_c, 0.0)
    arriving = max(known.arriving_c, 0.0)
    standing = standing_time_s(
        inside_diameter_m=float(line.inside_diameter_m[at]),
        resistance_m_k_w=resistance,
        start_c=arriving,
        air_c=air,
    )
    least = least_running_flow_m3_s(
        length_m=length, resistance_m_k_w=resistance, start_c=arriving, air_c=air
    )
    if air == 0.0:
        # Air that does not freeze needs no flow and leaves all the time there is.
        standing, least = math.inf, 0.0
    return ColdSpan(
        from_m=start,
        to_m=end,
        length_m=length,
        resistance_m_k_w=resistance,
        standing_s=standing,
        least_flow_m3_s=least,
        flow_m3_s=flow,
        running_holds=None if flow is None else flow >= least,
    )


def _unknown() -> Finding:
    return Finding(
        code="frost_unknown",
        severity="note",
        message="Nothing is known of the frost here. Ask for the local depth of frost and lay "
        "the pipe below it, or drain the line in winter: one of the two must be settled.",
    )


def _cover_check(
    least_m: float,
    depth_m: float,
    station_m: float | None,
    shallow: tuple[tuple[float, float], ...],
    units: UnitSystem,
) -> Check:
    length = sum(end - start for start, end in shallow)
    return asked("cover_in_frost").judge(
        least_m,
        f"Frost reaches {show(depth_m, 'depth', units)}, but the pipe has as little as "
        f"{show(least_m, 'depth', units)} of cover, less than the frost over "
        f"{show(length, 'length', units)} of line. Lay it deeper, or drain it in winter.",
        limit=depth_m,
        station_m=station_m,
    )


def _span_check(span: ColdSpan, known: FrostData) -> Check:
    # A week stands for ever: a limit of hours does not care, and documents hold no infinity.
    hours = min(span.standing_s / 3600.0, 168.0)
    return asked("span_freezes").judge(
        hours,
        _span_text(span, known),
        limit=sizing().drain_within_s / 3600.0,
        place=f"span from {span.from_m:.1f} m",
        station_m=span.from_m,
    )


def _span_text(span: ColdSpan, known: FrostData) -> str:
    air = known.air_c if known.air_c is not None else 0.0
    if span.standing_s <= 0.0:
        still = (
            "water that arrives at 0 °C starts to freeze at once, and no flow keeps it from that"
        )
    else:
        minutes = span.standing_s / 60.0
        running = f"{1e3 * span.least_flow_m3_s:.2g} L/s"
        still = (
            f"still water reaches 0 °C in {minutes:.0f} minutes, and at least {running} must run "
            "to keep it from that"
        )
    within = sizing().drain_within_s / 60.0
    return (
        f"Above ground, in air of {air:.0f} °C, {still}. Insulate the pipe, keep it running, and "
        f"drain it within {min(span.standing_s / 60.0, within) or within:.0f} minutes when it "
        "stops, or drain it in winter."
    )
