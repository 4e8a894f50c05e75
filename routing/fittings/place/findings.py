"""What the places of vents and drains, and the trapped air, ask and say of a line."""

from __future__ import annotations

import math
from collections.abc import Sequence

from routing.check import Check
from routing.doubt import is_doubtful, likely_words
from routing.finding import Finding
from routing.fittings.inputs import FittingInputs
from routing.fittings.place.air import AirPocket
from routing.fittings.place.drain_words import jet_velocity
from routing.fittings.place.drains import Drain
from routing.fittings.place.vent import Advised, Vent
from routing.fittings.place.vents import PlacedVents
from routing.fittings.requirements import asked
from routing.fittings.trade_data import limits
from routing.laid_line import LaidLine
from routing.units import UnitSystem, show

__all__ = ["listed", "placing_checks", "placing_notes"]


def placing_checks(
    line: LaidLine, given: FittingInputs, drains: Sequence[Drain], air: Sequence[AirPocket]
) -> tuple[Check, ...]:
    """Return the air that stops a line from filling, and the jets of its drains, as checks."""
    gravity = line.water.gravity_m_s2
    jets = [_jet(drain, gravity, given.units) for drain in drains if drain.static_head_m > 0.0]
    return (*_filling(air, given.units), *jets)


def placing_notes(
    given: FittingInputs, placed: PlacedVents, drains: Sequence[Drain]
) -> tuple[Finding, ...]:
    """Return what a planner should know about the places; one finding per matter."""
    return (
        *_doubtful_summits(given, placed.vents),
        *_near_bends((*placed.vents, *drains)),
        *_folded(placed.folded),
    )


def _near_bends(fittings: Sequence[Vent | Drain]) -> list[Finding]:
    near = sorted((each for each in fittings if each.near_bend), key=lambda each: each.station_m)
    if not near:
        return []
    names = listed([f"{each.id} at {each.near_bend}" for each in near])
    many = len(near) > 1
    return [
        Finding(
            code="bend_near_fitting",
            severity="note",
            message=f"{len(near)} {'fittings stand' if many else 'fitting stands'} nearer than "
            f"{limits().straight_bores:g} bores to a bend, and the place leaves no room: {names}. "
            f"Keep a straight piece for {'each' if many else 'the'} tee.",
            station_m=near[0].station_m,
            places_m=tuple(each.station_m for each in near) if many else (),
        )
    ]


def _folded(folded: Sequence[Advised]) -> list[Finding]:
    if not folded:
        return []
    counts: dict[str, int] = {}
    for vent in folded:
        counts[vent.rule] = counts.get(vent.rule, 0) + 1
    rules = ", ".join(f"{rule} {count}" for rule, count in counts.items())
    many = len(folded) > 1
    return [
        Finding(
            code="vents_folded",
            severity="note",
            message=f"Published practice advises a vent at {len(folded)} more "
            f"{'places' if many else 'place'}, where this line loses nothing measurable without "
            f"one: no air that holds back head, no vacuum beyond what the pipe withstands. "
            f"Why: {rules}. They stand in the study's list and are not drawn.",
            station_m=folded[0].station_m,
            places_m=tuple(vent.station_m for vent in folded) if many else (),
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


def _doubtful_summits(given: FittingInputs, vents: Sequence[Vent]) -> list[Finding]:
    known = [(vent.probability, vent) for vent in vents if vent.probability is not None]
    doubtful = [(sure, vent) for sure, vent in known if is_doubtful(sure)]
    if not doubtful:
        return []
    sure, worst = min(doubtful, key=lambda pair: pair[0])
    names = listed([vent.id for _, vent in doubtful])
    height = show(worst.prominence_m, "depth", given.units)
    many = len(doubtful) > 1
    message = (
        f"By what the elevations can tell the {'summits' if many else 'summit'} at {names} may "
        f"not be there: {worst.id} stands out by {height}, {likely_words(sure)} likely. "
        f"Take levels there before you buy; until then keep the {'vents' if many else 'vent'}."
    )
    return [
        Finding(code="summit_doubtful", severity="note", message=message, station_m=worst.station_m)
    ]


def _filling(air: Sequence[AirPocket], units: UnitSystem) -> list[Check]:
    # With nothing trapped before it, a crest above the intake is a matter of levels, not of air.
    held_back = [pocket for pocket in air if pocket.needed_m > 0.0]
    if not held_back:
        return []
    # The first crest that stops the water; where none does, the one that comes nearest to it.
    stops = [pocket for pocket in held_back if pocket.verdict == "will not start"]
    worst = stops[0] if stops else max(held_back, key=lambda each: each.needed_m / each.available_m)
    row = asked("filling_stops" if stops else "filling_slow")
    share = 1.0 if stops else limits().slow_from
    return [
        row.judge(
            worst.needed_m,
            _trapped_text(worst, units),
            # Just as much as there is does not do.
            limit=math.nextafter(share * worst.available_m, -math.inf),
            place=worst.vent_id or "crest",
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


def _jet(drain: Drain, gravity_m_s2: float, units: UnitSystem) -> Check:
    jet = show(jet_velocity(drain.static_head_m, gravity_m_s2), "velocity", units)
    head = show(drain.static_head_m, "head", units)
    return asked("drain_jet").judge(
        drain.static_head_m,
        f"Water can leave {drain.id} at up to {jet} under {head} of head. Anchor the elbow and "
        "lead the jet into a stilling pipe or riprap, never toward a bank or a path.",
        place=drain.id,
        station_m=drain.station_m,
    )
