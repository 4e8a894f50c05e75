"""What is asked of the sizes of vents and drains, as checks; what was assumed, as notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from routing.check import Check
from routing.finding import Finding
from routing.fittings.inputs import FittingInputs
from routing.fittings.place.drain_words import duration_text
from routing.fittings.place.vent import Vent
from routing.fittings.requirements import asked, seal_head_m
from routing.fittings.size.drain_sizing import DrainSize
from routing.fittings.size.relief import ReliefValve
from routing.fittings.size.relief_valves import PlacedRelief, together_bore_m
from routing.fittings.size.vent_size import VentSize
from routing.fittings.sizes import size_text
from routing.fittings.sizing_data import sizing
from routing.laid_line import LaidLine
from routing.units import UnitSystem, show

__all__ = ["sizing_checks", "sizing_notes"]


def sizing_checks(
    line: LaidLine,
    given: FittingInputs,
    vents: Sequence[Vent],
    sizes: Sequence[VentSize],
    drains: Sequence[DrainSize],
    relief: ReliefValve | None,
    relieving: Sequence[PlacedRelief],
) -> tuple[Check, ...]:
    """Return what each vent and drain is asked, one check for each that it applies to."""
    units = given.units
    # With a flow, what the flow says of its summits already covers the vents there.
    told = {"summit", "bridge top"} if given.flowing_head_m is not None else set()
    return (
        *_open_vents(sizes, units),
        *(
            _seal(size, units)
            for vent, size in zip(vents, sizes, strict=True)
            if size.seals is not None and not told & set(vent.rules)
        ),
        *(_bore(line, size, units) for size in sizes),
        *(check for drain in drains for check in _drain(drain, units)),
        *(() if relief is None or given.relief else (_relief(relief, units),)),
        *_relieving(line, given, relieving),
    )


def sizing_notes(
    line: LaidLine, given: FittingInputs, sizes: Sequence[VentSize]
) -> tuple[Finding, ...]:
    """Return what is not known and was assumed."""
    if line.schedule is None or all(size.vacuum_known for size in sizes):
        return ()
    taken = show(sizing().unknown_pipe_vacuum_pa, "pressure", given.units)
    return (
        Finding(
            code="vacuum_unknown",
            severity="note",
            message="The stiffness of a pipe is not known, so its vents were sized for a vacuum of "
            f"only {taken}. Name its material, or ask the maker what vacuum it withstands.",
        ),
    )


def _open_vents(sizes: Sequence[VentSize], units: UnitSystem) -> Iterator[Check]:
    for size in sizes:
        if size.open_top_m is None or size.open_height_m is None:
            continue
        yield asked("open_height").judge(
            size.open_height_m,
            f"The open vent {size.vent_id} stands {show(size.open_height_m, 'depth', units)} tall, "
            "more than stands guyed.",
            place=size.vent_id,
            station_m=size.station_m,
        )
        if size.spill_level_m is not None:
            over = show(size.spill_level_m - size.open_top_m, "depth", units)
            yield asked("overtopped").judge(
                size.spill_level_m,
                f"If the outlet is blocked at once, water rises {over} over the top of the open "
                f"vent {size.vent_id} and spills for a moment: lead it away from path and pit, or "
                "fit a closed valve.",
                limit=size.open_top_m,
                place=size.vent_id,
                station_m=size.station_m,
            )


def _seal(size: VentSize, units: UnitSystem) -> Check:
    head, least = size.seal_head_m, seal_head_m()
    return asked("seal_head").judge(
        head,
        f"The air valve {size.vent_id} may not shut: only {show(head, 'head', units)} of head "
        f"presses it, where a float valve needs about {show(least, 'head', units)}. Take one made "
        "to seal at low pressure.",
        limit=least,
        place=size.vent_id,
        station_m=size.station_m,
    )


def _bore(line: LaidLine, size: VentSize, units: UnitSystem) -> Check:
    at = int(line.station_m.searchsorted(size.station_m, side="right")) - 1
    widest = float(line.inside_diameter_m[max(at, 0)])
    needed = max(size.needed_m, size.least_m)
    return asked("vent_bore").judge(
        1e3 * needed,
        f"{size.vent_id} needs a bore of {show(needed, 'diameter', units)}, wider than the pipe's "
        f"{show(widest, 'diameter', units)}: one vent is not enough. Set several beside each "
        "other, or take stiffer pipe, which stands more vacuum.",
        limit=1e3 * widest,
        place=size.vent_id,
        station_m=size.station_m,
    )


def _drain(drain: DrainSize, units: UnitSystem) -> Iterator[Check]:
    name, at = drain.drain_id, drain.station_m
    for limb in drain.limbs:
        yield asked("vents_keep_up").judge(
            1e3 * (limb.most_flow_m3_s or 0.0),
            _fast_text(drain, limb.vent_id, limb.safe_opening or 0.0),
            limit=1e3 * (limb.vent_capacity_m3_s or 0.0),
            place=f"{name} and {limb.vent_id or 'no vent'}",
            station_m=at,
        )
    yield asked("drain_time").judge(
        drain.time_s / 3600.0,
        f"Even as wide as the pipe, {name} needs about {duration_text(drain.time_s)} to empty its "
        f"stretch, more than the {duration_text(drain.wanted_s)} wanted. Add a drain higher up, or "
        "allow more time.",
        limit=drain.wanted_s / 3600.0,
        place=name,
        station_m=at,
    )
    yield asked("drain_flush").judge(
        drain.flush_head_m,
        f"The line does not bring {name} the {show(drain.flush_flow_m3_s, 'flow', units)} that "
        "flushes silt: too little head is left there. Flush that part by the next drain below.",
        limit=drain.flush_needs_m,
        place=name,
        station_m=at,
    )


def _fast_text(drain: DrainSize, vent_id: str | None, share: float) -> str:
    if vent_id is None:
        return (
            f"Nothing lets air into the pipe that {drain.drain_id} empties. Fit a vent at the top "
            "of it, or open the line there, before the drain is opened."
        )
    return (
        f"Wide open, {drain.drain_id} lets water out faster than {vent_id} lets air in, and the "
        f"pipe may be sucked flat. Open it no further than {100.0 * share:.0f} % of its area, or "
        "fit a wider vent."
    )


def _relief(relief: ReliefValve, units: UnitSystem) -> Check:
    return asked("relief_setting").judge(
        relief.least_setting_pa / 1e3,
        "No relief valve at the outlet can both stay shut at rest (a setting of at least "
        f"{show(relief.least_setting_pa, 'pressure', units)}) and protect the weakest pipe (at "
        f"most {show(relief.most_setting_pa, 'pressure', units)}). Take a stronger pipe.",
        limit=relief.most_setting_pa / 1e3,
        place=f"relief valve of {size_text(relief.bore_m, units)}",
        station_m=relief.station_m,
    )


def _relieving(
    line: LaidLine, given: FittingInputs, valves: Sequence[PlacedRelief]
) -> Iterator[Check]:
    """Yield what is asked of each relief valve, and of all together."""
    units = given.units
    for number, valve in enumerate(valves, start=1):
        told = show(valve.setting_pa, "pressure", units)
        yield asked("relief_shut").judge(
            valve.setting_pa / 1e3,
            f"The relief valve R{number}, set to {told}, opens at rest or at every stop: it stays "
            f"shut from {show(valve.least_setting_pa, 'pressure', units)} on. Set it higher.",
            limit=valve.least_setting_pa / 1e3,
            place=f"R{number}",
            station_m=valve.station_m,
        )
        if valve.most_setting_pa is not None:
            most = show(valve.most_setting_pa, "pressure", units)
            yield asked("relief_protects").judge(
                valve.setting_pa / 1e3,
                f"The relief valve R{number}, set to {told}, opens after the weakest pipe is "
                f"overloaded: set it to {most} at most, or take a stronger pipe.",
                limit=valve.most_setting_pa / 1e3,
                place=f"R{number}",
                station_m=valve.station_m,
            )
    if not valves:
        return
    last, passed = valves[-1], sum(valve.flow_m3_s for valve in valves)
    if given.flow_m3_s:
        yield asked("relief_passes").judge(
            1e3 * passed,
            f"The relief valves together pass {show(passed, 'flow', units)}, less than the "
            f"{show(given.flow_m3_s, 'flow', units)} of the machine: a nozzle that shuts still "
            "overloads the line. Take a wider bore, or one valve more.",
            limit=1e3 * given.flow_m3_s,
            place="relief valves",
            station_m=last.station_m,
        )
    bore = together_bore_m(valves)
    at = int(line.station_m.searchsorted(last.station_m, side="right")) - 1
    least = sizing().relief_bore_share * float(line.inside_diameter_m[max(at, 0)])
    yield asked("relief_size").judge(
        1e3 * bore,
        f"The relief valves have the area of one of {show(bore, 'diameter', units)}, less than a "
        f"quarter of the pipe's bore, {show(least, 'diameter', units)}. Take a wider one.",
        limit=1e3 * least,
        place="relief valves",
        station_m=last.station_m,
    )
