"""The ways a flow may be stopped, and how high and low the heads go in each.

The closure as it is meant to be comes first where one is known, the sudden blockage of the outlet
last. The first case is the one that is shown; all of them are judged.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.check import Check, failed_findings
from routing.finding import Finding
from routing.flow.design import DesignFlow
from routing.flow.surge.bounds import BLOCKED_S, SurgeBound
from routing.flow.surge.findings import closing_checks, not_followed
from routing.flow.surge.grid import boiling_head_m
from routing.flow.surge.inputs import SurgeInputs
from routing.flow.surge.laws import ClosingLaw, instant_closure
from routing.flow.surge.result import SurgeResult
from routing.flow.surge.run import quick_bound, run_surge
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["SurgeCase", "blocked_line", "surge_assumptions", "surge_cases"]

SEGMENTS = 40
"""Pieces into which the line is cut for the surge of one study; 20 and 80 differ by less than
0.05 % in the peak."""

GENERAL_NOTES = ("plastic_stiff_when_cold", "wave_speed_adjusted")
"""Findings that say nothing of one case alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeCase:
    """One way the flow may be stopped; arrays over stations (n,).

    ``state`` says from which state of the pipe it starts: the envelope is that of both where both
    were followed. ``rise_m`` is what the line is judged by, above the static head: the higher of
    ``whole_rise_m``, with the water held together, and ``parted_rise_m``, after it parted and fell
    shut; None where it does not part. Heads are above the centreline; the lowest is at most the
    flowing one and at least that at which water boils.
    """

    name: str
    state: str
    emergency: bool
    """The outlet is blocked; a rare event, against which no slower closing helps."""
    recurring: bool
    bound: SurgeBound
    whole_rise_m: FloatArray
    parted_rise_m: FloatArray | None
    highest_head_m: FloatArray
    lowest_head_m: FloatArray
    result: SurgeResult | None
    """The run whose peak at the outlet is the higher; None where the bound alone was asked."""
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]

    @property
    def rise_m(self) -> FloatArray:
        """Return the rise that the line is judged by, (n,) [m]."""
        if self.parted_rise_m is None:
            return self.whole_rise_m
        return frozen(np.maximum(self.whole_rise_m, self.parted_rise_m))

    @property
    def governs(self) -> str | None:
        """Return which of the two figures is the higher, and why; None where the water is whole."""
        if self.parted_rise_m is None:
            return None
        if self.parted_rise_m.max() > self.whole_rise_m.max():
            return "after parting: the closing cavity strikes on top of the wave"
        return "with the water held together: parting takes more from the wave than it gives back"

    @property
    def remedy(self) -> str:
        """Return what lowers the pressure, beside a stronger pipe."""
        return (
            "fit pressure relief at the outlet, or screens that keep it free"
            if self.emergency
            else "close more slowly"
        )


def blocked_line(line: LaidLine, flow: DesignFlow | None) -> SurgeInputs | None:
    """Return the line with its outlet blocked at once; None where nothing flows that could stop."""
    if flow is None or line.gross_head_m <= 0.0 or flow.new.head_loss_m >= line.gross_head_m:
        return None
    return SurgeInputs(
        line=line,
        flow_m3_s=flow.new.flow_m3_s,
        law=instant_closure("blocked at the outlet"),
        emergency=True,
        least_segments=SEGMENTS,
    )


def surge_cases(
    blocked: SurgeInputs | None,
    flow: DesignFlow | None,
    closing: ClosingLaw | None = None,
    *,
    follow: bool = True,
    recurring: bool = False,
) -> tuple[SurgeCase, ...]:
    """Return the cases of a stopped flow: the closure, if one is given, and the blockage.

    Parameters
    ----------
    blocked : SurgeInputs or None
        The line of :func:`blocked_line`; without one there is no case [-]
    flow : DesignFlow or None
        The design flow in aged and in new pipe [-]
    closing : ClosingLaw, optional
        How the outlet closes in service [-]
    follow : bool
        Follow the waves of the closure, and of a blockage where unlike pipes meet or the water
        may part; False leaves both at their quick bound [-]
    recurring : bool
        The closure happens in daily service; a blockage never does [-]

    Returns
    -------
    cases : tuple of SurgeCase
        The closure first, the blockage last

    Notes
    -----
    Valid for: as :func:`.run_surge`. A closure is followed from the aged and from the new pipe: the
    aged one flows under less head, the new one damps less. One kind of pipe is bounded in closed
    form for a blockage; later swings may pass that bound where unlike pipes meet, and cavities
    that fall shut where the water parts.
    """
    if blocked is None or flow is None:
        return ()
    cases = []
    if closing is not None:
        given = replace(blocked, law=closing, emergency=False)
        case = _followed(given, flow) if follow else _bounded(given, flow)
        cases.append(replace(case, recurring=recurring))
    case = _bounded(blocked, flow)
    if follow and (len(blocked.line.pipes.runs) > 1 or _parts(case, blocked.line)):
        case = _followed(blocked, flow)
    told = () if not cases else GENERAL_NOTES
    cases.append(replace(case, findings=tuple(n for n in case.findings if n.code not in told)))
    return tuple(cases)


def surge_assumptions(cases: tuple[SurgeCase, ...]) -> tuple[str, ...]:
    """Return what the cases take for granted, as sentences."""
    if not cases:
        return ()
    blockage = (
        "A sudden blockage of the outlet, by a stone or by ice, is judged as a rare emergency; it "
        f"is taken to stop the flow within {BLOCKED_S:g} s."
    )
    if len(cases) > 1:
        return (f"The outlet closes as given: {cases[0].name}.", blockage)
    return ("No closing time was given; only the blockage of the outlet is computed.", blockage)


def _parts(case: SurgeCase, line: LaidLine) -> bool:
    """Return whether the bound lets water boil anywhere on the line."""
    return bool(np.any(case.lowest_head_m <= boiling_head_m(line.pipe_m, line.water)))


def _bounded(inputs: SurgeInputs, flow: DesignFlow) -> SurgeCase:
    bound, rise = quick_bound(inputs)
    line = inputs.line
    case = SurgeCase(
        name=inputs.law.label,
        state="new pipe, bound",
        emergency=inputs.emergency,
        recurring=False,
        bound=bound,
        whole_rise_m=frozen(rise),
        parted_rise_m=None,
        highest_head_m=frozen(line.static_head_m + rise),
        lowest_head_m=_held(line, flow, line.static_head_m - rise),
        result=None,
        checks=closing_checks(inputs, bound),
        findings=(),
    )
    told = not_followed(inputs, bound, parts=_parts(case, line))
    return replace(case, findings=(*failed_findings(case.checks), *told))


def _followed(inputs: SurgeInputs, flow: DesignFlow) -> SurgeCase:
    line = inputs.line
    runs = [run_surge(inputs)]
    if not inputs.emergency and flow.aged.head_loss_m < line.gross_head_m:
        runs.append(run_surge(replace(inputs, new_pipe=False)))
    worst = max(runs, key=lambda run: run.rise_m)
    parted = [run for run in runs if run.parted_s is not None]
    share = worst.bound_rise_m / worst.bound.rise_m if inputs.emergency else None
    static = line.static_head_m
    whole = _above(static, [run.whole_head_m for run in runs], share)
    highest = _above(static, [run.highest_head_m for run in runs], share)
    fall = _above(-static, [-run.lowest_head_m for run in runs], share)
    return SurgeCase(
        name=inputs.law.label,
        state="new and aged pipe" if len(runs) > 1 else "new pipe",
        emergency=inputs.emergency,
        recurring=False,
        bound=worst.bound,
        whole_rise_m=whole,
        parted_rise_m=highest if parted else None,
        highest_head_m=frozen(static + np.maximum(whole, highest)),
        lowest_head_m=_held(line, flow, static - fall),
        result=worst,
        checks=worst.checks,
        findings=(*parted, worst)[0].findings,
    )


def _above(static: FloatArray, heads: list[FloatArray], share: FloatArray | None) -> FloatArray:
    """Return how far the greatest of ``heads`` is above ``static``, (n,) >= 0 [m].

    A run takes the worse of the nodes beside a station, and the first node may lie far below the
    reservoir; ``share`` holds the front of a blockage to its time.
    """
    rise = np.maximum(np.max(heads, axis=0) - static, 0.0)
    return frozen(rise if share is None else np.minimum(rise, share * rise.max()))


def _held(line: LaidLine, flow: DesignFlow, lowest_m: FloatArray) -> FloatArray:
    """Return the lowest head: no more than the flowing one, no less than where water boils."""
    flowing = np.minimum(flow.aged.flowing_head_m, flow.new.flowing_head_m)
    boiling = boiling_head_m(line.pipe_m, line.water)
    return frozen(np.minimum(np.maximum(lowest_m, boiling), flowing))
