"""What the readings of a section's test come to: passed, failed, or what is still to be done."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from routing.works.gauge import full_scale_pa, gauge_error_pa
from routing.works.phases import Phase, PhaseName

__all__ = ["SectionVerdict", "StepReading", "VerdictName", "judge_section", "last_attempt"]

VerdictName = Literal[
    "not begun", "under way", "air", "failed by pressure", "failed by water", "let it off", "passed"
]
DROP_M3 = 5e-5
"""Water less than this is none: a twentieth of a litre [m3]."""
_FILLED = ("soak", "raise")
"""Steps with which a test begins; one of them after any other begins it anew."""


_Phases = dict[PhaseName, Phase]


class StepReading(NamedTuple):
    """What was read in a step: gauge at the pump, water since the step began, how long it lasted.

    Water pumped in, or out of it where it is let off; None where nothing was said.
    """

    step: PhaseName
    gauge_pa: float
    water_m3: float | None = None
    lasted_s: float | None = None


class SectionVerdict(NamedTuple):
    """What the readings come to, the step on which it turns, and what was found against what.

    ``found`` and ``limit`` are in s of a step under way, m3 of water and Pa of a gauge; of a step
    that lacks a reading ``found`` is None.
    """

    verdict: VerdictName
    step: PhaseName
    found: float | None = None
    limit: float | None = None


def judge_section(phases: Sequence[Phase], readings: Sequence[StepReading]) -> SectionVerdict:
    """Return what readings of a section's test come to by the steps of its rule.

    Parameters
    ----------
    phases : sequence of Phase
        The steps as its rule has them
    readings : sequence of StepReading
        By time; of those before the section was last raised anew nothing counts

    Returns
    -------
    verdict : SectionVerdict
        Air, where raising it took more water than it may; failed, where a gauge stood outside its
        band or more water was added than is allowed; under way, until it was topped up and held as
        long as the rule asks; then to be let off, and passed once it is

    Notes
    -----
    What may be read stands in the steps themselves: see :func:`routing.works.phases.phases_of`.
    Water and time of a step are its last ones, of gauges all count. That the section stood full
    for a day is a hold point of its own. Let off is a gauge no more than its error above the
    pressure of a section just full. Checked by ``tests/routing/works/test_verdict.py``.

    Examples
    --------
    >>> hold = Phase(name="hold", time_s=3600.0, start_pa=9e5, end_pa=9e5, water_m3=0.0,
    ...              most_m3=0.002, least_pa=8.8e5)
    >>> judge_section([hold], [StepReading("hold", 8.9e5, 0.003, 3600.0)]).verdict
    'failed by water'
    """
    said = last_attempt(readings)
    if not said:
        return SectionVerdict("not begun", phases[0].name)
    by_name = {phase.name: phase for phase in phases}
    found = _air(by_name, said) or _failed(by_name, said) or _left(by_name, said)
    return found or _let_off(by_name, said)


def last_attempt(readings: Sequence[StepReading]) -> list[StepReading]:
    """Return the readings, by time, since the section was last filled or raised after another step.

    >>> failed, again = StepReading("hold", 8e5), StepReading("raise", 9e5)
    >>> last_attempt([StepReading("raise", 9e5), failed, again]) == [again]
    True
    """
    begins = 0
    for count in range(1, len(readings)):
        if readings[count].step in _FILLED and readings[count - 1].step not in _FILLED:
            begins = count
    return list(readings[begins:])


def _of(said: Sequence[StepReading], step: PhaseName) -> list[StepReading]:
    return [each for each in said if each.step == step]


def _last(values: Sequence[float | None]) -> float | None:
    """Return the last value that was said."""
    return next((each for each in reversed(values) if each is not None), None)


def _water(said: Sequence[StepReading], step: PhaseName) -> float | None:
    return _last([each.water_m3 for each in _of(said, step)])


def _air(phases: _Phases, said: Sequence[StepReading]) -> SectionVerdict | None:
    """Return that raising it took more water than pipe and water can."""
    step, taken = phases.get("raise"), _water(said, "raise")
    if step is None or step.most_m3 is None or taken is None or taken <= step.most_m3 + DROP_M3:
        return None
    return SectionVerdict("air", "raise", taken, step.most_m3)


def _failed(phases: _Phases, said: Sequence[StepReading]) -> SectionVerdict | None:
    """Return what was read while it was held and may not be."""
    hold = phases["hold"]
    for each in _of(said, "hold"):
        for limit, outside in (
            (hold.least_pa, hold.least_pa is not None and each.gauge_pa < hold.least_pa),
            (hold.most_pa, hold.most_pa is not None and each.gauge_pa > hold.most_pa),
        ):
            if outside:
                return SectionVerdict("failed by pressure", "hold", each.gauge_pa, limit)
    added = _water(said, "hold")
    if hold.most_m3 is not None and added is not None and added > hold.most_m3 + DROP_M3:
        return SectionVerdict("failed by water", "hold", added, hold.most_m3)
    return None


def _left(phases: _Phases, said: Sequence[StepReading]) -> SectionVerdict | None:
    """Return the first step that was not done as long as its rule asks, or lacks its water."""
    for name in ("stretch", "hold"):
        step = phases.get(name)
        if step is None:
            continue
        lasted = _last([each.lasted_s for each in _of(said, name)])
        if lasted is None or lasted < step.time_s:
            return SectionVerdict("under way", name, lasted, step.time_s)
    if phases["hold"].most_m3 and _water(said, "hold") is None:
        return SectionVerdict("under way", "hold", None, None)
    return None


def _let_off(phases: _Phases, said: Sequence[StepReading]) -> SectionVerdict:
    """Return that it holds, and whether the pressure is off it."""
    step = phases.get("let off")
    if step is None:
        return SectionVerdict("passed", "hold")
    gauge = _last([each.gauge_pa for each in _of(said, "let off")])
    limit = step.end_pa + gauge_error_pa(full_scale_pa(max(step.start_pa, 0.0)))
    off = gauge is not None and gauge <= limit
    return SectionVerdict("passed" if off else "let it off", "let off", gauge, limit)
