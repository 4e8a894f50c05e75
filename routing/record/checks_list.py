"""Every requirement of a line in one list, the tightest first."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from routing.check import Check
from routing.study import Study

__all__ = ["list_checks"]


def list_checks(study: Study) -> tuple[Check, ...]:
    """Return every check of a study, sorted by margin, those that fail first."""
    checks = [*study.checks, *_trench(study), *_pressures(study)]
    return tuple(sorted(checks, key=lambda check: check.margin))


def _trench(study: Study) -> Iterator[Check]:
    pipe, limits = study.line.pipe, study.line.pipe.limits
    buried = ~pipe.in_span
    cover = pipe.ground_m - pipe.pipe_m - limits.outside_diameter_m / 2.0
    asked, allowed = limits.cover_at_m(pipe.station_m), limits.max_depth_at_m(pipe.station_m)
    # Where the limits change along the line, the place that keeps them least counts.
    least = int(np.argmin(np.where(buried, cover - asked, np.inf)))
    deepest = int(np.argmax(np.where(buried, pipe.excavation.depth_m - allowed, -np.inf)))
    yield Check(
        subject="cover",
        code="cover_governs",
        severity="warning",
        place="trench",
        demand=round(float(cover[least]), 6),
        limit=float(asked[least]),
        unit="m",
        station_m=float(pipe.station_m[least]),
        rule="ground to crown at least as asked",
        source="trench.cover of the settings, else NRCS practice standard 430 by pipe size",
        at_most=False,
    )
    yield Check(
        subject="trench depth",
        code="cover_governs",
        severity="warning",
        place="trench",
        demand=round(float(pipe.excavation.depth_m[deepest]), 6),
        limit=float(allowed[deepest]),
        unit="m",
        station_m=float(pipe.station_m[deepest]),
        rule="ground to trench bottom at most as asked",
        source="trench.max_depth of the settings, else 1.2 m (British Columbia 20.81)",
    )


def _pressures(study: Study) -> Iterator[Check]:
    side = study.pressures
    if side is None or study.line.schedule is None:
        return
    for place in side.class_check.places:
        yield Check(
            subject="pressure class",
            code="class_exceeded",
            severity="fault",
            place=place.name,
            demand=place.demand_pa / 1000.0,
            limit=place.limit_pa / 1000.0,
            unit="kPa",
            station_m=place.station_m,
            rule=place.rule,
            source=place.source,
        )
    runs = study.line.schedule.run_index(side.vacuum.station_m)
    for number, run in enumerate(study.line.schedule.runs):
        margin = np.where(runs == number, side.vacuum.margin_pa, np.nan)
        if not np.isfinite(margin).any():
            continue
        worst = int(np.nanargmin(margin))
        yield Check(
            subject="full vacuum with the vents shut",
            code="vacuum_collapse",
            severity="fault",
            place=run.pipe.label,
            demand=float(side.vacuum.demand_pa[worst]) / 1000.0,
            limit=float(side.vacuum.limit_pa[worst]) / 1000.0,
            unit="kPa",
            station_m=float(side.vacuum.station_m[worst]),
            rule="ring collapse with 5 % ovality and safety 2, or 4 where vents may freeze",
            source="undergroundsolutions.com/pipe-dimensional-data.php; safeties common practice",
        )
    if side.low_pressure is not None:
        low = side.low_pressure
        spare = low.lowest_head_m - low.column_head_m
        worst = int(np.argmin(spare))
        yield Check(
            subject="lowest head after a stop",
            code="column_separation",
            severity="fault",
            place="crown",
            demand=float(low.lowest_head_m[worst]),
            limit=float(low.column_head_m[worst]),
            unit="m",
            station_m=float(low.station_m[worst]),
            rule="above the head at which the column of water parts",
            source="vapour pressure after Buck, standard atmosphere",
            at_most=False,
        )
