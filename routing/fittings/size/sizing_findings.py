"""What is unwise about the sizes of vents and drains."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from routing.finding import Finding
from routing.fittings.place.drain_words import duration_text
from routing.fittings.place.findings import listed
from routing.fittings.size.drain_sizing import DrainSize
from routing.fittings.size.relief import ReliefValve
from routing.fittings.size.sizing_inputs import SizingInputs
from routing.fittings.size.vent_size import VentSize
from routing.fittings.sizing_data import sizing
from routing.fittings.trade_data import limits
from routing.units import show

__all__ = ["sizing_findings"]


def sizing_findings(
    inputs: SizingInputs,
    vents: Sequence[VentSize],
    drains: Sequence[DrainSize],
    relief: ReliefValve | None,
) -> tuple[Finding, ...]:
    """Return what a planner should know about the sizes; one finding per matter, at its worst."""
    return (
        *_overtopped(inputs, vents),
        *_leaking(inputs, vents),
        *_too_narrow(inputs, vents),
        *_vacuum_unknown(inputs, vents),
        *_faster_than_vents(drains),
        *_slow(drains),
        *_cannot_flush(inputs, drains),
        *_doubtful_cd(inputs),
        *_relief(inputs, relief),
    )


def _overtopped(inputs: SizingInputs, vents: Sequence[VentSize]) -> Iterator[Finding]:
    placed = {vent.id: vent.kind for vent in inputs.vents}
    changed = [v for v in vents if v.kind != "open vent" and placed[v.vent_id] == "open vent"]
    if changed:
        yield Finding(
            code="vent_overtopped",
            severity="warning",
            message=f"In flood or surge an open vent at {listed([v.vent_id for v in changed])} "
            f"would spill, or have to stand more than "
            f"{show(limits().guyed_height_m, 'depth', inputs.line.units)} tall. Fit a closed air "
            "valve there, rated for the pressure given with it.",
            station_m=changed[0].station_m,
        )


def _leaking(inputs: SizingInputs, vents: Sequence[VentSize]) -> Iterator[Finding]:
    # With a flow, what the flow says of its summits already covers those vents.
    told = {"V1", "V9"} if inputs.line.flowing_head_m is not None else set()
    rules = {vent.id: set(vent.rules) for vent in inputs.vents}
    loose = [v for v in vents if v.seals is False and not rules[v.vent_id] & told]
    if loose:
        worst = min(loose, key=lambda vent: vent.seal_head_m)
        units = inputs.line.units
        yield Finding(
            code="vent_may_leak",
            severity="note",
            message=f"The air valve at {listed([v.vent_id for v in loose])} may not shut: only "
            f"{show(worst.seal_head_m, 'head', units)} of head presses it, where a float valve "
            f"needs about {show(limits().seal_head_m, 'head', units)}. Take one made to seal at "
            "low pressure.",
            station_m=worst.station_m,
        )


def _too_narrow(inputs: SizingInputs, vents: Sequence[VentSize]) -> Iterator[Finding]:
    fitted = inputs.vent_bore_m
    narrow = [
        v for v in vents if v.vent_id in fitted and fitted[v.vent_id] < max(v.needed_m, v.least_m)
    ]
    if narrow:
        worst = min(narrow, key=lambda v: fitted[v.vent_id] / max(v.needed_m, v.least_m))
        units = inputs.line.units
        yield Finding(
            code="vent_too_narrow",
            severity="warning",
            message=f"{worst.vent_id} is {show(fitted[worst.vent_id], 'diameter', units)} wide but "
            f"needs {show(max(worst.needed_m, worst.least_m), 'diameter', units)}. Fit a wider "
            "one, or several.",
            station_m=worst.station_m,
        )


def _vacuum_unknown(inputs: SizingInputs, vents: Sequence[VentSize]) -> Iterator[Finding]:
    if inputs.schedule is not None and any(not vent.vacuum_known for vent in vents):
        taken = show(sizing().unknown_pipe_vacuum_pa, "pressure", inputs.line.units)
        yield Finding(
            code="vacuum_unknown",
            severity="note",
            message="The stiffness of a pipe is not known, so its vents were sized for a vacuum of "
            f"only {taken}. Name its material, or ask the maker what vacuum it stands.",
        )


def _faster_than_vents(drains: Sequence[DrainSize]) -> Iterator[Finding]:
    fast = [d for d in drains if d.safe_opening is not None and d.safe_opening < 1.0]
    if not fast:
        return
    worst = min(fast, key=lambda drain: drain.safe_opening or 0.0)
    limb = min(worst.limbs, key=lambda limb: limb.safe_opening or 0.0)
    if limb.vent_id is None:
        text = (
            f"Nothing lets air into the pipe that {worst.drain_id} empties. Fit a vent at the top "
            "of it, or open the line there, before the drain is opened."
        )
    else:
        text = (
            f"Wide open, {worst.drain_id} lets water out faster than {limb.vent_id} lets air in, "
            f"and the pipe may be sucked flat. Open it no further than "
            f"{100.0 * (worst.safe_opening or 0.0):.0f} % of its area, or fit a wider vent."
        )
    yield Finding(
        code="drain_faster_than_vents",
        severity="warning",
        message=text,
        station_m=worst.station_m,
    )


def _slow(drains: Sequence[DrainSize]) -> Iterator[Finding]:
    slow = [drain for drain in drains if drain.time_bore_m is None]
    if slow:
        worst = max(slow, key=lambda drain: drain.time_s)
        yield Finding(
            code="drain_slow",
            severity="note",
            message=f"Even as wide as the pipe, {worst.drain_id} needs about "
            f"{duration_text(worst.time_s)} to empty its stretch, more than the "
            f"{duration_text(worst.wanted_s)} wanted. Add a drain higher up, or allow more time.",
            station_m=worst.station_m,
        )


def _cannot_flush(inputs: SizingInputs, drains: Sequence[DrainSize]) -> Iterator[Finding]:
    weak = [drain for drain in drains if drain.flush_bore_m is None]
    if weak:
        worst = min(weak, key=lambda drain: drain.flush_head_m)
        units = inputs.line.units
        yield Finding(
            code="drain_cannot_flush",
            severity="note",
            message=f"The line does not bring {listed([d.drain_id for d in weak])} the "
            f"{show(worst.flush_flow_m3_s, 'flow', units)} that flushes silt: too little head is "
            "left there. Flush that part by the next drain below.",
            station_m=worst.station_m,
        )


def _doubtful_cd(inputs: SizingInputs) -> Iterator[Finding]:
    numbers = sizing()
    if not numbers.drain_cd_least <= inputs.cd <= numbers.drain_cd_most:
        yield Finding(
            code="drain_coefficient_doubtful",
            severity="warning",
            message=f"The discharge coefficient of the drains is {inputs.cd:g}; a drain has "
            f"{numbers.drain_cd_least:g} to {numbers.drain_cd_most:g}, {numbers.drain_cd:g} if not "
            "known better. Check it: the times hang on it.",
        )


def _relief(inputs: SizingInputs, relief: ReliefValve | None) -> Iterator[Finding]:
    if relief is None or relief.can_be_set:
        return
    units = inputs.line.units
    yield Finding(
        code="relief_cannot_be_set",
        severity="note",
        message="No relief valve at the outlet can both stay shut at rest (a setting of at least "
        f"{show(relief.least_setting_pa, 'pressure', units)}) and protect the weakest pipe (at "
        f"most {show(relief.most_setting_pa, 'pressure', units)}). Take a stronger pipe.",
        station_m=relief.station_m,
    )
