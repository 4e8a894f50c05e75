"""The screening chain: every powerhouse below an intake, by the stream or straight, priced at once.

Two lines are priced for each pair: along the stream, leg by leg from the intake down, and straight
from end to end where the ground lets it. Each is tried in every size of pipe. It is the short form
of a study: pipe by the head at rest, trench at least depth, benches, summits and sags, and the
friction of the design flow.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from routing.arrays import FloatArray, IntArray
from routing.compiled import kernel
from routing.search.surface import between_cells
from routing.search.turns import turn
from routing.search.valley.places import Chains

__all__ = ["Purse", "Rated", "rate_chains"]


_NONE = np.zeros((0, 0), dtype=np.float32)
_NO_LAND = np.zeros((0, 0), dtype=np.uint8)
STREAM = 1
"""Bit of the land that a line along the stream is not charged for."""


class Purse(NamedTuple):
    """What things cost, what power is worth, and what a candidate must keep to.

    Arrays are over sizes of pipe, (s,); ``by_head`` is (s, heads). ``rank`` is 0 for worth, 1 for
    power per cost, 2 for head per length.
    """

    bore_m: FloatArray
    rough_m: FloatArray
    trench: FloatArray
    section_m2: FloatArray
    most_head_m: FloatArray
    by_head: FloatArray
    depth_m: float
    bench: float
    bench_from: float
    cut: float
    steep_from: float
    steep_factor: float
    vent: float
    drain: float
    slack_m: float
    margin_m: float
    intake_above_m: float
    outlet_above_m: float
    viscosity: float
    weight_kn: float
    efficiency: float
    most_loss: float
    fastest: float
    least_head: float
    most_head: float
    most_length: float
    worth: float
    """Yearly worth of a kilowatt."""
    recovery: float
    """Share of the cost that is paid back in a year."""
    rank: int
    crossing: FloatArray
    """Price of a crossing by the bit of its land, (kinds,) [money]."""


class Rated(NamedTuple):
    """Candidates by the numbers of their intake and of the powerhouse's cell in the chains.

    ``straight`` is 1 for the straight line, 0 for the one along the stream; ``size`` is that of the
    pipe. Only those that keep to all limits are in it.
    """

    intake: IntArray
    stop: IntArray
    straight: IntArray
    size: IntArray
    score: FloatArray
    cost: FloatArray
    power_kw: FloatArray
    head_m: FloatArray
    length_m: FloatArray


@kernel
def _cell_of(grid: Any, row: Any, col: Any) -> Any:
    """Return the cell of a grid that a place lies in, or that is nearest to it."""
    rows, cols = grid.shape
    return min(max(int(row + 0.5), 0), rows - 1), min(max(int(col + 0.5), 0), cols - 1)


@kernel
def _shut(closed: Any, row: Any, col: Any) -> Any:
    """Return whether a place lies in closed ground; an empty array closes nothing."""
    return closed.shape[0] > 0 and closed[_cell_of(closed, row, col)] != 0


@kernel
def _dearer(dug: Any, row: Any, col: Any) -> Any:
    """Return what a cubic metre of trench costs more at a place; nothing by an empty array."""
    return float(dug[_cell_of(dug, row, col)]) if dug.shape[0] > 0 else 0.0


@kernel
def _land(land: Any, row: Any, col: Any) -> Any:
    """Return the bits of the land at a place; none by an empty array."""
    return int(land[_cell_of(land, row, col)]) if land.shape[0] > 0 else 0


@kernel
def _crossed(purse: Any, before: Any, here: Any) -> Any:
    """Return what the land costs that a line enters from one place to the next."""
    if here == before or here == 0:
        return 0.0
    price = 0.0
    for kind in range(purse.crossing.size):
        if here >> kind & 1 and not before >> kind & 1:
            price += purse.crossing[kind]
    return price


@kernel
def _gradient(purse: Any, size: Any, flow: Any) -> Any:
    """Return the head lost per metre, by Darcy and the explicit formula of Swamee and Jain."""
    bore = purse.bore_m[size]
    speed = flow / (0.25 * math.pi * bore * bore)
    reynolds = max(speed * bore / purse.viscosity, 4000.0)
    factor = 0.25 / math.log10(purse.rough_m[size] / (3.7 * bore) + 5.74 / reynolds**0.9) ** 2
    return factor * speed * speed / (2.0 * 9.80665 * bore)


@kernel
def _pipe(purse: Any, size: Any, head: Any) -> Any:
    return purse.by_head[size, min(max(int(head), 0), purse.by_head.shape[1] - 1)]


@kernel
def _add(purse: Any, sums: Any, head: Any, flat: Any, rise: Any, side: Any, more: Any) -> Any:
    """Add a piece of line to the sums of each size; False where the ground is too steep."""
    if side >= purse.cut:
        return False
    slope = math.sqrt(flat * flat + rise * rise)
    bench = 0.0
    if side > purse.bench_from:
        bench = purse.bench * side / (1.0 - side / purse.cut)
    dear = purse.steep_factor if abs(rise) > purse.steep_from * flat else 1.0
    for size in range(sums.size):
        ditch = dear * purse.trench[size] + more * purse.section_m2[size]
        sums[size] += slope * _pipe(purse, size, head) + flat * (ditch + bench)
    return True


@kernel
def _straight(ground: Any, purse: Any, ends: Any, intake_m: Any, fall: Any, sums: Any) -> Any:
    """Price the straight line into ``sums``; return its slope length, -1 where it cannot be."""
    heights, closed, dug, land, step = ground
    row, col, r, c = ends[0], ends[1], ends[2], ends[3]
    south, east = (r - row) * step[0], (c - col) * step[1]
    plan = math.sqrt(south * south + east * east)
    steps = max(2, int(plan / (0.5 * (step[0] + step[1]))))
    flat = plan / steps
    across_row, across_col = east / plan, -south / plan
    sums[:] = 0.0
    length = 0.0
    here = between_cells(heights, row, col)
    extreme = here
    falling = True
    turns = 0.0
    held = _land(land, row, col)
    turns += _crossed(purse, 0, held)
    for k in range(1, steps + 1):
        y = row + (r - row) * k / steps
        x = col + (c - col) * k / steps
        there = between_cells(heights, y, x)
        if _shut(closed, y, x):
            return -1.0, 0.0
        if math.isnan(there) or there > intake_m - purse.margin_m - fall * flat * k + purse.depth_m:
            return -1.0, 0.0
        left = between_cells(heights, y - across_row, x - across_col)
        right = between_cells(heights, y + across_row, x + across_col)
        side = abs(right - left) / (step[0] + step[1])
        if math.isnan(side):
            side = 0.0
        rise = there - here
        head = intake_m - 0.5 * (here + there) + purse.depth_m
        if not _add(purse, sums, head, flat, rise, side, _dearer(dug, y, x)):
            return -1.0, 0.0
        length += math.sqrt(flat * flat + rise * rise)
        falling, extreme, price = turn(falling, extreme, there, purse)
        turns += price
        now = _land(land, y, x)
        turns += _crossed(purse, held, now)
        held = now
        here = there
    return length, turns


@kernel
def _best(purse: Any, sums: Any, extra: Any, length: Any, gross: Any, flow: Any) -> Any:
    """Return size, score, cost and power of the best pipe for a line; size -1 if none fits."""
    best = -1
    top = -np.inf
    best_cost = 0.0
    best_power = 0.0
    for size in range(sums.size):
        if gross + 2.0 > purse.most_head_m[size]:
            continue
        power = 0.0
        if flow > 0.0:
            if flow > purse.fastest * 0.25 * math.pi * purse.bore_m[size] ** 2:
                continue
            loss = _gradient(purse, size, flow) * length
            if loss > purse.most_loss * gross:
                continue
            power = purse.weight_kn * flow * (gross - loss) * purse.efficiency
        cost = sums[size] + extra
        if purse.rank == 0:
            score = power * purse.worth - cost * purse.recovery
        elif purse.rank == 1:
            score = power / cost
        else:
            score = gross / length - 1e-9 * cost
        if score > top:
            top = score
            best = size
            best_cost = cost
            best_power = power
    return best, top, best_cost, best_power


@kernel
def _rate(ground: Any, purse: Any, chains: Any, flow: Any, ids: Any, numbers: Any) -> Any:
    """Fill ``ids`` and ``numbers`` with the candidates that keep to the limits; return how many."""
    heights, closed, dug, land, _ = ground
    first, row, col, along, stop = chains
    sizes = purse.bore_m.size
    by_stream = np.zeros(sizes)
    straight = np.zeros(sizes)
    ends = np.zeros(4)
    count = 0
    for k in range(first.size - 1):
        a = first[k]
        intake_m = heights[row[a], col[a]] + purse.intake_above_m
        if math.isnan(intake_m) or _shut(closed, row[a], col[a]):
            continue
        by_stream[:] = 0.0
        length = 0.0
        extra = 2.0 * purse.vent + purse.drain
        by_way = extra
        held = _land(land, row[a], col[a]) & ~STREAM
        by_way += _crossed(purse, 0, held)
        lowest = heights[row[a], col[a]]
        for at in range(a + 1, first[k + 1]):
            flat = along[at] - along[at - 1]
            there = min(heights[row[at], col[at]], lowest)
            if math.isnan(there) or _shut(closed, row[at], col[at]):
                break
            rise = there - lowest
            head = intake_m - 0.5 * (lowest + there) + purse.depth_m
            _add(purse, by_stream, head, flat, rise, 0.0, _dearer(dug, row[at], col[at]))
            length += math.sqrt(flat * flat + rise * rise)
            lowest = there
            now = _land(land, row[at], col[at]) & ~STREAM
            by_way += _crossed(purse, held, now)
            held = now
            gross = intake_m - (there + purse.outlet_above_m)
            if stop[at] == 0 or gross < purse.least_head or gross > purse.most_head:
                continue
            best, score, cost, power = _best(purse, by_stream, by_way, length, gross, flow[k])
            way = 0
            long = length
            ends[0], ends[1] = row[a], col[a]
            ends[2], ends[3] = row[at], col[at]
            fall = 0.0 if best < 0 or flow[k] <= 0.0 else _gradient(purse, best, flow[k])
            over, turns = _straight(ground, purse, ends, intake_m, fall, straight)
            if over > 0.0:
                size, other, price, output = _best(
                    purse, straight, extra + turns, over, gross, flow[k]
                )
                if size >= 0 and other > score:
                    best, score, cost, power, way, long = size, other, price, output, 1, over
            if best < 0 or long > purse.most_length:
                continue
            ids[count, 0], ids[count, 1], ids[count, 2], ids[count, 3] = k, at, way, best
            numbers[count, 0], numbers[count, 1], numbers[count, 2] = score, cost, power
            numbers[count, 3], numbers[count, 4] = gross, long
            count += 1
    return count


def rate_chains(
    heights: FloatArray | NDArray[np.float32],
    closed: NDArray[np.uint8],
    steps_m: tuple[float, float],
    purse: Purse,
    chains: Chains,
    flow_m3_s: FloatArray,
    dug: NDArray[np.float32] | None = None,
    land: NDArray[np.uint8] | None = None,
) -> Rated:
    """Return all candidates of some chains that keep to the limits, each by its better line.

    Parameters
    ----------
    heights : NDArray
        Ground that the chains' rows and columns count in, (rows, cols) [m]
    closed : NDArray of uint8
        Not 0 where no line may go, of the same shape, or empty
    steps_m : tuple of float
        Distance of two rows and of two columns [m]
    purse : Purse
        Prices, worth and limits [money, m]
    chains : Chains
        Intakes and the streams below them
    flow_m3_s : FloatArray
        Design flow at each intake, 0 where not known, (chains,) [m3/s]
    dug : NDArray of float32, optional
        What a cubic metre of trench costs more by the class of the ground, (rows, cols) or empty
        [money/m3]
    land : NDArray of uint8, optional
        A bit for each kind of land to cross, as in ``purse.crossing``, (rows, cols) or empty

    Returns
    -------
    Rated
        In the order of the chains [money, kW, m]
    """
    most = chains.candidates
    ids = np.zeros((most, 4), dtype=np.int64)
    numbers = np.zeros((most, 5))
    columns = (chains.first, chains.row, chains.col, chains.along_m, chains.stop)
    dear, held = _NONE if dug is None else dug, _NO_LAND if land is None else land
    ground = heights, closed, dear, held, np.array(steps_m)
    count = _rate.sized(200 * most)(ground, purse, columns, flow_m3_s, ids, numbers)
    ids, numbers = ids[:count], numbers[:count]
    return Rated(
        intake=ids[:, 0],
        stop=ids[:, 1],
        straight=ids[:, 2],
        size=ids[:, 3],
        score=numbers[:, 0],
        cost=numbers[:, 1],
        power_kw=numbers[:, 2],
        head_m=numbers[:, 3],
        length_m=numbers[:, 4],
    )
