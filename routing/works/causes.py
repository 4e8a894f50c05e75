"""What may be wrong with a line, and what each of it does to the heads along it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from routing.arrays import FloatArray
from routing.flow import line_capacity_m3_s, steady_flow
from routing.laid_line import LaidLine
from routing.works.evidence import Guesses

__all__ = ["AIR", "BLOCKED", "LEAK", "LOW", "Gauges", "Limb", "explanations", "falling_limbs_of"]

LOW, AIR, LEAK, BLOCKED = "intake low", "air", "leak", "blockage"
PLACES, SIZES, FLOWS = 30, 100, 160
"""Places and sizes of leaks, sizes of air, and flows at which the losses are tabled [-]."""
MOST_STATIC = 0.9
"""Most of the pressure at rest that a leak may take [-]."""


@dataclass(frozen=True, slots=True)
class Limb:
    """A falling limb below a summit, in which air may be trapped: stations and height [m]."""

    from_m: float
    to_m: float
    height_m: float


def falling_limbs_of(line: LaidLine) -> tuple[Limb, ...]:
    """Return the limb below each summit down to the next low place."""
    z, station = line.pipe_m, line.station_m
    turns = sorted({*line.pipe.sags.tolist(), station.size - 1})
    limbs = []
    for top in line.pipe.summits.tolist():
        low = next(each for each in turns if each > top)
        limbs.append(Limb(float(station[top]), float(station[low]), float(z[top] - z[low])))
    return tuple(limb for limb in limbs if limb.height_m > 0.0)


@dataclass(frozen=True)
class Gauges:
    """The line with all readings that may be taken on it: each place shut, then each running.

    ``flow_m3_s`` is the flow while it runs; None where no reading can be told for want of one.
    """

    line: LaidLine
    station_m: FloatArray
    flow_m3_s: float | None

    @property
    def at_m(self) -> FloatArray:
        """Station of every reading, (m,) [m]."""
        return self.station_m if self.flow_m3_s is None else np.tile(self.station_m, 2)

    @property
    def runs(self) -> FloatArray:
        """1 for each reading while the line runs, else 0, (m,)."""
        states = (0.0,) if self.flow_m3_s is None else (0.0, 1.0)
        return np.repeat(states, self.station_m.size)

    @cached_property
    def base_m(self) -> FloatArray:
        """Level of head of every reading with nothing wrong, (m,) [m]."""
        rest = np.full(self.station_m.size, self.line.levels.intake_m)
        if self.flow_m3_s is None:
            return rest
        grade = steady_flow(self.line, self.flow_m3_s).hydraulic_grade_m
        return np.concatenate([rest, np.interp(self.station_m, self.line.station_m, grade)])

    @property
    def range_m(self) -> float:
        """Head over which sizes are as likely as each other [m]."""
        return max(self.line.gross_head_m, 1.0)


def explanations(
    gauges: Gauges, parts_m: Sequence[tuple[float, float]], *, runs: bool
) -> list[Guesses]:
    """Return every single cause and every pair, with the heads that each guess adds.

    ``parts_m`` are the stretches between gauges in which a blockage may sit. Unless water ran
    (``runs``) it shows only beside a leak.
    """
    low, air, leak = _low(gauges), _air(gauges), _leak(gauges)
    blocked = None if gauges.flow_m3_s is None else _blocked(gauges, parts_m)
    found = [low, leak, _with(leak, low)]
    if air is not None:
        found += [air, _with(_spread(air), low), _with(leak, air)]
    if blocked is not None:
        found.append(_with(leak, blocked, _through(gauges)))
    if blocked is not None and runs:
        found += [blocked, _with(_spread(blocked), low)]
        found += [] if air is None else [_with(_spread(air), blocked)]
    return found


def _even(
    causes: tuple[str, ...],
    slope: FloatArray,
    most: FloatArray,
    places: FloatArray,
    limbs: FloatArray,
    per_m: float,
) -> Guesses:
    count = slope.shape[0]
    return Guesses(
        causes=causes,
        effect_m=np.zeros(slope.shape),
        weight=np.full(count, 1.0 / count),
        place=places,
        size=np.full(count, np.nan),
        limb=limbs,
        slope_m=slope,
        most_m=most,
        per_m=per_m,
    )


def _low(gauges: Gauges) -> Guesses:
    count = gauges.at_m.size
    nowhere = np.array([[0.0, 0.0]])
    return _even(
        (LOW,),
        np.full((1, count), -1.0),
        np.array([gauges.range_m]),
        nowhere,
        np.array([-1.0]),
        1.0 / gauges.range_m,
    )


def _air(gauges: Gauges) -> Guesses | None:
    """Air in a limb lowers the head below it by its height, whether the line runs or not."""
    limbs = falling_limbs_of(gauges.line)
    if not limbs:
        return None
    below = np.array([-(gauges.at_m > limb.from_m).astype(np.float64) for limb in limbs])
    return _even(
        (AIR,),
        below,
        np.array([limb.height_m for limb in limbs]),
        np.array([[limb.from_m, limb.to_m] for limb in limbs]),
        np.arange(float(len(limbs))),
        1.0 / gauges.range_m,
    )


def _blocked(gauges: Gauges, parts_m: Sequence[tuple[float, float]]) -> Guesses | None:
    """A blockage takes head below it, and only while water runs through it."""
    if not parts_m:
        return None
    below = np.array(
        [-((gauges.at_m >= end) & (gauges.runs > 0.0)).astype(np.float64) for _, end in parts_m]
    )
    return _even(
        (BLOCKED,),
        below,
        np.full(len(parts_m), gauges.range_m),
        np.array(parts_m),
        np.full(len(parts_m), -1.0),
        1.0 / gauges.range_m,
    )


def _leak(gauges: Gauges) -> Guesses:
    """A leak loses the head of its own flow down to it, and of both flows while the line runs."""
    line, station = gauges.line, gauges.line.station_m
    places = np.linspace(0.0, float(station[-1]), PLACES + 1)[1:]
    run_m3_s = gauges.flow_m3_s or 0.0
    most_m3_s = 2.0 * line_capacity_m3_s(line) + run_m3_s
    flows = most_m3_s * np.linspace(0.0, 1.0, FLOWS + 1)
    at = np.concatenate([places, gauges.station_m])
    lost = np.empty((flows.size, at.size))
    for number, flow in enumerate(flows):
        steady = steady_flow(line, float(flow))
        speed = steady.velocity_m_s**2 / (2.0 * line.water.gravity_m_s2)
        total = line.levels.intake_m - steady.hydraulic_grade_m - speed
        lost[number] = np.interp(at, station, total)
    area = np.interp(at, station, 0.25 * np.pi * line.inside_diameter_m**2)
    fast = 1.0 / (2.0 * line.water.gravity_m_s2 * area**2)
    static = np.interp(places, station, line.static_head_m)
    rows = []
    for p, place in enumerate(places):
        drop = min(MOST_STATIC * static[p], float(lost[-1, p]))
        if drop <= 0.0:
            continue
        sizes = drop * (np.arange(SIZES) + 0.5) / SIZES
        flow = np.interp(sizes, lost[:, p], flows)
        columns = [_leaked(gauges, lost, fast, flows, p, place, flow, 0.0)]
        if gauges.flow_m3_s is not None:
            left = np.interp(run_m3_s, flows, lost[:, p])
            ratio = np.sqrt(np.maximum(static[p] - left, 0.0) / max(static[p], 1e-9))
            columns.append(_leaked(gauges, lost, fast, flows, p, place, flow * ratio, run_m3_s))
        rows.append((np.hstack(columns), place, flow, drop / SIZES / gauges.range_m))
    return Guesses(
        causes=(LEAK,),
        effect_m=np.vstack([row[0] for row in rows]),
        weight=np.repeat([row[3] / len(rows) for row in rows], SIZES),
        place=np.repeat([[row[1], row[1]] for row in rows], SIZES, axis=0),
        size=np.concatenate([row[2] for row in rows]),
        limb=np.full(len(rows) * SIZES, -1.0),
    )


def _leaked(
    gauges: Gauges,
    lost: FloatArray,
    fast: FloatArray,
    flows: FloatArray,
    p: int,
    place: float,
    leak_m3_s: FloatArray,
    run_m3_s: float,
) -> FloatArray:
    """Return what a leak of each size changes at every gauge in one state, (sizes, gauges) [m]."""
    columns = []
    both = leak_m3_s + run_m3_s
    to_leak = np.interp(both, flows, lost[:, p]) - np.interp(run_m3_s, flows, lost[:, p])
    for k, at in enumerate(gauges.station_m):
        if at >= place:
            columns.append(-to_leak)
            continue
        own = PLACES + k
        more = np.interp(both, flows, lost[:, own]) - np.interp(run_m3_s, flows, lost[:, own])
        columns.append(-more - fast[own] * (both**2 - run_m3_s**2))
    return np.stack(columns, axis=1)


def _spread(linear: Guesses) -> Guesses:
    """Return the guesses of a cause with every size written out, so that another may join it."""
    assert linear.slope_m is not None
    assert linear.most_m is not None
    share = (np.arange(SIZES) + 0.5) / SIZES
    size = (linear.most_m[:, None] * share).ravel()
    return Guesses(
        causes=linear.causes,
        effect_m=np.repeat(linear.slope_m, SIZES, axis=0) * size[:, None],
        weight=np.repeat(linear.weight * linear.most_m * linear.per_m / SIZES, SIZES),
        place=np.repeat(linear.place, SIZES, axis=0),
        size=size,
        limb=np.repeat(linear.limb, SIZES),
    )


def _through(gauges: Gauges) -> FloatArray:
    """Return the flow through a blockage while the line runs without a leak [m3/s]."""
    return np.array([max(gauges.flow_m3_s or 0.0, 1e-9)])


def _with(first: Guesses, second: Guesses, through: FloatArray | None = None) -> Guesses:
    """Return the pair: the sizes of the first are written out, the second's is left open.

    ``through`` is the flow that a blockage is told for: a leak below one draws more through it,
    and some at rest too.
    """
    assert second.slope_m is not None
    assert second.most_m is not None
    n, k = first.effect_m.shape[0], second.slope_m.shape[0]
    slope = np.tile(second.slope_m, (n, 1))
    place = np.hstack([np.repeat(first.place, k, axis=0), np.tile(second.place, (n, 1))])
    if through is not None:
        # Twice as many columns as gauges: at rest, running.
        half = slope.shape[1] // 2
        leak = np.repeat(first.size, k) / through[0]
        below = (place[:, 0] > 0.5 * (place[:, 2] + place[:, 3])).astype(np.float64)
        running = slope[:, half:]
        slope = np.hstack(
            [running * (below * leak**2)[:, None], running * ((1.0 + below * leak) ** 2)[:, None]]
        )
    return Guesses(
        causes=(*first.causes, *second.causes),
        effect_m=np.repeat(first.effect_m, k, axis=0),
        weight=np.repeat(first.weight, k) * np.tile(second.weight, n),
        place=place,
        size=np.repeat(first.size, k),
        limb=np.maximum(np.repeat(first.limb, k), np.tile(second.limb, n)),
        slope_m=slope,
        most_m=np.tile(second.most_m, n),
        per_m=second.per_m,
    )
