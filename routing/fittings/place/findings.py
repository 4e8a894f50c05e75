"""What the vents, the drains and the trapped air say about a line."""

from __future__ import annotations

from collections.abc import Sequence

from routing.finding import Finding
from routing.fittings.place.air import AirPocket
from routing.fittings.place.drain_words import jet_velocity
from routing.fittings.place.drains import Drain
from routing.fittings.place.inputs import FittingInputs
from routing.fittings.place.vent import Vent
from routing.fittings.place.vents import open_vent_levels
from routing.fittings.trade_data import limits
from routing.units import UnitSystem, show

__all__ = ["fitting_findings", "listed"]


def fitting_findings(
    inputs: FittingInputs,
    vents: Sequence[Vent],
    drains: Sequence[Drain],
    air: Sequence[AirPocket],
) -> tuple[Finding, ...]:
    """Return what a planner should know about vents, drains and trapped air.

    One finding per matter, however many places share it: each vent, drain and air pocket says its
    own part itself. A finding stands at its worst place, or nowhere if it is about several alike.
    """
    return (
        *_tall_vents(inputs, vents),
        *_doubtful_summits(inputs, vents),
        *_trapped(inputs, air),
        *_jets(inputs, drains),
    )


def _tall_vents(inputs: FittingInputs, vents: Sequence[Vent]) -> list[Finding]:
    closed = [vent for vent in vents if vent.kind != "open vent"]
    if not closed:
        return []
    heights = []
    for place in inputs.places([vent.station_m for vent in closed]):
        footing, top = open_vent_levels(inputs, place)
        heights.append(top - footing)
    tallest = show(limits().guyed_height_m, "depth", inputs.units)
    span = show(min(heights), "depth", inputs.units)
    if len(closed) > 1:
        span = f"from {span} to {show(max(heights), 'depth', inputs.units)}"
    names = listed([vent.id for vent in closed])
    return [
        Finding(
            code="vent_too_tall",
            severity="note",
            message=(
                f"An open vent at {names} would have to stand {span} tall, above the static level; "
                f"more than {tallest} does not stand well even guyed. Fit closed air valves there, "
                "rated for the static pressure with surge, and for the test pressure."
            ),
            station_m=closed[0].station_m if len(closed) == 1 else None,
        )
    ]


def listed(names: Sequence[str]) -> str:
    """Return names as text, only the first few of many.

    >>> listed(["V1"]), listed(["V1", "V2", "V3"]), listed(["V1", "V2", "V3", "V4", "V5", "V6"])
    ('V1', 'V1, V2 and V3', 'V1, V2, V3 and 3 more')
    """
    if len(names) == 1:
        return names[0]
    if len(names) > 5:
        return f"{', '.join(names[:3])} and {len(names) - 3} more"
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _doubtful_summits(inputs: FittingInputs, vents: Sequence[Vent]) -> list[Finding]:
    least = limits().doubtful_below
    known = [(vent.probability, vent) for vent in vents if vent.probability is not None]
    doubtful = [(sure, vent) for sure, vent in known if sure < least]
    if not doubtful:
        return []
    sure, worst = min(doubtful, key=lambda pair: pair[0])
    names = listed([vent.id for _, vent in doubtful])
    height = show(worst.prominence_m, "depth", inputs.units)
    many = len(doubtful) > 1
    message = (
        f"With the elevations' stated error the {'summits' if many else 'summit'} at {names} may "
        f"not be there: {worst.id} stands out by {height} and is real with {100.0 * sure:.0f} %. "
        f"Take levels there in the field; until then keep the {'vents' if many else 'vent'}."
    )
    return [
        Finding(code="summit_doubtful", severity="note", message=message, station_m=worst.station_m)
    ]


def _trapped(inputs: FittingInputs, air: Sequence[AirPocket]) -> list[Finding]:
    # With nothing trapped before it, a crest above the intake is a matter of levels, not of air.
    held_back = [pocket for pocket in air if pocket.needed_m > 0.0 and pocket.verdict != "clear"]
    if not held_back:
        return []
    # The first crest that stops the water; where none does, the one that comes nearest to it.
    stops = [pocket for pocket in held_back if pocket.verdict == "will not start"]
    worst = stops[0] if stops else max(held_back, key=lambda each: each.needed_m / each.available_m)
    return [
        Finding(
            code="air_trapped" if stops else "air_slows_filling",
            severity="warning" if stops else "note",
            message=_trapped_text(worst, inputs.units),
            station_m=worst.station_m,
        )
    ]


def _trapped_text(pocket: AirPocket, units: UnitSystem) -> str:
    name = pocket.vent_id or "the crest"
    at = show(pocket.station_m, "station", units)
    needed = show(pocket.needed_m, "head", units)
    squeezed = show(pocket.compressed_m, "head", units)
    has = "the intake does not stand above it"
    if pocket.available_m > 0.0:
        has = f"the intake stands {show(pocket.available_m, 'head', units)} above it"
    starts, creeps = "would start slowly and run short", ""
    if pocket.verdict == "will not start":
        starts = "would not start"
        if pocket.compressed_m < pocket.available_m:
            creeps = ", so that water may creep over"
    return (
        f"Without the vents before {name} (station {at}) the line {starts}: the air trapped there "
        f"holds back {needed} of head, and {has}. Squeezed by that head it holds back "
        f"{squeezed}{creeps}. Fit those vents and open them before filling."
    )


def _jets(inputs: FittingInputs, drains: Sequence[Drain]) -> list[Finding]:
    strong = [drain for drain in drains if drain.static_head_m > limits().jet_head_m]
    if not strong:
        return []
    worst = max(strong, key=lambda drain: drain.static_head_m)
    speed = jet_velocity(worst.static_head_m, inputs.water.gravity_m_s2)
    jet = show(speed, "velocity", inputs.units)
    head = show(worst.static_head_m, "head", inputs.units)
    at = f" ({worst.id})" if len(strong) > 1 else ""
    message = (
        f"Water can leave {listed([drain.id for drain in strong])} at up to {jet} under {head} "
        f"of head{at}. Anchor the elbow and lead the jet into a stilling pipe or riprap, never "
        "toward a bank or a path."
    )
    return [
        Finding(code="drain_jet", severity="warning", message=message, station_m=worst.station_m)
    ]
