"""Draining the line for the winter: in what order, how far each drain is opened, what stays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from routing.arrays import FloatArray, IntArray, stretches
from routing.fittings import Drain, DrainSize, VentSize, drain_constant, vent_air_m3_s
from routing.flow import friction_factor
from routing.laid_line import LaidLine
from routing.value import dataclass
from routing.works.trade_data import number
from routing.works.turning import Turning, turning_of

__all__ = ["DrainStep", "Frost", "WaterLeft", "drain_down", "water_left", "water_left_m3"]

Frost = Literal["dry", "below frost", "may freeze", "not known"]

LEVELS = 120
"""Levels in which the fall of the water is followed, even in the root of the head [-]."""
DRY_M3 = 1e-3
"""Water that counts as none [m3]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainStep:
    """One drain opened and left open; water of the whole line, time of the step.

    ``opening`` is the share of its area; ``lowest_pa`` the lowest pressure, gauge, that it draws
    at a vent; ``frost`` is said of the water that is still in the line after it.
    """

    step: int
    drain_id: str
    station_m: float
    opening: float
    drained_m3: float
    left_m3: float
    time_s: float
    lowest_pa: float
    frost: Frost
    turning: Turning


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterLeft:
    """Water that no drain lets out: from where to where it stands, how much, and its frost."""

    from_m: float
    to_m: float
    volume_m3: float
    frost: Frost


def water_left(
    line: LaidLine, drains_m: Sequence[float], frost_m: float | None = None
) -> tuple[WaterLeft, ...]:
    """Return the water that stays in each sag once drains have run, by station.

    Parameters
    ----------
    line : LaidLine
        The line
    drains_m : sequence of float
        Stations of the low points whose drains are open [m]
    frost_m : float, optional
        Depth of frost; None where it is not known [m]

    Returns
    -------
    left : tuple of WaterLeft
        None below a litre

    Notes
    -----
    From the last station before the water to the first after it. As :func:`water_left_m3`.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 100.0, 150.0, 300.0], [50.0, 30.0, 35.0, 10.0], "PE100-SDR17-200",
    ...                    intake_m=51.0)
    >>> [(each.from_m, each.to_m, each.frost) for each in water_left(line, [300.0])]
    [(0.0, 150.0, 'not known')]
    """
    left = water_left_m3(line, drains_m)
    found = []
    for first, last in stretches(left > 1e-6):
        for wet in np.split(np.arange(first, last + 1), _tops_within(line, first, last) - first):
            volume = float(left[wet].sum())
            if volume >= DRY_M3:
                found.append(
                    WaterLeft(
                        from_m=float(line.station_m[wet[0]]),
                        to_m=float(line.station_m[wet[-1] + 1]),
                        volume_m3=volume,
                        frost=_frost_of(line, wet, frost_m),
                    )
                )
    return tuple(found)


def _tops_within(line: LaidLine, first: int, last: int) -> IntArray:
    """Return the summits between a first and a last piece of pipe, as stations' numbers."""
    tops = np.asarray(line.pipe.summits, dtype=np.int64)
    return tops[(tops > first) & (tops <= last)]


def water_left_m3(
    line: LaidLine, drains_m: Sequence[float], level_m: float = -math.inf
) -> FloatArray:
    r"""Return the water that stays in each piece of pipe once drains have run, (n - 1,) [m3].

    .. math::
        z_w(s) = \min_k \max_{t \in [s, s_k]} z(t)

    Parameters
    ----------
    line : LaidLine
        The line
    drains_m : sequence of float
        Stations of the low points whose drains are open [m]
    level_m : float
        Level to which the water has fallen where it is joined to the drains [m]

    Returns
    -------
    water_m3 : array, shape (n - 1,)
        Between each station and the next; all that lies below the intake's water without drains

    Notes
    -----
    Water stays where something higher lies on every way to an open drain. Valid for: vents that
    let air in at every summit, so that nothing is drawn over one.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 100.0, 150.0, 300.0], [50.0, 30.0, 35.0, 10.0], "PE100-SDR17-200",
    ...                    intake_m=51.0)
    >>> held = float(water_left_m3(line, [300.0]).sum())
    >>> area = np.pi / 4 * line.inside_diameter_m[0] ** 2
    >>> float(round(held / area, 1))  # 5 m high in both limbs of the sag
    75.7
    """
    return _water_m3(line, np.maximum(_stands_m(line, drains_m), level_m))


def _stands_m(line: LaidLine, drains_m: Sequence[float]) -> FloatArray:
    """Return how high water stays in each piece of pipe with drains open, (n - 1,) [m]."""
    z = line.pipe_m
    stands = np.full(z.size - 1, line.levels.intake_m)
    for at in drains_m:
        k = int(np.argmin(np.abs(line.station_m - at)))
        after = np.maximum.accumulate(z[k:])[:-1]
        before = np.maximum.accumulate(z[: k + 1][::-1])[::-1][1:]
        stands = np.minimum(stands, np.concatenate([before, after]))
    return stands


def _water_m3(line: LaidLine, stands_m: FloatArray) -> FloatArray:
    """Return the water of each piece of pipe up to a level, of the shape of the levels [m3]."""
    z = line.pipe_m
    low, high = np.minimum(z[:-1], z[1:]), np.maximum(z[:-1], z[1:])
    volume = 0.25 * np.pi * line.inside_diameter_m[:-1] ** 2 * np.diff(line.slope_station_m)
    part = (np.minimum(stands_m, line.levels.intake_m) - low) / np.maximum(high - low, 1e-12)
    return np.asarray(volume * np.clip(part, 0.0, 1.0))


def drain_down(
    line: LaidLine,
    drains: Sequence[Drain],
    sizes: Sequence[DrainSize],
    vents: Sequence[VentSize],
    frost_m: float | None = None,
) -> tuple[DrainStep, ...]:
    r"""Return the steps of draining a full line: intake shut, all vents open, lowest drain first.

    .. math::
        T = \int \frac{-dV}{Q}, \qquad
        Q = \sqrt{\frac{h}{K / x^2 + f l / (2 g D A^2)}}

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    drains : sequence of Drain
        Its drains as placed
    sizes : sequence of DrainSize
        Their sizes, in the same order
    vents : sequence of VentSize
        Its vents as sized
    frost_m : float, optional
        Depth of frost; None where it is not known [m]

    Returns
    -------
    steps : tuple of DrainStep
        Lowest drain first; drains that find nothing left to drain are left out

    Notes
    -----
    A drain is opened so far that it draws half of what the smallest vent lets in at the vacuum
    that the pipe stands. Times hold within 20 %. Checked by
    ``tests/reference/test_commissioning.py`` against the closed form of one limb, and by
    ``tests/routing/works/test_draining.py`` against cells emptied one by one.

    References
    ----------
    .. [1] Torricelli's law with Darcy's friction.
    """
    steps: list[DrainStep] = []
    opened: list[float] = []
    left = float(water_left_m3(line, ()).sum())
    pairs = zip(drains, sizes, strict=True)
    for drain, size in sorted(pairs, key=lambda pair: (_level(line, pair[0]), pair[0].serves_m)):
        after = float(water_left_m3(line, [*opened, drain.serves_m]).sum())
        if left - after < DRY_M3:
            continue
        opening = _opening(line, drain, size, vents)
        time, most = _emptying(line, opened, drain, size, opening)
        opened.append(drain.serves_m)
        steps.append(
            DrainStep(
                step=len(steps) + 1,
                drain_id=drain.id,
                station_m=drain.station_m,
                opening=opening,
                drained_m3=left - after,
                left_m3=after,
                time_s=time,
                lowest_pa=-_deepest_pa(line, vents, most),
                frost=_frost(line, opened, frost_m),
                turning=turning_of(size.bore_m, opening),
            )
        )
        left = after
    return tuple(steps)


def _level(line: LaidLine, drain: Drain) -> float:
    return float(np.interp(drain.serves_m, line.station_m, line.pipe_m))


def _opening(line: LaidLine, drain: Drain, size: DrainSize, vents: Sequence[VentSize]) -> float:
    """Return how far a drain may be opened under the whole head, friction left aside."""
    head = line.levels.intake_m - _level(line, drain)
    least = min((vent.capacity_m3_s for vent in vents), default=0.0)
    wide = math.sqrt(
        max(head, 1e-9) / drain_constant(size.bore_m, size.cd, line.water.gravity_m_s2)
    )
    return min(1.0, number("vent_share") * least / wide) if least > 0.0 else 1.0


def _emptying(
    line: LaidLine, opened: Sequence[float], drain: Drain, size: DrainSize, opening: float
) -> tuple[float, float]:
    """Return the time of one drain [s] and its greatest flow [m3/s]."""
    bottom, gravity = _level(line, drain), line.water.gravity_m_s2
    k = int(np.argmin(np.abs(line.station_m - drain.serves_m)))
    constant = drain_constant(size.bore_m, size.cd, gravity) / max(opening, 1e-6) ** 2
    # The drain leaves the bottom of the pipe, so that a level stretch empties too.
    lift = 0.5 * float(line.inside_diameter_m[max(k - 1, 0)])
    top = line.levels.intake_m - bottom
    head = top * np.linspace(1.0, 0.0, LEVELS + 1) ** 2
    stands = _stands_m(line, [*opened, drain.serves_m])
    # What an earlier drain has left above is no more joined to this one than to that.
    before = water_left_m3(line, opened)
    levels = np.maximum(stands, (bottom + head)[:, np.newaxis])
    gone = np.minimum(before, _water_m3(line, levels)).sum(axis=1)
    bore = float(line.inside_diameter_m[: k + 1].min())
    pipe = 2.0 * gravity * bore * (0.25 * math.pi * bore * bore) ** 2
    rough = line.pipes.runs[int(line.run_index[max(k - 1, 0)])].pipe.roughness_m
    water = -np.diff(gone)
    falls = water > 0.0
    water, middle = water[falls], 0.5 * (head[:-1] + head[1:])[falls]
    length = _wetted_m(line, k, bottom + middle)
    flow = np.sqrt((middle + lift) / constant)
    for _ in range(3):
        speed = flow / (0.25 * math.pi * bore * bore)
        reynolds = np.maximum(speed * bore / line.water.kinematic_viscosity_m2_s, 10.0)
        lost = friction_factor(reynolds, rough / bore) * length / pipe
        flow = np.sqrt((middle + lift) / (constant + lost))
    return float(np.sum(water / flow)), float(np.max(flow, initial=0.0))


def _wetted_m(line: LaidLine, k: int, level_m: FloatArray) -> FloatArray:
    """Return the length of pipe above a drain that is under water at each level, (n,) [m]."""
    slope = line.slope_station_m
    if not k:
        return np.zeros_like(level_m)
    # The last place above a level is the last where all that follows has its highest above it.
    highest = np.maximum.accumulate(line.pipe_m[:k][::-1])[::-1]
    last = np.searchsorted(-highest, -level_m, side="left") - 1
    top, fall = line.pipe_m[last], line.pipe_m[last] - line.pipe_m[last + 1]
    share = np.minimum((top - level_m) / np.maximum(fall, 1e-12), 1.0)
    front = slope[last] + share * (slope[last + 1] - slope[last])
    return np.asarray(np.where(last < 0, slope[k], slope[k] - front))


def _deepest_pa(line: LaidLine, vents: Sequence[VentSize], flow_m3_s: float) -> float:
    """Return the deepest vacuum at which any vent lets in a flow of air; 0 without a vent [Pa]."""
    deepest = 0.0
    for vent in vents:
        # A vent that lets in the flow at a vacuum found before draws no deeper one.
        if vent.allowed_vacuum_pa > deepest and _taken(line, vent, deepest) < flow_m3_s:
            deepest = max(deepest, _vacuum_pa(line, vent, flow_m3_s))
    return deepest


def _vacuum_pa(line: LaidLine, vent: VentSize, flow_m3_s: float) -> float:
    """Return the vacuum at which a vent lets in a flow of air, at most what the pipe stands."""
    low, high = 0.0, vent.allowed_vacuum_pa
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _taken(line, vent, middle) < flow_m3_s else (low, middle)
    return high


def _taken(line: LaidLine, vent: VentSize, vacuum_pa: float) -> float:
    """Return the air that a vent lets in at a vacuum [m3/s]."""
    at = float(np.interp(vent.serves_m, line.station_m, line.pipe_m))
    return vent_air_m3_s(
        bore_m=vent.bore_m,
        difference_pa=vacuum_pa,
        altitude_m=at,
        open_length_m=None if vent.open_top_m is None else max(vent.open_top_m - at, 0.0),
        inward=True,
    )


def _frost(line: LaidLine, opened: Sequence[float], frost_m: float | None) -> Frost:
    """Return whether the water that stays can freeze where it lies."""
    left = water_left_m3(line, opened)
    if float(left.sum()) < DRY_M3:
        return "dry"
    return _frost_of(line, np.flatnonzero(left > 1e-6), frost_m)


def _frost_of(line: LaidLine, wet: IntArray, frost_m: float | None) -> Frost:
    """Return whether water in these pieces of pipe can freeze."""
    if frost_m is None:
        return "not known"
    cover = np.minimum(line.cover_m[wet], line.cover_m[wet + 1])
    return "below frost" if float(cover.min()) >= frost_m else "may freeze"
