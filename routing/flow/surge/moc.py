"""The method of characteristics, step by step: the loops and the state they change.

A wave crosses one segment in one time step, so the nodes fall into two interlaced sets: a node of
one set depends on the other set alone, one step before. Only one of the two solutions that a full
grid would carry is computed, in place and in unbroken loops: even nodes at even steps, odd nodes
at odd ones. Arrays over nodes are therefore (2, m): row 0 has nodes 0, 2, 4..., row 1 has 1, 3,
5... and a last place that is not used. Arrays over segments are (2, m - 1) in the same way.

The interior follows the implicit friction term: with B = a/(g A) and R = f dx/(2 g D A^2),
Q = (CP - CM)/(BP + BM), H = CP - BP Q, where CP = H + B Q and BP = B + R|Q| come from the upper
neighbour and CM = H - B Q and BM = B + R|Q| from the lower one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from routing.arrays import FloatArray
from routing.compiled import kernel

__all__ = ["LEVEL", "WaveState", "advance"]

WORK_PER_NODE = 6
"""Interpreted steps that one node costs, of about a microsecond each."""

LEVEL, ENTRANCE, OUTLET, VALVE, STEP = range(5)
"""Places in ``constants``: level of the reservoir [m], loss of the entrance per flow squared
[s2/m5], level the valve discharges to [m], flow squared over twice the head of the valve at opening
1 [m5/s2], time step [s]."""


@dataclass(slots=True, kw_only=True)
class WaveState:
    """A line in mid-run, changed in place; arrays over nodes are (2, m), see the module.

    ``into_m3_s`` reaches a node from above and ``out_m3_s`` leaves it downhill; they differ only
    where the water has parted, and ``cavity_m3`` is the room between. ``pairs`` counts pairs of
    time steps, ``parted_pair`` is the pair in which the water first parted, or -1.
    """

    head_m: FloatArray
    into_m3_s: FloatArray
    out_m3_s: FloatArray
    cavity_m3: FloatArray
    highest_m: FloatArray
    lowest_m: FloatArray
    largest_cavity_m3: FloatArray
    highest_before_parting_m: FloatArray
    pairs: int = 0
    parted_pair: int = -1


class _Row(NamedTuple):
    """Every other node, as the loops change it: views of the arrays of :class:`WaveState`."""

    head: FloatArray
    into: FloatArray
    out: FloatArray
    cavity: FloatArray
    highest: FloatArray
    lowest: FloatArray
    largest: FloatArray
    boiling: FloatArray


class _Side(NamedTuple):
    """The neighbours on one side of every other node, and the segments between."""

    head: FloatArray
    flow: FloatArray
    impedance: FloatArray
    resistance: FloatArray


class _Nodes(NamedTuple):
    """The arrays of a :class:`WaveState`, (2, m)."""

    head: FloatArray
    into: FloatArray
    out: FloatArray
    cavity: FloatArray
    highest: FloatArray
    lowest: FloatArray
    largest: FloatArray
    kept: FloatArray


class _Line(NamedTuple):
    """What stays the same over a run: segments (2, m - 1), boiling (2, m), constants (5,)."""

    impedance: FloatArray
    resistance: FloatArray
    boiling: FloatArray
    constants: FloatArray


@kernel
def _whole_row(row: _Row, above: _Side, below: _Side) -> int:
    """Compute nodes whose neighbours carry whole water; return how many are lower than ever.

    Only those can have fallen below boiling, and they are few, so boiling is left to another loop.
    """
    head, flow, highest, lowest = row.head, row.out, row.highest, row.lowest
    head_up, flow_up, impedance_up, resistance_up = above
    head_down, flow_down, impedance_down, resistance_down = below
    lower = 0
    for i in range(head.size):
        arriving, leaving = flow_up[i], flow_down[i]
        up = head_up[i] + impedance_up[i] * arriving
        down = head_down[i] - impedance_down[i] * leaving
        up_b = impedance_up[i] + resistance_up[i] * abs(arriving)
        down_b = impedance_down[i] + resistance_down[i] * abs(leaving)
        # np.divide and not the operator: its check for zero would keep the loop from vectorising.
        through = np.divide(up - down, up_b + down_b)
        height = up - up_b * through
        flow[i] = through
        head[i] = height
        lower += height < lowest[i]
        highest[i] = max(highest[i], height)
        lowest[i] = min(lowest[i], height)
    return lower


@_whole_row.plainly
def _whole_row_at_once(row: _Row, above: _Side, below: _Side) -> int:
    up_b = above.impedance + above.resistance * np.abs(above.flow)
    down_b = below.impedance + below.resistance * np.abs(below.flow)
    up = above.head + above.impedance * above.flow
    down = below.head - below.impedance * below.flow
    np.divide(up - down, up_b + down_b, out=row.out)
    height = np.subtract(up, up_b * row.out, out=row.head)
    lower = int(np.count_nonzero(height < row.lowest))
    np.maximum(row.highest, height, out=row.highest)
    np.minimum(row.lowest, height, out=row.lowest)
    return lower


@kernel
def _parts(row: _Row, into: FloatArray, out: FloatArray) -> bool:
    """Return whether a node has fallen below boiling; if so make ready the neighbours' ``into``."""
    head, boiling = row.head, row.boiling
    count = 0
    for i in range(head.size):
        count += head[i] < boiling[i]
    if count > 0:
        into[:] = out
    return count > 0


@kernel
def _parted_row(row: _Row, above: _Side, below: _Side, time_s: float) -> int:
    """Compute nodes where water may be parted; return how many hold a cavity afterwards."""
    head, into, out, cavity, highest, lowest, largest, boiling = row
    head_up, flow_up, impedance_up, resistance_up = above
    head_down, flow_down, impedance_down, resistance_down = below
    opened = 0
    for i in range(head.size):
        arriving, leaving = flow_up[i], flow_down[i]
        up = head_up[i] + impedance_up[i] * arriving
        down = head_down[i] - impedance_down[i] * leaving
        up_b = impedance_up[i] + resistance_up[i] * abs(arriving)
        down_b = impedance_down[i] + resistance_down[i] * abs(leaving)
        arrives = (up - down) / (up_b + down_b)
        leaves = arrives
        height = up - up_b * arrives
        if height < boiling[i] or cavity[i] > 0.0:
            # Held at boiling, each side flows as it must and the room between is kept in account.
            arrives_held = (up - boiling[i]) / up_b
            leaves_held = (boiling[i] - down) / down_b
            room = cavity[i] + time_s * (leaves_held - arrives_held)
            cavity[i] = max(room, 0.0)
            if room > 0.0:
                arrives, leaves, height = arrives_held, leaves_held, boiling[i]
                opened += 1
                largest[i] = max(largest[i], room)
        into[i], out[i], head[i] = arrives, leaves, height
        highest[i] = max(highest[i], height)
        # The loop for whole water may have gone below boiling before this one was called.
        lowest[i] = max(min(lowest[i], height), boiling[i])
    return opened


@kernel
def _reservoir(
    constants: FloatArray, head_down: float, flow_down: float, impedance: float, resistance: float
) -> tuple[float, float]:
    """Return head and flow at the intake: what enters loses head, what is pushed back does not."""
    level, entrance = constants[0], constants[1]
    down_b = impedance + resistance * abs(flow_down)
    drop = level - head_down + impedance * flow_down
    if drop <= 0.0:
        return level, drop / down_b
    flow = 2.0 * drop / (down_b + np.sqrt(down_b * down_b + 4.0 * entrance * drop))
    return level - entrance * flow * flow, flow


@kernel
def _valve(
    constants: FloatArray,
    opening: float,
    head_up: float,
    flow_up: float,
    impedance: float,
    resistance: float,
    boiling: float,
    cavity: float,
) -> tuple[float, float, float, float]:
    """Return head, flow into and out of the valve, and cavity before it; it never sucks back."""
    outlet, share = constants[2], constants[3] * opening * opening
    up = head_up + impedance * flow_up
    up_b = impedance + resistance * abs(flow_up)
    flow = 0.0
    if up > outlet and share > 0.0:
        # The stable form of -b c + sqrt((b c)^2 + 2 c (CP - outlet)).
        half, free = up_b * share, 2.0 * share * (up - outlet)
        flow = free / (half + np.sqrt(half * half + free))
    height = up - up_b * flow
    if height >= boiling and cavity <= 0.0:
        return height, flow, flow, 0.0
    above = (up - boiling) / up_b
    beyond = np.sqrt(2.0 * share * max(boiling - outlet, 0.0))
    room = cavity + 2.0 * constants[4] * (beyond - above)
    if room > 0.0:
        return boiling, above, beyond, room
    return height, flow, flow, 0.0


@kernel
def _ends(nodes: _Nodes, line: _Line, opening: float, split: bool) -> int:
    """Compute the first and the last node; return 1 where a cavity stands before the valve."""
    head, into, out, cavity, highest, lowest, largest, _ = nodes
    impedance, resistance, boiling, constants = line
    last = head.shape[1] - 1
    if not split:
        into[1, 0] = out[1, 0]
    head[0, 0], out[0, 0] = _reservoir(
        constants, head[1, 0], into[1, 0], impedance[0, 0], resistance[0, 0]
    )
    into[0, 0] = out[0, 0]
    head[0, last], into[0, last], out[0, last], cavity[0, last] = _valve(
        constants, opening, head[1, last - 1], out[1, last - 1],
        impedance[1, last - 1], resistance[1, last - 1], boiling[0, last], cavity[0, last],
    )  # fmt: skip
    for end in (0, last):
        highest[0, end] = max(highest[0, end], head[0, end])
        lowest[0, end] = min(lowest[0, end], head[0, end])
    largest[0, last] = max(largest[0, last], cavity[0, last])
    if cavity[0, last] <= 0.0:
        return 0
    if not split:
        into[0, :last] = out[0, :last]
    return 1


@kernel
def _row(nodes: _Nodes, line: _Line, which: int, first: int, stop: int) -> _Row:
    """Return nodes ``first`` to ``stop`` of one of the two interlaced rows, as views."""
    return _Row(
        nodes.head[which, first:stop], nodes.into[which, first:stop], nodes.out[which, first:stop],
        nodes.cavity[which, first:stop], nodes.highest[which, first:stop],
        nodes.lowest[which, first:stop], nodes.largest[which, first:stop],
        line.boiling[which, first:stop],
    )  # fmt: skip


@kernel
def _advance(
    nodes: _Nodes,
    line: _Line,
    opening: FloatArray,
    history: FloatArray,
    first_pair: int,
    parted: int,
) -> int:
    """Run two time steps for each value of ``opening``; return the pair that first parted, or -1.

    ``history`` takes head and flow at the valve and flow from the reservoir, (pairs, 3).
    """
    head, into, out = nodes.head, nodes.into, nodes.out
    impedance, resistance = line.impedance, line.resistance
    last = head.shape[1] - 1
    # Odd nodes lie between two even ones, inner even nodes between two odd ones. A neighbour below
    # gives what enters it; while all water is whole that is what leaves it, and alone up to date.
    odd, even = _row(nodes, line, 1, 0, last), _row(nodes, line, 0, 1, last)
    odd_above = _Side(head[0, :last], out[0, :last], impedance[0], resistance[0])
    odd_below = _Side(head[0, 1:], out[0, 1:], impedance[1], resistance[1])
    odd_parted = _Side(head[0, 1:], into[0, 1:], impedance[1], resistance[1])
    up, down = slice(0, last - 1), slice(1, last)
    even_above = _Side(head[1, up], out[1, up], impedance[1, up], resistance[1, up])
    even_below = _Side(head[1, down], out[1, down], impedance[0, down], resistance[0, down])
    even_parted = _Side(head[1, down], into[1, down], impedance[0, down], resistance[0, down])
    opened_odd = opened_even = 1 if nodes.cavity.max() > 0.0 else 0
    time_s = 2.0 * line.constants[4]
    for pair in range(opening.size):
        split = opened_odd + opened_even > 0
        if not split:
            lower = _whole_row(odd, odd_above, odd_below)
            split = lower > 0 and _parts(odd, into[0], out[0])
        if split:
            opened_odd = _parted_row(odd, odd_above, odd_parted, time_s)
        split = opened_odd + opened_even > 0
        if not split:
            lower = _whole_row(even, even_above, even_below)
            split = lower > 0 and _parts(even, into[1], out[1])
        if split:
            opened_even = _parted_row(even, even_above, even_parted, time_s)
        opened_even += _ends(nodes, line, opening[pair], split)
        if parted < 0 and opened_odd + opened_even > 0:
            parted = first_pair + pair
            nodes.kept[:] = nodes.highest
        history[pair, 0], history[pair, 1] = head[0, last], out[0, last]
        history[pair, 2] = out[0, 0]
    return parted


def advance(
    state: WaveState,
    *,
    impedance: FloatArray,
    resistance: FloatArray,
    boiling_m: FloatArray,
    constants: FloatArray,
    opening: FloatArray,
) -> FloatArray:
    """Run the state two time steps on for each opening of the valve.

    Parameters
    ----------
    state : WaveState
        The line, changed in place [-]
    impedance : FloatArray
        a/(g A) of the segments, (2, m - 1) [s/m2]
    resistance : FloatArray
        Head lost in a segment per flow squared, (2, m - 1) [s2/m5]
    boiling_m : FloatArray
        Head (elevation) at which water boils at a node, (2, m) [m]
    constants : FloatArray
        See ``LEVEL`` and what follows it, (5,) [-]
    opening : FloatArray
        Relative opening of the valve after each pair of steps, (k,) [-]

    Returns
    -------
    history : FloatArray
        Head and flow at the valve and flow from the reservoir after each pair, (k, 3) [m, m3/s]

    Notes
    -----
    Valid for: velocities far below the wave speed. A cavity stays where it forms, filled by vapour;
    its collapse gives the right order of peak, not its exact height.
    Checked by ``tests/routing/flow/surge/test_moc.py``.
    """
    history = np.empty((opening.size, 3))
    work = opening.size * state.head_m.size * WORK_PER_NODE
    nodes = _Nodes(
        state.head_m,
        state.into_m3_s,
        state.out_m3_s,
        state.cavity_m3,
        state.highest_m,
        state.lowest_m,
        state.largest_cavity_m3,
        state.highest_before_parting_m,
    )
    line = _Line(impedance, resistance, boiling_m, constants)
    state.parted_pair = _advance.sized(work)(
        nodes, line, opening, history, state.pairs, state.parted_pair
    )
    state.pairs += opening.size
    return history
