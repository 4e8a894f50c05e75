"""Where water must get out of the pipe: the rules D1 to D4."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from routing.arrays import IntArray
from routing.fittings.place.drain_words import drain_reason
from routing.fittings.place.inputs import FittingInputs
from routing.fittings.place.vent import Need
from routing.fittings.sizes import drain_size, flush_size
from routing.fittings.trade_data import limits
from routing.fittings.volume import cumulative_volume, pool_volume

__all__ = ["Drain", "Stretch", "drain_stretches", "place_drains"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drain:
    """One place where the line is emptied; SI units.

    ``drained_m3`` is what the pipe between the summits (or line ends, or a shut valve) on either
    side of it holds, ``left_m3`` what of that stays in the line if this drain is missing.
    ``flush_size_m`` is the bore that also flushes silt.
    """

    id: str
    station_m: float
    lon: float
    lat: float
    ground_m: float
    pipe_m: float
    depth_m: float
    static_head_m: float
    flowing_head_m: float | None
    rule: str
    need: Need
    reason: str
    kind: str
    size_m: float
    size_source: str
    flush_size_m: float
    drained_m3: float
    left_m3: float


class Stretch(NamedTuple):
    """A low place of the line with the stretch of pipe that runs to it [m, m3]."""

    station_m: float
    rule: str
    from_m: float
    to_m: float
    drained_m3: float
    left_m3: float


def place_drains(inputs: FittingInputs) -> tuple[Drain, ...]:
    """Return the drains that a laid pipe needs, numbered D1, D2 ... by station.

    Parameters
    ----------
    inputs : FittingInputs
        The laid pipe with its heads

    Returns
    -------
    drains : tuple of Drain
        In order of station

    Notes
    -----
    Every sag (D1; D4 where the pipe is above ground), the end of the line when the pipe falls to
    it, or its intake end when that is the lowest (D2), and the upstream side of each valve on a
    falling pipe (D3), save valves within 1 m of an end. The volumes that the drains empty add up
    to the whole line, except a first limb that rises from the intake and runs back to it.

    What stays without a drain is the level pool below the lower of the two summits beside the
    sag; at the end of the line the pool below the outlet; above a shut valve everything.

    References
    ----------
    Sources of the rules are in ``fitting_rules()``.
    """
    lows = drain_stretches(inputs)
    places = inputs.places([low.station_m for low in lows])
    drains = []
    for number, (low, place) in enumerate(zip(lows, places, strict=True), start=1):
        size = drain_size(place.inside_diameter_m)
        flush = flush_size(place.inside_diameter_m)
        reason = drain_reason(
            rule=low.rule,
            between_m=(low.from_m, low.to_m),
            drained_m3=low.drained_m3,
            left_m3=low.left_m3,
            size_m=size.size_m,
            flush_size_m=flush,
            static_head_m=place.static_head_m,
            gravity_m_s2=inputs.water.gravity_m_s2,
            units=inputs.units,
        )
        drains.append(
            Drain(
                id=f"D{number}",
                station_m=place.station_m,
                lon=place.lon,
                lat=place.lat,
                ground_m=place.ground_m,
                pipe_m=place.pipe_m,
                depth_m=place.depth_m,
                static_head_m=place.static_head_m,
                flowing_head_m=place.flowing_head_m,
                rule=low.rule,
                need="must",
                reason=reason,
                kind="drain valve",
                size_m=size.size_m,
                size_source=size.source,
                flush_size_m=flush,
                drained_m3=low.drained_m3,
                left_m3=low.left_m3,
            )
        )
    return tuple(drains)


def drain_stretches(inputs: FittingInputs) -> list[Stretch]:
    """Return every low place with the stretch that runs to it, in order of station."""
    station = inputs.station_m
    volume = cumulative_volume(inputs.slope_station_m, inputs.inside_diameter_m)
    crests = np.concatenate(([0], inputs.summits, [station.size - 1]))
    # A valve at the very intake holds no water back, one at the very end shares the end's drain.
    margin = limits().same_place_m
    first, final = float(station[0]) + margin, float(station[-1]) - margin
    inner = {float(valve) for valve in inputs.valves_m if first <= valve <= final}
    valves = sorted(valve for valve in inner if inputs.falls_at(valve))
    parts = np.union1d(station[crests], valves)
    near_span = inputs.near_span

    def reach(low_m: float, *, before: bool) -> tuple[float, float, float]:
        """Return the stretch that runs to a low place, given whether it is the stretch's end."""
        beyond = np.searchsorted(parts, low_m, side="left" if before else "right")
        k = int(np.clip(beyond, 1, parts.size - 1))
        start, end = float(parts[k - 1]), float(parts[k])
        held = np.interp(end, station, volume) - np.interp(start, station, volume)
        return start, end, float(held)

    lows = []
    for index in inputs.sags.tolist():
        at = float(station[index])
        start, end, held = reach(at, before=False)
        left = min(_pool(inputs, crests, index), held)
        lows.append(Stretch(at, "D4" if near_span[index] else "D1", start, end, held, left))
    for valve in valves:
        start, end, held = reach(valve, before=True)
        lows.append(Stretch(valve, "D3", start, end, held, held))
    index = _low_end(inputs)
    if index is not None:
        at = float(station[index])
        start, end, held = reach(at, before=index > 0)
        left = min(_pool(inputs, crests, index), held) if index else 0.0
        lows.append(Stretch(at, "D2", start, end, held, left))
    return sorted(lows, key=lambda low: (low.station_m, low.rule != "D3"))


def _low_end(inputs: FittingInputs) -> int | None:
    """Return the index of the end that must be drained: the last station, the first, or none."""
    if inputs.falls_to_end:
        return inputs.station_m.size - 1
    if inputs.rises_from_intake and inputs.pipe_m[0] < inputs.pipe_m[-1]:
        return 0
    return None


def _pool(inputs: FittingInputs, crests: IntArray, index: int) -> float:
    """Return the level pool [m3] that stands around a low place with no drain."""
    last = inputs.station_m.size - 1
    k = int(np.clip(np.searchsorted(crests, index, side="left"), 1, crests.size - 1))
    start, end = int(crests[k - 1]), int(crests[k])
    invert = inputs.pipe_m - 0.5 * inputs.inside_diameter_m
    level = float(invert[end])
    if end == last:
        # The riser to the outlet, where there is one, holds the water up to the outlet's invert.
        outlet = inputs.outlet_level_m - 0.5 * float(inputs.inside_diameter_m[last])
        level = max(level, outlet)
    level = min(level, float(invert[start]))
    part = slice(start, end + 1)
    return pool_volume(
        level,
        inputs.slope_station_m[part],
        inputs.pipe_m[part],
        inputs.inside_diameter_m[part],
    )
