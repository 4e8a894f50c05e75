"""The pressure test in the works plan: its sections, and each step by step."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from routing.papers.document import Document, plain
from routing.papers.works.part import Part, litres, minutes, part, shown
from routing.papers.works.tested import section_tests, step_read, told_tests
from routing.strength.trade_data import hydrotest_rules
from routing.units import UnitSystem, show
from routing.works.trade_data import number, section_rules

__all__ = ["STEPS", "phase_part", "section_part"]


def section_part(doc: Document, units: UnitSystem) -> Part:
    """Return the sections: pressures at pump, bottom and top, time, what may be added, verdict."""
    works, told = doc["works"], section_tests(doc)
    stepped = {phase["test"] for phase in works.get("test_phases") or ()}
    return part(
        "Pressure test",
        (
            "",
            "from",
            "to",
            "rule",
            "pump at",
            "gauge at the pump",
            "at the lowest point",
            "at the highest point",
            "of what it bears",
            "held",
            "may be added",
            "takes",
            "pass or fail",
        ),
        (
            (
                plain(t["id"]),
                show(t["from_m"], "station", units),
                show(t["to_m"], "station", units),
                "not tested: this pipe is too light for its water",
                *_NO_TEST,
            )
            if not t["meets"] and t["id"] not in stepped
            else (
                plain(t["id"]),
                show(t["from_m"], "station", units),
                show(t["to_m"], "station", units),
                _standard(t) + ("" if t["meets"] else ", but only what this pipe bears"),
                show(t["pump_station_m"], "station", units),
                shown(t["pump_kpa"], "pressure", units),
                shown(t["bottom_kpa"], "pressure", units),
                shown(t["top_kpa"], "pressure", units),
                "–" if t["share"] is None else f"{100.0 * t['share']:.0f} %",
                minutes(t["hold_s"]),
                litres(t["makeup_m3"], units) if t["makeup_m3"] else "nothing",
                "–"
                if t["elastic_m3"] is None
                else litres(t["elastic_m3"], units)
                + f", and {litres(t['air_m3'], units)} for each 1 % of air",
                _VERDICTS[told[t["id"]].verdict.verdict] if t["id"] in told else "pass / fail",
            )
            for t in works["tests"]
        ),
        [
            *(
                ("How" if len(rules) == 1 else f"How, {standard}", _how(rule, units))
                for rules in [sorted({(plain(t["rule"]), _standard(t)) for t in works["tests"]})]
                for rule, standard in rules
            ),
            *((f"Tested, {name}", words) for name, words in told_tests(doc).items()),
        ],
    )


_NO_TEST = ("–",) * 9
"""In place of what a test would be."""
_VERDICTS = {
    "not begun": "pass / fail",
    "under way": "under way",
    "air": "air in it",
    "failed by pressure": "fail",
    "failed by water": "fail",
    "let it off": "pass, let off",
    "passed": "pass",
}


def _standard(test: Mapping[str, Any]) -> str:
    """Return the standard whose rule a section is tested by: who signs looks it up."""
    known = hydrotest_rules().get(test["rule"])
    return plain(test["rule"]) if known is None else known.standard


def _how(rule: str, units: UnitSystem) -> str:
    """Return the steps of a test as its rule has them."""
    known = section_rules().get(rule)
    return (
        "as the rule says"
        if known is None
        else known.how.format(drop=show(known.drop_pa, "pressure", units))
    )


def phase_part(doc: Document, units: UnitSystem) -> Part:
    """Return each section's test step by step, with what goes in, when it passes, what was read."""
    works, told = doc["works"], section_tests(doc)
    return part(
        "Pressure test, step by step",
        ("section", "step", "for", "gauge from", "gauge to", "water", "passes with", "read"),
        (
            (
                f"{plain(p['test'])}/{count}",
                STEPS[p["name"]],
                minutes(p["time_s"]),
                shown(p["start_kpa"], "pressure", units),
                shown(p["end_kpa"], "pressure", units),
                _water(p["water_m3"], units),
                "; ".join(_passes(p, units)) or "–",
                step_read(told[p["test"]].read.get(p["name"]), units) if p["test"] in told else "",
            )
            for count, p in _numbered(works.get("test_phases") or ())
        ),
        [("Up and down", f"by {shown(_RAMP_KPA, 'pressure', units)} a minute at most")],
    )


def _numbered(phases: Sequence[Mapping[str, Any]]) -> Iterator[tuple[int, Mapping[str, Any]]]:
    """Yield each phase with its number within its section."""
    for _, own in groupby(phases, key=lambda phase: phase["test"]):
        yield from enumerate(own, start=1)


_RAMP_KPA = number("ramp_pa_min") / 1e3
STEPS = {
    "soak": "soak, intake open",
    "raise": "raise",
    "stretch": "top up while it stretches",
    "let some off": "let some off",
    "hold": "hold",
    "let off": "let off",
}


def _water(volume_m3: float | None, units: UnitSystem) -> str:
    if volume_m3 is None:
        return "not known"
    if abs(volume_m3) < 5e-5:
        return "nothing"
    return f"{litres(abs(volume_m3), units)} {'in' if volume_m3 > 0.0 else 'out'}"


def _passes(phase: Mapping[str, Any], units: UnitSystem) -> Iterator[str]:
    """Yield what a phase must keep to; more water while it is raised is air."""
    least, most, water = (phase[key] for key in ("least_kpa", "most_kpa", "most_m3"))
    if least is not None:
        top = "" if most is None else f" to {shown(most, 'pressure', units)}"
        yield f"{'at least ' if most is None else ''}{shown(least, 'pressure', units)}{top}"
    if water:
        raised = phase["name"] == "raise"
        yield f"at most {litres(water, units)}" + (", else air is in it" if raised else " added")
    elif water is not None:
        yield "nothing added"
