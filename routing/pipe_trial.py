"""Whether the pipes of a line hold what a study asks of them: the study's own checks, tried."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import field, replace

from routing.check import Check
from routing.errors import LeatlineError
from routing.flow.design import DesignFlow, design_flow
from routing.laid_line import LaidLine
from routing.pipe import PipeRun, PipeSchedule, pipe_checks
from routing.relaid import relaid
from routing.settings import Settings
from routing.strength import Hydrotest, check_rest
from routing.strength.trade_data import limit
from routing.strength_study import strength_of
from routing.surge_study import stopped_flow
from routing.value import dataclass

__all__ = ["BY_WAVES", "REASONS", "Trials", "why_not"]

REASONS = {
    "rating_too_high": "rating above that of its wall",
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
BY_WAVES = ("class_exceeded", "column_separation")
"""Codes that the quick bound of a closure may give and its waves, followed in time, may not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trials:
    """Pipes tried on one line by the checks of a study, each sequence once.

    Those whose surges are followed are judged in the trench that they get.
    """

    settings: Settings
    line: LaidLine
    _kept: dict[tuple[tuple[PipeRun, ...], bool], str | None] = field(default_factory=dict)

    def why_not(self, schedule: PipeSchedule, *, follow: bool) -> str | None:
        """Return the worst reason why pipes do not hold what is asked; None if they do.

        ``follow`` lays the line anew for them and follows their surges in time. Else the quick
        bound judges them on the line as it lies, which is kinder where the water parts, where
        unlike pipes meet and where another bore asks for another trench.
        """
        key = (schedule.runs, follow)
        if key not in self._kept:
            line = self._laid(schedule, anew=follow)
            said = why_not(self._asked(follow), line)
            # Peaks after parting follow no rule: less head may well give the higher one.
            self._kept[key] = why_not(self.settings, line) if follow and said is None else said
        return self._kept[key]

    def hydrotest(self, schedule: PipeSchedule) -> Hydrotest:
        """Return the test of the whole line as one section, with some pipes in it."""
        settings, line = self._asked(follow=False), self._laid(schedule, anew=True)
        surges = stopped_flow(settings, line, _flow(settings, line))
        return strength_of(settings, line, surges).test

    def _laid(self, schedule: PipeSchedule, *, anew: bool) -> LaidLine:
        if anew:
            return relaid(self.settings, self.line, schedule)
        return self.line.with_pipes(schedule)

    def _asked(self, follow: bool) -> Settings:
        """Return the settings that pipes are tried for, with the head that stays in hand."""
        given = self.settings
        site = replace(given.site, flood_rise=given.site.flood_rise + limit("head_in_hand"))
        surge = given.surge if follow else replace(given.surge, run=False)
        return replace(given, site=site, surge=surge)


def why_not(settings: Settings, line: LaidLine) -> str | None:
    """Return the worst reason by the checks of a study: pipe and flow first, then all of surge."""
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
    worst = min(
        blocking,
        key=lambda each: (each.code in BY_WAVES, each.severity != "fault", each.margin),
    )
    return REASONS[worst.code]
