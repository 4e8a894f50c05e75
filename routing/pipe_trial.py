"""Whether the pipes of a line hold what a study asks of them: the study's own checks, tried."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from routing.check import Check
from routing.errors import LeatlineError
from routing.flow.design import DesignFlow, design_flow
from routing.laid_line import LaidLine
from routing.pipe import pipe_checks
from routing.settings import Settings
from routing.strength import check_rest
from routing.strength_study import strength_of
from routing.surge_study import stopped_flow

__all__ = ["REASONS", "why_not"]

REASONS = {
    "over_rating": "static pressure over the rating",
    "class_exceeded": "class exceeded",
    "surge_factor_high": "surge factor above its standard's",
    "test_over_class": "test above the class",
    "flow_exceeds": "takes all the head",
    "velocity_high": "too fast",
    "velocity_low": "too slow",
    "loss_high": "loses too much",
    "siphon": "siphon",
    "vacuum_collapse": "vacuum flattens it",
    "column_separation": "the water parts",
    "closing_too_fast": "closed too fast for it",
}
"""What a pipe is tried for, by the code of the finding, and how it is said that it fails."""
ONLY_FAULTS = ("siphon", "vacuum_collapse", "column_separation", "closing_too_fast")
"""Codes whose warnings hang on more than the pipe."""


def why_not(settings: Settings, line: LaidLine) -> str | None:
    """Return the worst reason why the pipes of a line do not hold what is asked; None if they do.

    The checks are those of a study: pipe and flow first, then surge, class, vacuum and test.
    """
    try:
        flow = _flow(settings, line)
        return _worst(_at_rest(settings, line, flow)) or _worst(_stopped(settings, line, flow))
    except LeatlineError as error:
        return error.problem


def _flow(settings: Settings, line: LaidLine) -> DesignFlow | None:
    if settings.flow.design is None:
        return None
    machine = settings.turbine
    return design_flow(
        line, settings.flow.design, efficiency=machine.efficiency, turbine_kind=machine.kind
    )


def _at_rest(settings: Settings, line: LaidLine, flow: DesignFlow | None) -> Iterator[Check]:
    yield from pipe_checks(line.pipes)
    yield from check_rest(line, settings.site.flood_rise)
    yield from () if flow is None else flow.checks


def _stopped(settings: Settings, line: LaidLine, flow: DesignFlow | None) -> Iterator[Check]:
    surges = stopped_flow(settings, line, flow)
    yield from (check for case in surges for check in case.checks)
    yield from strength_of(settings, line, surges).checks


def _worst(checks: Iterable[Check]) -> str | None:
    blocking = [
        check
        for check in checks
        if not check.passed
        and check.code in REASONS
        and check.severity != "note"
        and (check.severity == "fault" or check.code not in ONLY_FAULTS)
    ]
    if not blocking:
        return None
    return REASONS[min(blocking, key=lambda each: (each.severity != "fault", each.margin)).code]
