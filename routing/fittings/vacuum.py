"""The vacuum that vents may let arise, by what the pipe beside them stands."""

from __future__ import annotations

from typing import NamedTuple

from routing.fittings.sizing_data import sizing
from routing.laid_line import LaidLine
from routing.strength import vent_vacuum_pa

__all__ = ["AllowedVacuum", "allowed_vacuum"]


class AllowedVacuum(NamedTuple):
    """The vacuum [Pa] that vents may let arise on a stretch, and what sets it."""

    vacuum_pa: float
    source: str
    known: bool


def allowed_vacuum(line: LaidLine, from_m: float, to_m: float) -> AllowedVacuum:
    """Return the vacuum that the weakest pipe between two stations stands."""
    unknown = AllowedVacuum(
        sizing().unknown_pipe_vacuum_pa, "stiffness of the pipe not known", known=False
    )
    if line.schedule is None:
        return unknown
    allowed = [each for start, end, each in line.once(_by_run) if end >= from_m and start <= to_m]
    return min(allowed, key=lambda each: each.vacuum_pa, default=unknown)


def _by_run(line: LaidLine) -> list[tuple[float, float, AllowedVacuum]]:
    found = []
    for run in line.pipes.runs:
        alone = vent_vacuum_pa(run.pipe)
        each = AllowedVacuum(
            sizing().unknown_pipe_vacuum_pa if alone is None else alone,
            "stiffness of the pipe not known" if alone is None else run.pipe.label,
            known=alone is not None,
        )
        found.append((run.from_m, run.to_m, each))
    return found
