"""The relief valves of a line: those asked for, or those proposed at its lower end."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from routing.arrays import FloatArray
from routing.fittings.inputs import FittingInputs, GivenRelief
from routing.fittings.size.relief import (
    ReliefValve,
    relief_bore_m,
    relief_capacity_m3_s,
    size_relief_valve,
    stage_setting_pa,
)
from routing.fittings.sizes import next_nominal
from routing.fittings.sizing_data import sizing
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["PlacedRelief", "place_relief_valves", "relief_window", "together_bore_m"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedRelief:
    """One relief valve; SI units, pressures gauge at its place.

    ``flow_m3_s`` and ``jet_m_s`` are what it passes at its setting, and how fast;
    ``most_setting_pa`` is None where no pipe has a rating, ``side`` is where it throws as seen
    down the line, None where nobody said.
    """

    station_m: float
    static_pa: float
    least_setting_pa: float
    most_setting_pa: float | None
    setting_pa: float
    bore_m: float
    flow_m3_s: float
    jet_m_s: float
    side: str | None
    proposed: bool
    reason: str


def relief_window(
    line: LaidLine,
    flow_m3_s: float | None,
    operating_pa: FloatArray | None,
    at_m: float | None = None,
) -> ReliefValve | None:
    """Return what a relief valve at a station may be set to, the end of the line unless told.

    None without any rating, or where one is above what its place bears at all.
    """
    at = float(line.station_m[-1]) if at_m is None else at_m
    level, head, bore = (
        float(np.interp(at, line.station_m, each))
        for each in (line.pipe_m, line.static_head_m, line.inside_diameter_m)
    )
    weight = line.water.weight_n_m3
    # What the valve may let arise at its own place so that no pipe above or below is overloaded.
    allowed = line.rating_pa + weight * (line.pipe_m - level)
    known = allowed[np.isfinite(allowed)]
    if not known.size or known.min() <= 0.0:
        return None
    usual = 0.0 if operating_pa is None else float(np.interp(at, line.station_m, operating_pa))
    return size_relief_valve(
        station_m=at,
        static_pa=max(weight * head, 0.0),
        allowed_pa=float(known.min()),
        inside_diameter_m=bore,
        flow_m3_s=flow_m3_s or 0.0,
        density_kg_m3=line.water.density_kg_m3,
        usual_pa=max(usual, 0.0),
    )


def place_relief_valves(
    line: LaidLine, given: FittingInputs, window: ReliefValve | None
) -> tuple[PlacedRelief, ...]:
    """Return the relief valves that were asked for, else the stages proposed by ``window``.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    given : FittingInputs
        The flow to be passed, the usual pressures, and ``relief``, what was asked for
    window : ReliefValve or None
        What one at the end of the line may be set to

    Returns
    -------
    valves : tuple of PlacedRelief
        By station, then by setting

    Notes
    -----
    What a valve was not told, it takes from the window of its own place: of n valves the i-th is
    set by :func:`routing.fittings.size.relief.stage_setting_pa` and passes its share of the flow.

    References
    ----------
    .. [1] As :func:`routing.fittings.size.relief.size_relief_valve`.
    """
    if not given.relief:
        return () if window is None else _proposed(line, window)
    end = float(line.station_m[-1])
    asked = sorted(
        given.relief, key=lambda one: (end if one.station_m is None else one.station_m,
                                       one.setting_pa or 0.0),
    )  # fmt: skip
    count = len(asked)
    return tuple(_asked(line, given, one, number, count) for number, one in enumerate(asked))


def _proposed(line: LaidLine, window: ReliefValve) -> tuple[PlacedRelief, ...]:
    several = len(window.stages) > 1
    return tuple(
        PlacedRelief(
            station_m=window.station_m,
            static_pa=window.static_pa,
            least_setting_pa=window.least_setting_pa,
            most_setting_pa=window.most_setting_pa,
            setting_pa=stage.setting_pa,
            bore_m=stage.bore_m,
            side=None,
            proposed=True,
            reason="Lets water out where the machine's nozzle shuts or clogs"
            + (f"; number {number} of {len(window.stages)} to open." if several else "."),
            **_passes(line, stage.bore_m, stage.setting_pa),
        )
        for number, stage in enumerate(window.stages, start=1)
    )


def _asked(
    line: LaidLine, given: FittingInputs, one: GivenRelief, number: int, count: int
) -> PlacedRelief:
    at = float(line.station_m[-1]) if one.station_m is None else one.station_m
    window = relief_window(line, given.flow_m3_s, given.loads.operating_pa, at)
    static = max(
        line.water.weight_n_m3 * float(np.interp(at, line.station_m, line.static_head_m)), 0.0
    )
    least = sizing().relief_above_static * static if window is None else window.least_setting_pa
    most = None if window is None else window.most_setting_pa
    setting = one.setting_pa
    if setting is None:
        top = least if most is None else most
        setting = min(stage_setting_pa(number, count, least_pa=least, most_pa=top), top)
    bore = one.bore_m
    if bore is None:
        wide = float(np.interp(at, line.station_m, line.inside_diameter_m))
        share = relief_bore_m(
            flow_m3_s=(given.flow_m3_s or 0.0) / count,
            pressure_pa=max(setting, 1.0),
            density_kg_m3=line.water.density_kg_m3,
        )
        part = sizing().relief_bore_share * wide / math.sqrt(count)
        bore = next_nominal(max(share, part))
    return PlacedRelief(
        station_m=at,
        static_pa=static,
        least_setting_pa=least,
        most_setting_pa=most,
        setting_pa=setting,
        bore_m=bore,
        side=one.side,
        proposed=False,
        reason=one.reason or "Asked for in the settings.",
        **_passes(line, bore, setting),
    )


def _passes(line: LaidLine, bore_m: float, setting_pa: float) -> dict[str, float]:
    """Return what a valve passes at its setting, and the speed of its jet."""
    density = line.water.density_kg_m3
    flow = relief_capacity_m3_s(bore_m=bore_m, pressure_pa=setting_pa, density_kg_m3=density)
    return {"flow_m3_s": flow, "jet_m_s": math.sqrt(2.0 * setting_pa / density)}


def together_bore_m(valves: Sequence[PlacedRelief]) -> float:
    """Return the bore of one valve of the area of all [m]."""
    return math.sqrt(sum(valve.bore_m**2 for valve in valves))
