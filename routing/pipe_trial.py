"""Whether the pipes of a line hold what a study asks of them: the study's own checks, tried."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import field, replace

from routing.check import Check
from routing.errors import LeatlineError
from routing.flow.design import DesignFlow
from routing.flow.surge import SurgeCase
from routing.flow_study import flow_of
from routing.laid_line import LaidLine
from routing.pipe import PipeRun, PipeSchedule
from routing.relaid import relaid
from routing.settings import Settings
from routing.strength import Hydrotest, check_class, check_rest
from routing.strength.trade_data import limit
from routing.strength_study import rest_checks, strength_of
from routing.surge_study import stopped_flow
from routing.value import dataclass

__all__ = ["BY_WAVES", "REASONS", "Trial", "Trials", "tried"]

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
class Trial:
    """One sequence of pipes tried: ``said`` is the worst reason why they do not hold, else None.

    ``flow`` and ``surges`` are what the checks were made from, on ``line`` as it was laid for them.
    """

    settings: Settings
    line: LaidLine
    said: str | None
    flow: DesignFlow | None = None
    surges: tuple[SurgeCase, ...] = ()

    @property
    def class_in_hand_pa(self) -> float:
        """Return what the class has in hand, at rest and with the outlet blocked [Pa]."""
        line, flood_m = replace(self.line, exceeded_m=None), self.settings.site.flood_rise
        factor = self.settings.surge.factor
        held = [
            *check_rest(line, flood_m),
            *check_class(line, self.surges[-1:], flood_rise_m=flood_m, surge_factor=factor),
        ]
        codes = ("over_rating", "class_exceeded")
        return 1000.0 * min(each.limit - each.demand for each in held if each.code in codes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trials:
    """Pipes tried on one line by the checks of a study, each sequence once.

    Those whose surges are followed are judged in the trench that they get.
    """

    settings: Settings
    line: LaidLine
    _kept: dict[tuple[tuple[PipeRun, ...], bool], Trial] = field(default_factory=dict)

    def why_not(self, schedule: PipeSchedule, *, follow: bool) -> str | None:
        """Return the worst reason why pipes do not hold what is asked; None if they do.

        ``follow`` lays the line anew for them and follows their surges in time. Else the quick
        bound judges them on the line as it lies, which is kinder where the water parts, where
        unlike pipes meet and where another bore asks for another trench.
        """
        return self.trial(schedule, follow=follow).said

    def trial(self, schedule: PipeSchedule, *, follow: bool) -> Trial:
        """Return a trial with all that it was judged by."""
        key = (schedule.runs, follow)
        if key not in self._kept:
            line = self._laid(schedule, anew=follow)
            self._kept[key] = tried(self._asked(follow), line)
        return self._kept[key]

    def hydrotest(self, schedule: PipeSchedule) -> Hydrotest:
        """Return the test of the whole line as one section, with some pipes in it."""
        settings, line = self._asked(follow=False), self._laid(schedule, anew=True)
        surges = stopped_flow(settings, line, flow_of(settings, line))
        return strength_of(_in_hand(settings), line, surges).test

    def _laid(self, schedule: PipeSchedule, *, anew: bool) -> LaidLine:
        if anew:
            return relaid(self.settings, self.line, schedule)
        return self.line.with_pipes(schedule)

    def _asked(self, follow: bool) -> Settings:
        """Return the settings that pipes are tried for."""
        surge = self.settings.surge
        return replace(self.settings, surge=surge if follow else replace(surge, run=False))


def tried(settings: Settings, line: LaidLine) -> Trial:
    """Try the pipes of a line by the checks of a study: pipe and flow first, then all of surge.

    All must hold with the head that stays in hand; what is followed must hold as the settings stand
    too, since a rule of the test need not ask less where the head is less. No surge hangs on that
    head, so that one serves both.
    """
    flow: DesignFlow | None = None
    surges: tuple[SurgeCase, ...] = ()
    more = _in_hand(settings)
    try:
        flow = flow_of(settings, line)
        said = _worst(_at_rest(more, line, flow))
        if said is None:
            surges = stopped_flow(settings, line, flow)
            said = _worst(_stopped(more, line, surges))
        if said is None and settings.surge.run is not False:
            said = _worst(_stopped(settings, line, surges))
    except LeatlineError as error:
        said = error.problem
    return Trial(settings=settings, line=line, said=said, flow=flow, surges=surges)


def _in_hand(settings: Settings) -> Settings:
    """Return settings with the head that stays in hand above the flood."""
    site = settings.site
    more = replace(site, flood_rise=site.flood_rise + limit("head_in_hand"))
    return replace(settings, site=more)


def _at_rest(settings: Settings, line: LaidLine, flow: DesignFlow | None) -> Iterator[Check]:
    yield from rest_checks(settings, line)
    yield from () if flow is None else flow.checks


def _stopped(settings: Settings, line: LaidLine, surges: tuple[SurgeCase, ...]) -> Iterator[Check]:
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
