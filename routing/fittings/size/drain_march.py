"""Two limbs that share one drain, marched through time until both are empty.

Implicit steps of second order; each limb is a table over the root of its volume, because the flow
falls with it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from routing.arrays import FloatArray
from routing.compiled import kernel
from routing.fittings.size.limb import Limb

__all__ = ["Pair", "Table", "march", "table"]

NODES = 256
"""Steps, even in the root of the volume, in which the marching scheme holds a limb [-]."""


class Table(NamedTuple):
    """A full limb's volume [m3], and its head [m] and resistance [s2/m5] by the volume's root."""

    full: float
    head: FloatArray
    lost: FloatArray


class Pair(NamedTuple):
    """One value for each of the two limbs."""

    one: float
    two: float


def table(limb: Limb) -> Table:
    """Return a limb's head and resistance at even steps of the root of its volume."""
    full = float(limb.volume_m3[-1])
    volume = full * np.linspace(0.0, 1.0, NODES + 1) ** 2
    return Table(
        full,
        np.interp(volume, limb.volume_m3, limb.head_m),
        np.interp(volume, limb.volume_m3, limb.resistance),
    )


@kernel
def _at(volume: float, full: float, values: FloatArray) -> tuple[float, float]:
    """Return a tabled value at a volume, with its slope; below nothing its first slope goes on."""
    last = values.size - 1
    k = min(int(math.sqrt(max(volume, 0.0) / full) * last), last - 1)
    start = full * (k / last) ** 2
    # Plain floats: interpreted, they are several times as quick as numpy's own.
    first = float(values[k])
    slope = (float(values[k + 1]) - first) * last * last / (full * (2 * k + 1))
    return first + slope * (volume - start), slope


@kernel
def _together(
    first: Table,
    second: Table,
    drain: float,
    base: Pair,
    time: float,
    flow: Pair,
    open_1: bool,
    open_2: bool,
) -> Pair:
    """Return the flows of both limbs after an implicit step: volumes are base - time x flow.

    Newton's method; the problem is the least of a convex function, a shut limb left out.
    """
    base_1, base_2 = base.one, base.two
    q_1, q_2 = flow.one, flow.two
    # The resistance follows a limb's volume slowly enough to be taken from before the step.
    r_1 = _at(base_1 - time * q_1, first.full, first.lost)[0]
    r_2 = _at(base_2 - time * q_2, second.full, second.lost)[0]
    for _ in range(40):
        total = q_1 + q_2
        shared = 2.0 * drain * abs(total)
        at_tee = drain * total * abs(total)
        z_1, s_1 = _at(base_1 - time * q_1, first.full, first.head)
        z_2, s_2 = _at(base_2 - time * q_2, second.full, second.head)
        g_1 = z_1 - r_1 * q_1 * abs(q_1) - at_tee
        g_2 = z_2 - r_2 * q_2 * abs(q_2) - at_tee
        a_1 = s_1 * time + 2.0 * r_1 * abs(q_1) + 1e-12 * drain
        a_2 = s_2 * time + 2.0 * r_2 * abs(q_2) + 1e-12 * drain
        if not open_2:
            d_1, d_2 = g_1 / (a_1 + shared), -q_2
        elif not open_1:
            d_1, d_2 = -q_1, g_2 / (a_2 + shared)
        else:
            det = a_1 * a_2 + shared * (a_1 + a_2)
            d_1 = (g_1 * (a_2 + shared) - g_2 * shared) / det
            d_2 = (g_2 * (a_1 + shared) - g_1 * shared) / det
        q_1 += d_1
        q_2 += d_2
        if abs(d_1) + abs(d_2) < 1e-6 * (abs(q_1) + abs(q_2)):
            break
    return Pair(q_1, q_2)


@kernel
def _stage(
    first: Table, second: Table, drain: float, base: Pair, time: float, flow: Pair, left: Pair
) -> Pair:
    """Return the flows of one stage; a full limb takes no more, an empty one gives none.

    ``left`` is what each limb holds: a limb without water stays shut.
    """
    left_1, left_2 = left.one > 0.0, left.two > 0.0
    found = _together(first, second, drain, base, time, flow, left_1, left_2)
    over_1 = left_1 and base.one - time * found.one > first.full * (1.0 + 1e-12)
    over_2 = left_2 and base.two - time * found.two > second.full * (1.0 + 1e-12)
    if over_1 or over_2:
        open_1, open_2 = left_1 and not over_1, left_2 and not over_2
        found = _together(first, second, drain, base, time, found, open_1, open_2)
    return found


@kernel
def march(
    first: Table, second: Table, drain: float, share: float, tail: float, out: FloatArray
) -> None:
    """Empty both limbs.

    ``share`` is that of the water left which runs out in one step, ``tail`` that of all water
    below which the rest counts as one stretch of even slope. ``out`` gets the time, both first
    flows, the water fed across and the water let out.
    """
    gamma = 1.0 - math.sqrt(0.5)
    v = Pair(first.full, second.full)
    whole = v.one + v.two
    q = Pair(
        math.sqrt(float(first.head[-1]) / (drain + float(first.lost[-1]))) * 0.5,
        math.sqrt(float(second.head[-1]) / (drain + float(second.lost[-1]))) * 0.5,
    )
    # A step of almost no time gives the flows at the start.
    q = _stage(first, second, drain, v, 1e-6 * whole / (q.one + q.two), q, v)
    out[1], out[2] = q.one, q.two
    passed = 0.0
    for _ in range(100_000):
        # While one limb feeds the other little may leave: both flows count, not their sum.
        total = abs(q.one) + abs(q.two)
        if v.one + v.two <= tail * whole or total <= 0.0:
            break
        step = share * (v.one + v.two) / total
        # A small limb would run dry within such a step; it gets shorter ones.
        least = 0.1 * step
        if q.one > 0.0:
            step = min(step, max(0.3 * v.one / q.one, least))
        if q.two > 0.0:
            step = min(step, max(0.3 * v.two / q.two, least))
        a = _stage(first, second, drain, v, gamma * step, q, v)
        back = (1.0 - gamma) * step
        base = Pair(v.one - back * a.one, v.two - back * a.two)
        q = _stage(first, second, drain, base, gamma * step, a, v)
        gone_1 = back * a.one + gamma * step * q.one
        gone_2 = back * a.two + gamma * step * q.two
        out[3] += max(-gone_1, 0.0) + max(-gone_2, 0.0)
        out[4] += gone_1 + gone_2
        v = Pair(
            min(max(v.one - gone_1, 0.0), first.full), min(max(v.two - gone_2, 0.0), second.full)
        )
        passed += step
    # The rest as water under one even slope: the flow falls with the root of the head.
    level = max(_at(v.one, first.full, first.head)[0], _at(v.two, second.full, second.head)[0])
    base_head = max(float(first.head[0]), float(second.head[0]))
    flow = max(q.one + q.two, math.sqrt(level / drain) * 1e-3)
    out[4] += v.one + v.two
    passed += 2.0 * (v.one + v.two) / (flow * (1.0 + math.sqrt(base_head / level)))
    out[0] = passed
