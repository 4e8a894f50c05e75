"""Where water must get out of the pipe: the rules D1 to D4."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from routing.arrays import IntArray
from routing.fittings.inputs import FittingInputs, places
from routing.fittings.place.drain_words import drain_why, least_drain_text
from routing.fittings.place.ends import falls_at, falls_to_end, near_span, rises_from_intake
from routing.fittings.place.fitting import Fitting, Need
from routing.fittings.place.need import need_of
from routing.fittings.place.straight import Stand, flat_reach, stand_on_straight_pipe
from routing.fittings.sizes import drain_size, flush_size
from routing.fittings.trade_data import limits
from routing.fittings.volume import cumulative_volume, pool_volume
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["Drain", "Stretch", "drain_stretches", "place_drains"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drain(Fitting):
    """One place where the line is emptied; SI units.

    It serves a low point; ``near_bend`` is the bend that it could not keep clear of. ``drained_m3``
    is what the pipe between the summits (or line ends, or a shut valve) on either side of it holds,
    ``left_m3`` what of that stays in the line if this drain is missing. ``flush_size_m`` is the
    bore that also flushes silt, None where none does. ``why`` is the placing's part of ``reason``.
    As placed, sizes are the least of the tables; once sized, they and the reason say what to fit.
    """

    need: Need
    why: str
    reason: str
    kind: str
    size_m: float
    least_m: float
    size_source: str
    flush_size_m: float | None
    drained_m3: float
    left_m3: float
    probability: float | None = None
    near_bend: str | None = None


class Stretch(NamedTuple):
    """A low place of the line with the stretch of pipe that runs to it [m, m3].

    ``sag`` is the index of its sag.
    """

    station_m: float
    rule: str
    from_m: float
    to_m: float
    drained_m3: float
    left_m3: float
    sag: int | None = None


def place_drains(line: LaidLine, given: FittingInputs | None = None) -> tuple[Drain, ...]:
    """Return the drains that a laid pipe needs, numbered D1, D2 ... by station.

    Parameters
    ----------
    line : LaidLine
        The line as laid
    given : FittingInputs, optional
        Valves in the line, flowing heads

    Returns
    -------
    drains : tuple of Drain
        In order of station, with the least sizes of the tables

    Raises
    ------
    InputError
        If a column or a valve does not fit the line.

    Notes
    -----
    Every sag (a crossing where the pipe is above ground), the end of the line when the pipe falls
    to it, or its intake end when that is the lowest, and the upstream side of each valve on a
    falling pipe, save valves within 1 m of an end. The volumes that the drains empty add up to the
    whole line, except a first limb that rises from the intake and runs back to it.

    What stays without a drain is the level pool below the lower of the two summits beside the
    sag; at the end of the line the pool below the outlet; above a shut valve everything.

    A drain keeps five bores from bends where the pipe beside its sag is as low.

    References
    ----------
    Sources of the rules are in ``fitting_rules()``.
    """
    given = given or FittingInputs()
    given.check_against(line)
    lows = drain_stretches(line, given.valves_m)
    stands = [_stand(line, low) for low in lows]
    at = places(line, [stand.station_m for stand in stands], given.flowing_head_m)
    drains = []
    for number, (low, stand, place) in enumerate(zip(lows, stands, at, strict=True), start=1):
        chance = None if low.sag is None else given.chances.get(low.sag)
        size = drain_size(place.inside_diameter_m, given.units)
        why = drain_why(low, stand, given.units)
        drains.append(
            Drain(
                id=f"D{number}",
                station_m=place.station_m,
                serves_m=low.station_m,
                lon=place.lon,
                lat=place.lat,
                ground_m=place.ground_m,
                pipe_m=place.pipe_m,
                depth_m=place.depth_m,
                static_head_m=place.static_head_m,
                flowing_head_m=place.flowing_head_m,
                rule=low.rule,
                need=need_of((low.rule,), chance=chance),
                probability=chance,
                why=why,
                reason=f"{why} {least_drain_text(size.size_m, given.units)}",
                kind="drain valve",
                size_m=size.size_m,
                least_m=size.size_m,
                size_source=size.source,
                flush_size_m=flush_size(place.inside_diameter_m),
                drained_m3=low.drained_m3,
                left_m3=low.left_m3,
                near_bend=stand.bend_id,
            )
        )
    return tuple(drains)


def _stand(line: LaidLine, low: Stretch) -> Stand:
    """Return where a drain stands: on straight pipe where its sag leaves room for that."""
    if low.sag is None:
        return Stand(low.station_m, None)
    return stand_on_straight_pipe(line, low.station_m, flat_reach(line, low.sag))


def drain_stretches(line: LaidLine, valves_m: Sequence[float] = ()) -> list[Stretch]:
    """Return every low place with the stretch that runs to it, in order of station."""
    station = line.station_m
    volume = cumulative_volume(line.slope_station_m, line.inside_diameter_m)
    crests = np.concatenate(([0], line.pipe.summits, [station.size - 1]))
    # A valve at the very intake holds no water back, one at the very end shares the end's drain.
    margin = limits().same_place_m
    first, final = float(station[0]) + margin, float(station[-1]) - margin
    inner = {float(valve) for valve in valves_m if first <= valve <= final}
    valves = sorted(valve for valve in inner if falls_at(line, valve))
    parts = np.union1d(station[crests], valves)
    beside = near_span(line)

    def reach(low_m: float, *, before: bool) -> tuple[float, float, float]:
        """Return the stretch that runs to a low place, given whether it is the stretch's end."""
        beyond = np.searchsorted(parts, low_m, side="left" if before else "right")
        k = int(np.clip(beyond, 1, parts.size - 1))
        start, end = float(parts[k - 1]), float(parts[k])
        held = np.interp(end, station, volume) - np.interp(start, station, volume)
        return start, end, float(held)

    lows = []
    for index in line.pipe.sags.tolist():
        at = float(station[index])
        start, end, held = reach(at, before=False)
        left = min(_pool(line, crests, index), held)
        lows.append(
            Stretch(at, "crossing" if beside[index] else "sag", start, end, held, left, index)
        )
    for valve in valves:
        start, end, held = reach(valve, before=True)
        lows.append(Stretch(valve, "above a valve", start, end, held, held))
    index = _low_end(line)
    if index is not None:
        at = float(station[index])
        start, end, held = reach(at, before=index > 0)
        left = min(_pool(line, crests, index), held) if index else 0.0
        lows.append(Stretch(at, "lowest end", start, end, held, left))
    return sorted(lows, key=lambda low: (low.station_m, low.rule != "above a valve"))


def _low_end(line: LaidLine) -> int | None:
    """Return the index of the end that must be drained: the last station, the first, or none."""
    if falls_to_end(line):
        return line.station_m.size - 1
    if rises_from_intake(line) and line.pipe_m[0] < line.pipe_m[-1]:
        return 0
    return None


def _pool(line: LaidLine, crests: IntArray, index: int) -> float:
    """Return the level pool [m3] that stands around a low place with no drain."""
    last = line.station_m.size - 1
    k = int(np.clip(np.searchsorted(crests, index, side="left"), 1, crests.size - 1))
    start, end = int(crests[k - 1]), int(crests[k])
    invert = line.pipe_m - 0.5 * line.inside_diameter_m
    level = float(invert[end])
    if end == last:
        # The riser to the outlet, where there is one, holds the water up to the outlet's invert.
        outlet = line.levels.outlet_m - 0.5 * float(line.inside_diameter_m[last])
        level = max(level, outlet)
    level = min(level, float(invert[start]))
    part = slice(start, end + 1)
    return pool_volume(
        level,
        line.slope_station_m[part],
        line.pipe_m[part],
        line.inside_diameter_m[part],
    )
