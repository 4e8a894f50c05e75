"""Every requirement of a line in one list, the tightest first."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from routing.check import Check
from routing.study import Study

__all__ = ["list_checks"]


def list_checks(study: Study) -> tuple[Check, ...]:
    """Return every check of a study, sorted by margin, those that fail first."""
    checks = [*study.checks, *_trench(study)]
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
