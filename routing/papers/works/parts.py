"""The works plan in parts: a title, its cautions, and a table in the reader's units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby, pairwise
from typing import Any

from routing.papers.crew_facts import crew_facts
from routing.papers.document import Document, plain, units_of
from routing.papers.given import answered
from routing.papers.set_facts import force_text
from routing.papers.works.part import Part, minutes, part, shown, sold
from routing.papers.works.sections import phase_part, section_part
from routing.units import UnitSystem, show
from routing.us_units import in_system

__all__ = ["ANSWERED", "FAULTS", "tolerances", "works_parts"]


FAULTS = "Faults to settle first"
"""What the plan begins with where the study has faults."""
ANSWERED = "Answered for"
"""What follows: faults and failed checks that stand, and in whose name."""


def works_parts(doc: Document) -> list[Part]:
    """Return the parts of a study's works plan in the order of the work."""
    works = doc.get("works")
    if works is None:
        why = ("Why", "the study has no pipe: choose one and run it again")
        return [Part(title="No plan of works", cautions=(), facts=(why,))]
    units = units_of(doc)
    return [
        *_faults(doc, units),
        *_answered(doc),
        _holds(works, _ticked(doc)),
        _ends(doc, works, units),
        _filling(works, units, _ticked(doc)),
        _bridges(doc, units),
        _spouts(works, units),
        _flushing(works, units),
        section_part(doc, units),
        phase_part(doc, units),
        _gauges(doc, works, units),
        _relief(doc, units),
        _drain_down(works, units),
        _water_left(works, units),
    ]


def _faults(doc: Document, units: UnitSystem) -> Iterator[Part]:
    """Yield the faults of the study that nobody answers for, if it has any."""
    faults = [
        found
        for found in doc.get("warnings") or ()
        if found["severity"] == "fault" and not found.get("waived")
    ]
    if faults:
        yield part(
            FAULTS,
            (),
            iter(()),
            [
                (
                    "The line"
                    if found.get("station_m") is None
                    else f"At station {show(found['station_m'], 'station', units)}",
                    plain(found["message"]),
                )
                for found in faults
            ],
        )


def _answered(doc: Document) -> Iterator[Part]:
    """Yield what somebody answers for: the crew stands beside it all the same."""
    told = answered(doc)
    if told:
        facts = [(f"{what[:1].upper()}{what[1:]}", who) for what, who in told]
        yield part(ANSWERED, (), iter(()), facts)


def _ticked(doc: Document) -> dict[str, str]:
    """Return when, and on which device, each act was last ticked off."""
    told = {name: dict(facts).get("Done", "") for name, facts in crew_facts(doc).items()}
    return {name: words for name, words in told.items() if words}


def _holds(works: Mapping[str, Any], ticked: Mapping[str, str]) -> Part:
    cure = float(works["drain_down"]["cure_days"])
    return part(
        "Before water",
        ("", "hold point", "when", "what must be true", "name, time"),
        (
            (plain(h["id"]), plain(h["name"]), plain(h["when"]), plain(h["text"]),
             ticked.get(h["id"], ""))
            for h in works["hold_points"]
        ),
        [("Concrete cures at least", f"{cure:g} days, longer in the cold")],
    )  # fmt: skip


def _ends(doc: Document, works: Mapping[str, Any], units: UnitSystem) -> Part:
    return part(
        "Thrust on the ends",
        ("station", "what", "outside diameter", "full, at rest", "in the test"),
        (
            (
                show(end["station_m"], "station", units),
                plain(end["what"]),
                shown(end["outside_diameter_mm"], "diameter", units),
                force_text(doc, float(end["filling_kn"])),
                force_text(doc, float(end["test_kn"])),
            )
            for end in works["ends"]
        ),
    )


def _filling(works: Mapping[str, Any], units: UnitSystem, ticked: Mapping[str, str]) -> Part:
    filling = works["filling"]
    limits = {
        "velocity": "the speed of the water in the pipe",
        "stream": "what the stream spares half of the year",
    }
    limited = plain(filling["limited_by"])
    facts = [
        (
            "Rate",
            f"{show(filling['rate_m3_s'], 'flow', units)}, set by {limits.get(limited, limited)}",
        ),
        ("Water", show(filling["volume_m3"], "water", units)),
        ("Time", minutes(filling["time_s"])),
        ("Gauges within", tolerances(filling["stages"], units)),
        ("Other gauges", "named where they read something new; the rest keep what they read"),
    ]
    if not filling["full"]:
        facts.append(("Not full", "a summit stands above the intake: water does not pass it"))
    return part(
        "Filling",
        (
            "",
            "water rises",
            "to level",
            "let in",
            "in all",
            "after",
            "at the powerhouse",
            "read",
            "other gauges",
            "vents let air out",
            "then shut",
        ),
        (
            (
                plain(s["id"]),
                f"{show(s['from_m'], 'station', units)} to {show(s['to_m'], 'station', units)}",
                show(s["level_m"], "elevation", units),
                show(after - before, "water", units),
                show(after, "water", units),
                minutes(s["time_s"]),
                shown(s["gauge_kpa"], "pressure", units),
                ticked.get(s["id"], "")[5:16],
                moved,
                ", ".join(map(plain, s["vents_hissing"])) or "–",
                ", ".join(map(plain, s["vents_shut"])) or "–",
            )
            for s, (before, after), moved in zip(
                filling["stages"],
                pairwise((0.0, *(s["cumulative_m3"] for s in filling["stages"]))),
                _gauges_that_move(filling["stages"], units),
                strict=True,
            )
        ),
        facts,
    )


def _gauges_that_move(stages: Sequence[Mapping[str, Any]], units: UnitSystem) -> Iterator[str]:
    """Yield at each stage what the gauges above the powerhouse read that read something new."""
    before: dict[str, str] = {}
    for stage in stages:
        read = {
            plain(r["tap"]): shown(r["gauge_kpa"], "pressure", units)
            for r in stage["readings"][:-1]
            if r["gauge_kpa"] > 0.0
        }
        moved = (f"{tap} {told}" for tap, told in read.items() if before.get(tap) != told)
        yield ", ".join(moved) or "–"
        before = read


def _bridges(doc: Document, units: UnitSystem) -> Part:
    """Return what the water does to bridges, so that what it should not do is seen."""
    told = [each for each in doc.get("bridges") or () if each.get("empty_n_m") is not None]
    unit, factor = in_system("N/m", units)
    mm, factor_mm = in_system("mm", units)
    return part(
        "Bridges, empty and full",
        ("from", "to", "bay", f"empty, {unit}", f"full, {unit}", "sags empty", "sags full",
         "after years"),
        (
            (
                show(b["from_m"], "station", units),
                show(b["to_m"], "station", units),
                show(b["bay_m"], "depth", units),
                *(f"{factor * b[key]:.0f}" for key in ("empty_n_m", "weight_n_m")),
                *(f"{1e3 * factor_mm * b[key]:.{1 if mm == 'mm' else 2}f} {mm}"
                  for key in ("sag_empty_m", "sag_full_m", "sag_years_m")),
            )
            for b in told
        ),
    )  # fmt: skip


def tolerances(stages: Sequence[Mapping[str, Any]], units: UnitSystem) -> str:
    """Return how near to the table each gauge reads once the line stands still.

    Neighbours of one tolerance share it.
    """
    read = stages[-1]["readings"] if stages else ()
    told = []
    for within, alike in groupby(read, lambda r: shown(r["tolerance_kpa"], "pressure", units)):
        taps = [plain(each["tap"]) for each in alike]
        named = f"{taps[0]}–{taps[-1]}" if len(taps) > 2 else ", ".join(taps)
        told.append(f"{named} ± {within}")
    return "; ".join(told)


def _spouts(works: Mapping[str, Any], units: UnitSystem) -> Part:
    return part(
        "What vents throw",
        ("vent", "station", "air leaves at", "water in it up to", "and as far as",
         "opened under full head up to", "then as far as"),
        (
            (
                plain(s["vent_id"]),
                show(s["station_m"], "station", units),
                show(s["air_m_s"], "velocity", units),
                *(show(s[key], "length", units)
                  for key in ("height_m", "reach_m", "full_height_m", "full_reach_m")),
            )
            for s in works["spouts"]
        ),
    )  # fmt: skip


def _flushing(works: Mapping[str, Any], units: UnitSystem) -> Part:
    return part(
        "Flushing",
        ("drain", "bore", "open", "flow", "speed", "for", "jet", "vent above", ""),
        (
            (
                plain(f["drain_id"]),
                sold(f["bore_mm"], units),
                _opened(f),
                show(f["flow_m3_s"], "flow", units),
                show(f["velocity_m_s"], "velocity", units),
                minutes(f["time_s"]),
                show(f["jet_m_s"], "velocity", units),
                plain(f["vent_id"] or "–"),
                "" if f["flushes"] else "too slow for silt: flush in bursts from stored water",
            )
            for f in works["flushing"]
        ),
        [_TURNS],
    )


def _opened(step: Mapping[str, Any]) -> str:
    """Return how far a drain is opened: share of its area, turns of a wheel or angle of a lever."""
    share = f"{100.0 * step['opening']:.0f} %"
    if step.get("turns") is not None:
        return f"{share}: {step['turns']:.1f} of {step['full_turns']:.0f} turns"
    if step.get("angle_deg") is not None:
        return f"{share}: lever at {step['angle_deg']:.0f}° of 90°"
    return share


_TURNS = (
    "Turns",
    "counted from shut once the slack is out, of a wheel that takes three turns an inch of bore "
    "and two more (from memory); count those of your own valve first and take the same part of "
    "them. A lever goes a quarter of a turn: ease it, a ball jumps open and shut.",
)


def _gauges(doc: Document, works: Mapping[str, Any], units: UnitSystem) -> Part:
    flows = sorted({each["flow_m3_s"] for each in works["diagnosis"]})
    told = {(e["tap"], e["flow_m3_s"]): e for e in works["diagnosis"]}
    return part(
        "What the gauges should show",
        (
            "tap",
            "station",
            "where",
            "scale to",
            "within",
            *("at rest" if flow == 0.0 else show(flow, "flow", units) for flow in flows),
        ),
        (
            (
                plain(tap["id"]),
                show(tap["station_m"], "station", units),
                plain(tap["place"]),
                shown(tap["full_scale_kpa"], "pressure", units),
                "± " + shown(told[tap["id"], flows[0]]["tolerance_kpa"], "pressure", units),
                *(shown(told[tap["id"], q]["gauge_kpa"], "pressure", units) for q in flows),
            )
            for tap in doc["taps"]
        ),
    )


def _relief(doc: Document, units: UnitSystem) -> Part:
    window, valves = doc.get("relief"), doc.get("relief_valves") or ()
    facts: list[tuple[str, str]] = []
    if valves:
        facts = [
            ("Their jet", "through a stilling piece back to the stream, where nobody stands"),
            ("Each year", "lift each by hand or by pump, note the pressure at which it opened"),
        ]
    elif window is not None and not window["can_be_set"]:
        facts = [("Setting", "none both stays shut at rest and protects the pipe")]
    return part(
        "Relief valves",
        ("valve", "station", "set to", "at least", "at most", "bore", "passes", "jet", "towards",
         "free, it flies"),
        (
            (
                plain(each["id"]),
                show(each["station_m"], "station", units),
                *(shown(each[key], "pressure", units)
                  for key in ("setting_kpa", "least_setting_kpa", "most_setting_kpa")),
                sold(each["size_mm"], units),
                show(each["flow_m3_s"], "flow", units),
                show(each["jet_m_s"], "velocity", units),
                f"{float(each['jet_bearing_deg']):.0f}°, {plain(each['jet_side'])}",
                show(each["jet_reach_m"], "length", units),
            )
            for each in valves
        ),
        facts,
    )  # fmt: skip


def _frost(item: Mapping[str, Any]) -> str:
    return {"not known": "depth of frost not given"}.get(item["frost"], plain(item["frost"]))


def _water_left(works: Mapping[str, Any], units: UnitSystem) -> Part:
    left = works["drain_down"]["water_left"]
    return part(
        "Water that stays in sags",
        ("from", "to", "water", "frost"),
        (
            (
                show(each["from_m"], "station", units),
                show(each["to_m"], "station", units),
                show(each["volume_m3"], "water", units),
                _frost(each),
            )
            for each in left
        ),
        () if left else (("In the sags", "no water stays once all drains have run"),),
    )


def _drain_down(works: Mapping[str, Any], units: UnitSystem) -> Part:
    refill = works["drain_down"]["refill"]
    return part(
        "Draining for the winter",
        ("step", "drain", "open", "runs out", "still in the line", "for", "lowest", "frost"),
        (
            (
                str(s["step"]),
                plain(s["drain_id"]),
                _opened(s),
                show(s["drained_m3"], "water", units),
                show(s["left_m3"], "water", units),
                minutes(s["time_s"]),
                shown(s["lowest_kpa"], "pressure", units),
                _frost(s),
            )
            for s in works["drain_down"]["steps"]
        ),
        [
            (
                "Filling again",
                f"{show(refill['volume_m3'], 'volume', units)} at "
                f"{show(refill['rate_m3_s'], 'flow', units)}: {minutes(refill['time_s'])}",
            ),
            _TURNS,
        ],
    )
