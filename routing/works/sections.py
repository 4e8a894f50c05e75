"""The pressure test by sections: none sees less than the rule asks, none more than it may bear."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from routing.arrays import BoolArray, FloatArray, frozen
from routing.flow import atmosphere_pa
from routing.flow.air import HIGHEST_M
from routing.laid_line import LaidLine
from routing.need import need
from routing.pipe import material_family
from routing.strength import HydrotestBounds
from routing.value import dataclass
from routing.works.makeup import (
    air_makeup_m3,
    elastic_makeup_m3,
    indian_makeup_m3,
    municipal_makeup_m3,
)
from routing.works.phases import Phase, StretchedPipe, phases_of
from routing.works.trade_data import number, section_rules

__all__ = ["Section", "cut_sections"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One section of the test; gauge pressures [Pa], all at rest at the pressure of the test.

    ``pump_pa`` is what the gauge at the pump shows; ``share`` the greatest pressure over what the
    part there may bear, None where nothing is rated. ``meets`` is False where the class allows
    less than the rule asks: the pressure is then what the class allows. ``makeup_m3`` is what may
    be added while it is held, ``elastic_m3`` what raising the pressure takes, ``air_m3`` what each
    1 % of trapped air takes more; ``phases`` has the test step by step, none where the pipe bears
    less than the water at rest. ``proposed`` tells ends
    that are no valve and no end of the line.
    """

    from_m: float
    to_m: float
    rule: str
    source: str
    pump_station_m: float
    pump_pa: float
    bottom_station_m: float
    bottom_pa: float
    top_station_m: float
    top_pa: float
    share: float | None
    meets: bool
    makeup_m3: float
    elastic_m3: float | None
    air_m3: float
    volume_m3: float
    hold_s: float
    proposed: tuple[float, ...]
    phases: tuple[Phase, ...]


def cut_sections(
    line: LaidLine, bounds: HydrotestBounds, breaks_m: Sequence[float] = ()
) -> tuple[Section, ...]:
    """Return the sections in which a line is tested, from the intake down.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    bounds : HydrotestBounds
        What the rule asks of every point, and what every point may bear
    breaks_m : sequence of float
        Stations of isolating valves [m]

    Returns
    -------
    sections : tuple of Section
        Each between two valves, or shorter where one pressure cannot serve the whole of it

    Notes
    -----
    One level of head serves a section if, over it, the highest level asked for is not above the
    lowest allowed; a section reaches as far as that holds. Where a class bears less than the rule
    asks of it, it gets what it bears and does not meet the rule. Checked by
    ``tests/routing/works/cut_sections.py``, every point of every section.

    References
    ----------
    .. [1] Rules and their sources: ``data/section_rules.csv`` and the strength room's rules.
    """
    high = line.pipe_m * line.water.weight_n_m3
    allowed = np.where(np.isfinite(bounds.allowed_pa), bounds.allowed_pa, np.inf)[:-1]
    asked = [bounds.asked_pa[part] + high[part] for part in _BOTH]
    levels = _Levels(
        np.maximum(*asked),
        np.minimum(high[:-1], high[1:]) + allowed,
    )
    ends = _ends(line, breaks_m)
    made = []
    for start, stop in pairwise(ends):
        for first, last, level in _cut(levels, start, stop):
            cuts = [at for at in (first, last) if at not in ends]
            made.append(_section(line, bounds, (first, last), frozen(level - high), cuts))
    return tuple(made)


_BOTH = (slice(None, -1), slice(1, None))
"""The upper and the lower end of every piece of pipe between two stations."""


class _Levels(NamedTuple):
    """Levels of head as pressures over datum, asked and allowed, by piece."""

    least: FloatArray
    most: FloatArray


def _ends(line: LaidLine, breaks_m: Sequence[float]) -> list[int]:
    """Return the stations, as indices, at which sections must end."""
    for at in breaks_m:
        need("The station of a valve", at, least=0.0, most=float(line.station_m[-1]))
    valves = [int(np.argmin(np.abs(line.station_m - at))) for at in breaks_m]
    return sorted({0, line.station_m.size - 1, *valves})


def _cut(levels: _Levels, first: int, last: int) -> Iterator[tuple[int, int, float]]:
    """Yield stretches, as long as they can be, in which one level of head serves, and that."""
    can = levels.least <= levels.most * (1.0 + 1e-12)
    while first < last:
        if can[first]:
            least = np.maximum.accumulate(levels.least[first:last])
            most = np.minimum.accumulate(levels.most[first:last])
            stop = first + _run(least <= most * (1.0 + 1e-12))
            level = float(least[stop - first - 1])
        else:
            # Too light for the rule wherever it is cut: one stretch, with what it bears.
            stop = first + _run(~can[first:last])
            level = float(levels.most[first:stop].min())
        yield first, stop, level
        first = stop


def _run(holds: BoolArray) -> int:
    """Return how many of the first values are true."""
    return int(np.argmin(np.append(holds, False)))


def _section(
    line: LaidLine,
    bounds: HydrotestBounds,
    ends: tuple[int, int],
    pressure: FloatArray,
    cuts: Sequence[int],
) -> Section:
    first, last = ends
    here = slice(first, last + 1)
    z, rule = line.pipe_m[here], section_rules()[bounds.rule]
    bottom, top = first + int(np.argmin(z)), first + int(np.argmax(z))
    pump = last if line.pipe_m[last] <= line.pipe_m[first] else first
    most = np.maximum(pressure[first:last], pressure[first + 1 : last + 1])
    shares = most / bounds.allowed_pa[first:last]
    short = pressure[here] < bounds.asked_pa[here] * (1.0 - 1e-9)
    pipes, makeup = _water(line, bounds, ends, pressure)
    volume = sum(pipe.volume_m3 for pipe in pipes)
    air = atmosphere_pa(float(np.clip(z.mean(), 0.0, HIGHEST_M)))
    rest = max(float(line.static_pressure_pa[pump]), 0.0)
    phases = (
        ()
        if pressure[pump] < rest * (1.0 - 1e-9)
        else phases_of(
            rule,
            pipes,
            pump_pa=float(pressure[pump]),
            rise_pa=max(float(pressure[here].min()), 0.0),
            rest_pa=rest,
            makeup_m3=makeup,
            bulk_modulus_pa=line.water.bulk_modulus_pa,
        )
    )
    return Section(
        from_m=float(line.station_m[first]),
        to_m=float(line.station_m[last]),
        rule=bounds.rule,
        source=rule.source,
        pump_station_m=float(line.station_m[pump]),
        pump_pa=float(pressure[pump]),
        bottom_station_m=float(line.station_m[bottom]),
        bottom_pa=float(pressure[bottom]),
        top_station_m=float(line.station_m[top]),
        top_pa=float(pressure[top]),
        share=None if np.isnan(shares).all() else float(np.nanmax(shares)),
        meets=not bool(short.any()),
        makeup_m3=makeup,
        elastic_m3=phases[1].water_m3 if phases else None,
        air_m3=air_makeup_m3(
            air_m3=number("air_cap") * volume,
            before_pa=air,
            after_pa=air + max(float(pressure[top]), 0.0),
        ),
        volume_m3=volume,
        hold_s=rule.hold_s,
        proposed=tuple(float(line.station_m[at]) for at in cuts),
        phases=phases,
    )


def _water(
    line: LaidLine, bounds: HydrotestBounds, ends: tuple[int, int], pressure: FloatArray
) -> tuple[list[StretchedPipe], float]:
    """Return a section's pipe, kind by kind, and the water that its rule lets be added [m3]."""
    rule = section_rules()[bounds.rule]
    first, last = ends
    length = np.diff(line.slope_station_m)[first:last]
    mean, rest = (
        0.5 * (each[first:last] + each[first + 1 : last + 1])
        for each in (pressure, line.static_pressure_pa)
    )
    pipes, makeup = [], 0.0
    for number_of, run in enumerate(line.pipes.runs):
        own = line.run_index[first:last] == number_of
        run_m = float(length[own].sum())
        if run_m <= 0.0:
            continue
        pipe = run.pipe
        kind = StretchedPipe(
            volume_m3=0.25 * math.pi * pipe.inside_diameter_m**2 * run_m,
            bore_per_wall=(pipe.outside_diameter_m - pipe.wall_m) / pipe.wall_m,
            short_pa=pipe.elastic_short_pa,
            long_pa=pipe.elastic_long_pa,
            rest_pa=float(np.average(rest[own], weights=length[own])),
        )
        pipes.append(kind)
        held_pa = max(float(np.average(mean[own], weights=length[own])), 0.0)
        if rule.makeup == "by length and bore":
            makeup += municipal_makeup_m3(
                length_m=run_m,
                bore_m=pipe.inside_diameter_m,
                pressure_pa=held_pa,
                hold_s=rule.hold_s,
            )
        elif rule.makeup == "by bore, length and head":
            makeup += indian_makeup_m3(
                length_m=run_m,
                bore_m=pipe.inside_diameter_m,
                head_m=held_pa / line.water.weight_n_m3,
                hold_s=rule.hold_s,
                plastic=material_family(pipe.material) in ("PVC", "PE"),
            )
        elif rule.makeup == "by elastic water" and kind.short_pa is not None:
            makeup += number("pressure_loss_factor") * elastic_makeup_m3(
                volume_m3=kind.volume_m3,
                rise_pa=number("pressure_loss_pa"),
                bulk_modulus_pa=line.water.bulk_modulus_pa,
                bore_per_wall=kind.bore_per_wall,
                elastic_pa=kind.short_pa,
            )
    return pipes, makeup
