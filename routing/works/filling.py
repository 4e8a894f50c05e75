"""Filling the line: how fast, what the gauges read as the water rises, which vents work."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routing.errors import InputError
from routing.fittings import VentSize, sizing, vent_air_m3_s
from routing.laid_line import LaidLine
from routing.value import dataclass
from routing.works.basins import Stage, fill_stages, pool_volume_m3
from routing.works.gauge import Tap
from routing.works.trade_data import number

__all__ = ["FillRate", "FillStep", "Filling", "Reading", "fill_line", "fill_rate"]


class FillRate(NamedTuple):
    """How fast a line may be filled [m3/s], and what sets that."""

    rate_m3_s: float
    limited_by: str


class Reading(NamedTuple):
    """What a gauge should show, and within what it agrees [Pa]."""

    tap: Tap
    gauge_pa: float
    tolerance_pa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FillStep:
    """One line of the filling table; all values at its end, time from the start.

    ``from_m`` and ``to_m`` are the stations between which the water rises, ``gauge_pa`` is the
    pressure at the outlet. ``vents_hissing`` let air out while it rises, ``vents_shut`` are those
    that it covers.
    """

    from_m: float
    to_m: float
    level_m: float
    cumulative_m3: float
    time_s: float
    gauge_pa: float
    readings: tuple[Reading, ...]
    vents_hissing: tuple[str, ...]
    vents_shut: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """How a line is filled; ``full`` is False where a summit above the intake keeps water out."""

    rate_m3_s: float
    limited_by: str
    volume_m3: float
    time_s: float
    full: bool
    steps: tuple[FillStep, ...]


def fill_rate(
    line: LaidLine, vents: Sequence[VentSize], stream_m3_s: float | None = None
) -> FillRate:
    r"""Return how fast a line may be filled: slow water, every vent's air, what the stream gives.

    .. math::
        Q = \min\left(0.3\,A_\mathrm{least},\; \min_i Q_{\mathrm{air},i},\;
            Q_\mathrm{stream} - Q_\mathrm{residual}\right)

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    vents : sequence of VentSize
        Its vents as sized
    stream_m3_s : float, optional
        What the stream gives beyond its residual flow, > 0; None where it is not known [m3/s]

    Returns
    -------
    rate : FillRate
        Rate [m3/s] and "velocity", "vent" with its id, or "stream"

    Raises
    ------
    InputError
        If the stream gives nothing.

    Notes
    -----
    Valid for: a vent that lets its air out at no more than 13.8 kPa, so that it does not slam.
    Checked by ``tests/reference/test_commissioning.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 800.0], [410.0, 350.0], "PE100-SDR17-200", intake_m=411.0)
    >>> fill_rate(line, ()), fill_rate(line, (), 0.004).limited_by
    (FillRate(rate_m3_s=0.0073..., limited_by='velocity'), 'stream')

    References
    ----------
    .. [1] ANSI/AWWA C605 and C600; Manual M51, from memory of them.
    """
    numbers = sizing()
    bore = float(line.inside_diameter_m.min())
    limits = [FillRate(numbers.fill_velocity_m_s * 0.25 * math.pi * bore * bore, "velocity")]
    for vent in vents:
        if vent.kind == "vacuum valve":
            continue
        at = float(np.interp(vent.serves_m, line.station_m, line.pipe_m))
        out = vent_air_m3_s(
            bore_m=vent.bore_m,
            difference_pa=numbers.fill_pressure_pa,
            altitude_m=at,
            open_length_m=None if vent.open_top_m is None else max(vent.open_top_m - at, 0.0),
            inward=False,
        )
        limits.append(FillRate(out, f"vent {vent.vent_id}"))
    if stream_m3_s is not None:
        if not stream_m3_s > 0.0:
            raise InputError(
                "The stream gives nothing beyond its residual flow to fill the line with.",
                "Fill in a season with more water, or check intake.residual.",
            )
        limits.append(FillRate(stream_m3_s, "stream"))
    return min(limits, key=lambda each: each.rate_m3_s)


def fill_line(
    line: LaidLine, rate: FillRate, vents: Sequence[VentSize], taps: Sequence[Tap]
) -> Filling:
    """Return the filling of a line from its top, pool after pool, with every vent open.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes, below its intake's water
    rate : FillRate
        How fast water is let in
    vents : sequence of VentSize
        Its vents as sized
    taps : sequence of Tap
        Its gauge taps

    Returns
    -------
    filling : Filling
        The steps in order of time; a rise of more than 10 m is told in several

    Notes
    -----
    The gauge at the outlet stays at zero until all pools above have run over. Checked by
    ``tests/routing/works/test_filling.py`` against parcels of water walked cell by cell.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 100.0, 150.0, 300.0], [50.0, 30.0, 35.0, 10.0], "PE100-SDR17-200",
    ...                    intake_m=51.0)
    >>> filling = fill_line(line, FillRate(0.005, "stream"), (), ())
    >>> [(step.level_m, round(step.gauge_pa / 1e3)) for step in filling.steps][:2]
    [(35.0, 0), (18.333..., 82)]

    References
    ----------
    .. [1] Balance of volume over the profile.
    """
    weight, end = line.water.weight_n_m3, line.station_m.size - 1
    pools: list[Stage] = []
    steps: list[FillStep] = []
    for stage in _in_steps(line, fill_stages(line)):
        pools = [p for p in pools if not (stage.first <= p.first and p.last <= stage.last)]
        pools.append(stage)
        covered = stage.level_m - line.levels.outlet_m if stage.last == end else 0.0
        hissing, shut = _vents(line, stage, vents)
        steps.append(
            FillStep(
                from_m=float(line.station_m[stage.first]),
                to_m=float(line.station_m[stage.last]),
                level_m=stage.level_m,
                cumulative_m3=stage.after_m3,
                time_s=stage.after_m3 / rate.rate_m3_s,
                gauge_pa=max(covered, 0.0) * weight,
                readings=tuple(_reading(line, pools, tap) for tap in taps),
                vents_hissing=hissing,
                vents_shut=shut,
            )
        )
    volume = steps[-1].cumulative_m3 if steps else 0.0
    full = bool(steps) and steps[-1].level_m >= line.levels.intake_m
    whole = full and steps[-1].from_m <= 0.0 and steps[-1].to_m >= float(line.station_m[-1])
    return Filling(
        rate_m3_s=rate.rate_m3_s,
        limited_by=rate.limited_by,
        volume_m3=volume,
        time_s=volume / rate.rate_m3_s,
        full=whole,
        steps=tuple(steps),
    )


def _in_steps(line: LaidLine, stages: Sequence[Stage]) -> Iterator[Stage]:
    """Cut every rise into even steps that a person can follow on a gauge."""
    most = number("step_level_m")
    for stage in stages:
        parts = max(math.ceil((stage.level_m - stage.before_m) / most - 1e-9), 1)
        start = pool_volume_m3(line, stage.first, stage.last, stage.before_m)
        before_m, before_m3 = stage.before_m, stage.before_m3
        for part in range(1, parts + 1):
            level = stage.before_m + (stage.level_m - stage.before_m) * part / parts
            held = stage.after_m3
            if part < parts:
                risen = pool_volume_m3(line, stage.first, stage.last, level) - start
                held = stage.before_m3 + risen
            else:
                level = stage.level_m
            yield replace(
                stage, before_m=before_m, level_m=level, before_m3=before_m3, after_m3=held
            )
            before_m, before_m3 = level, held


def _reading(line: LaidLine, pools: Sequence[Stage], tap: Tap) -> Reading:
    weight, station = line.water.weight_n_m3, line.station_m
    over = [
        pool.level_m - tap.level_m
        for pool in pools
        if station[pool.first] <= tap.station_m <= station[pool.last]
    ]
    gauge = max([0.0, *over]) * weight
    return Reading(tap, gauge, tap.tolerance_pa(weight))


def _vents(
    line: LaidLine, stage: Stage, vents: Sequence[VentSize]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the vents over a rising pool that let air out, and those that it covers."""
    top = line.levels.intake_m
    hissing, shut = [], []
    for vent in vents:
        if not line.station_m[stage.first] <= vent.serves_m <= line.station_m[stage.last]:
            continue
        at = float(np.interp(vent.serves_m, line.station_m, line.pipe_m))
        if at < stage.before_m:
            continue
        # A rim that the water only runs over still passes air.
        hissing.append(vent.vent_id)
        if at < stage.level_m or at == stage.level_m == top:
            shut.append(vent.vent_id)
    return tuple(hissing), tuple(shut)
