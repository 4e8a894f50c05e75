"""A surge over 1 000 nodes and 60 s, against numpy and against a bare compiled loop.

Run: python tests/bench/bench_surge.py

All three run in one process, in turn, and the best of several runs counts. Ours carries envelopes,
three pipes with bends, the vapour limit, cavities and the record at the valve. ``numpy_steps`` does
the same over whole arrays, every node at every step; ``numpy_interlaced`` over every other node, as
ours does; ``bare_loop`` is the shortest compiled loop: one pipe, no envelopes, no cavities.
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

from surge_lines import at_levels, several_pipes
from timing import timed

from routing.compiled import prefer_compiled
from routing.flow.surge import slowest_safe_closing_time, uniform_closure
from routing.flow.surge.run import run_line, wave_line

SPEED = 350.0
SECONDS = 60.0


def line(summit: float = -200.0):
    """Return 2 km of three pipes with waves of 350 m/s, cut into 1 000 segments."""
    inputs = several_pipes(
        (800.0, 700.0, 500.0), (0.25, 0.22, 0.2), (SPEED, SPEED, SPEED), level_m=80.0,
        flow_m3_s=0.04, law=uniform_closure(8.0), duration_s=SECONDS, least_segments=1000,
    )  # fmt: skip
    pipe = 78.0 - 78.0 * inputs.line.station_m / 2000.0 - 10.0
    near = np.exp(-(((inputs.line.station_m - 900.0) / 150.0) ** 2))
    pipe = pipe + near * (summit - pipe) if summit > -100.0 else pipe - 100.0
    return at_levels(inputs, pipe)


def setting(inputs):
    """Return everything the plain versions need."""
    made = wave_line(inputs)
    grid = made.grid
    pairs = math.ceil(inputs.duration_s / (2.0 * grid.step_s))
    times = grid.step_s * np.arange(1, 2 * pairs + 1)
    flow = np.full(grid.slope_m.size, made.steady_flow_m3_s(1.0))
    lost = grid.entrance + np.concatenate(([0.0], np.cumsum(grid.resistance)))
    return {
        "head": inputs.line.levels.intake_m - lost * flow**2,
        "flow": flow,
        "b": np.array(grid.impedance),
        "r": np.array(grid.resistance),
        "boiling": np.array(grid.boiling_m),
        "level": inputs.line.levels.intake_m,
        "entrance": grid.entrance,
        "outlet": inputs.line.levels.outlet_m,
        "valve": made.valve,
        "step_s": grid.step_s,
        "opening": np.array(inputs.law.opening(times, made.velocity_share)),
    }


def _ends(head, into, out, first, last, level, entrance, outlet, cv, b, r):
    """Return head and flow at the reservoir and at the valve."""
    bm = b[0] + r[0] * abs(into[first])
    drop = level - head[first] + b[0] * into[first]
    flow = 2 * drop / (bm + math.sqrt(bm * bm + 4 * entrance * drop)) if drop > 0 else drop / bm
    cp, bp = head[last] + b[-1] * out[last], b[-1] + r[-1] * abs(out[last])
    top = level - entrance * flow * max(flow, 0.0)
    through = -bp * cv + math.sqrt((bp * cv) ** 2 + 2 * cv * max(cp - outlet, 0.0))
    return top, flow, cp - bp * through, through


def numpy_steps(head, flow, b, r, boiling, level, entrance, outlet, valve, step_s, opening):
    """Step every node at every step with array expressions."""
    head, into, out = head.copy(), flow.copy(), flow.copy()
    high, low, cavity = head.copy(), head.copy(), np.zeros_like(head)
    record = np.empty((opening.size, 3))
    for k, tau in enumerate(opening.tolist()):
        cp, bp = head[:-1] + b * out[:-1], b + r * np.abs(out[:-1])
        cm, bm = head[1:] - b * into[1:], b + r * np.abs(into[1:])
        new, q = np.empty_like(head), np.empty_like(head)
        q[1:-1] = (cp[:-1] - cm[1:]) / (bp[:-1] + bm[1:])
        new[1:-1] = cp[:-1] - bp[:-1] * q[1:-1]
        new[0], q[0], new[-1], q[-1] = _ends(
            head, into, out, 1, -2, level, entrance, outlet, valve * tau * tau, b, r
        )
        parted = (new < boiling) | (cavity > 0.0)
        into, out = q, q
        if parted[1:-1].any():
            above = np.where(parted[1:-1], (cp[:-1] - boiling[1:-1]) / bp[:-1], q[1:-1])
            beyond = np.where(parted[1:-1], (boiling[1:-1] - cm[1:]) / bm[1:], q[1:-1])
            room = np.maximum(cavity[1:-1] + step_s * (beyond - above), 0.0) * parted[1:-1]
            open_ = room > 0.0
            cavity[1:-1] = room
            into, out = q.copy(), q.copy()
            into[1:-1] = np.where(open_, above, q[1:-1])
            out[1:-1] = np.where(open_, beyond, q[1:-1])
            new[1:-1] = np.where(open_, boiling[1:-1], new[1:-1])
        head = new
        np.maximum(high, head, out=high)
        np.minimum(low, head, out=low)
        record[k] = head[-1], out[-1], into[0]
    return high, record


def numpy_interlaced(head, flow, b, r, boiling, level, entrance, outlet, valve, step_s, opening):
    """Step every other node, whole water only, with array expressions."""
    rows = [[head[::2].copy(), flow[::2].copy()], [head[1::2].copy(), flow[1::2].copy()]]
    high = [rows[0][0].copy(), rows[1][0].copy()]
    low = [rows[0][0].copy(), rows[1][0].copy()]
    record = np.empty((opening.size // 2, 3))
    b_up, b_down = (b[::2], b[1:-1:2]), (b[1::2], b[2::2])
    r_up, r_down = (r[::2], r[1:-1:2]), (r[1::2], r[2::2])
    for k, tau in enumerate(opening[1::2].tolist()):
        for odd in (0, 1):
            h, q = rows[odd]
            up, down = b_up[odd], b_down[odd]
            cp, bp = h[:-1] + up * q[:-1], up + r_up[odd] * np.abs(q[:-1])
            cm, bm = h[1:] - down * q[1:], down + r_down[odd] * np.abs(q[1:])
            through = (cp - cm) / (bp + bm)
            height = cp - bp * through
            if odd:
                ends = _ends(h, q, q, 0, -1, level, entrance, outlet, valve * tau * tau, b, r)
                height = np.concatenate(([ends[0]], height, [ends[2]]))
                through = np.concatenate(([ends[1]], through, [ends[3]]))
                record[k] = ends[2], ends[3], ends[1]
            own = 1 - odd
            rows[own] = [height, through]
            np.maximum(high[own], height, out=high[own])
            np.minimum(low[own], height, out=low[own])
            (height < boiling[own::2]).any()
    return high, record


def make_bare_loop():
    """Return the shortest compiled loop: one pipe, no envelopes, no cavities, no record."""
    import numba

    @numba.njit
    def bare_loop(head, flow, b, r, level, outlet, valve, opening):
        h, q = head.copy(), flow.copy()
        hn, qn = np.empty_like(h), np.empty_like(q)
        last = h.size - 1
        for k in range(opening.size):
            for i in range(1, last):
                cp, bp = h[i - 1] + b * q[i - 1], b + r * abs(q[i - 1])
                cm, bm = h[i + 1] - b * q[i + 1], b + r * abs(q[i + 1])
                qn[i] = (cp - cm) / (bp + bm)
                hn[i] = cp - bp * qn[i]
            hn[0] = level
            qn[0] = (level - h[1] + b * q[1]) / (b + r * abs(q[1]))
            cp, bp = h[last - 1] + b * q[last - 1], b + r * abs(q[last - 1])
            cv = valve * opening[k] * opening[k]
            qn[last] = -bp * cv + math.sqrt((bp * cv) ** 2 + 2 * cv * max(cp - outlet, 0.0))
            hn[last] = cp - bp * qn[last]
            h, hn = hn, h
            q, qn = qn, q
        return h

    return bare_loop


def one_run(inputs):
    """Follow the waves once; a line that parts is followed again with the water held together."""
    return run_line(wave_line(inputs), inputs.law, inputs.duration_s)


def main() -> None:
    prefer_compiled()
    bare_loop = make_bare_loop()
    for name, summit in (("whole water", -200.0), ("parting at a summit", 75.0)):
        inputs = line(summit)
        given = setting(inputs)
        bare = (given["head"], given["flow"], given["b"][0], given["r"][0], given["level"],
                given["outlet"], given["valve"], given["opening"])  # fmt: skip
        one_run(inputs)
        bare_loop(*bare)
        best = {"ours": math.inf, "bare": math.inf, "numpy": math.inf, "interlaced": math.inf}
        for _ in range(5):
            fast, result = timed(lambda inputs=inputs: one_run(inputs), repeat=4)
            best["ours"] = min(best["ours"], fast)
            best["bare"] = min(best["bare"], timed(lambda bare=bare: bare_loop(*bare), repeat=4)[0])
            slow, (high, record) = timed(lambda given=given: numpy_steps(**given), repeat=1)
            best["numpy"] = min(best["numpy"], slow)
            half, (_, thin) = timed(lambda given=given: numpy_interlaced(**given), repeat=1)
            best["interlaced"] = min(best["interlaced"], half)
        print(
            f"{name}: {given['head'].size} nodes, {given['opening'].size} steps, "
            f"{SECONDS:g} s at {SPEED:g} m/s; parted: {result.parted_s}"
        )
        print("  " + ", ".join(f"{key} {value * 1e3:.1f} ms" for key, value in best.items()))
        print(
            f"  {best['numpy'] / best['ours']:.0f} x numpy, "
            f"{best['interlaced'] / best['ours']:.0f} x interlaced numpy (whole water only), "
            f"{best['bare'] / best['ours']:.2f} x the bare loop"
        )
        if result.parted_s is None:
            apart = np.abs(result.record.level_m[1:] - record[1::2, 0]).max()
            same = np.abs(result.record.level_m[1:] - thin[:, 0]).max()
            print(
                f"  heads at the valve differ by {apart:.1e} m and {same:.1e} m; "
                f"highest {result.peak_level_m:.3f} and {high[-1]:.3f} m"
            )
    inputs = replace(line(), duration_s=None, least_segments=200)
    limit = inputs.line.water.weight_n_m3 * (inputs.line.static_head_m + 15.0)
    spent, found = timed(lambda: slowest_safe_closing_time(inputs, limit), repeat=3)
    print(
        f"safe closing time {found.time_s:.1f} s found in {spent * 1e3:.0f} ms, "
        f"{found.runs} runs over 200 segments"
    )


if __name__ == "__main__":
    main()
