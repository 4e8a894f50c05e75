"""What crews read while sections were tested: each step's readings, and what they come to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from routing.papers.document import Document, plain, units_of
from routing.papers.works.part import litres, minutes, shown
from routing.units import UnitSystem
from routing.value import dataclass
from routing.works import Phase, SectionVerdict, StepReading, judge_section, last_attempt

__all__ = [
    "SectionTold",
    "section_tests",
    "step_read",
    "tested_until",
    "told_tests",
    "verdict_words",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionTold:
    """What a section's readings come to, in words too, when it was read last, what in each step."""

    verdict: SectionVerdict
    words: str
    time: str
    read: Mapping[str, StepReading]


def section_tests(doc: Document) -> dict[str, SectionTold]:
    """Return by its name each section of which a step was read, judged by the steps of its plan.

    The sections of a study as built are other ones than those of its plan: only what was read after
    that counts for them; what those came to stands in ``as_built``.
    """
    works = doc.get("works") or {}
    since = tested_until(doc)
    said = [each for each in doc.get("records") or () if str(each["time"]) > since]
    records = sorted(said, key=lambda each: str(each["time"]))
    found = {}
    for test in works.get("tests") or ():
        own = [each for each in records if each["of"] == test["id"]]
        read = [_reading(each) for each in own if each["kind"] == "reading" and each.get("step")]
        steps = [each for each in works.get("test_phases") or () if each["test"] == test["id"]]
        if read and steps:
            verdict = judge_section([_phase(step) for step in steps], read)
            words = verdict_words(verdict, units_of(doc))
            ticks = [bool(each["done"]) for each in own if each["kind"] == "tick"]
            if ticks and ticks[-1] and verdict.verdict not in HOLDS:
                words += ". It was ticked off all the same"
            found[plain(test["id"])] = SectionTold(
                verdict=verdict,
                words=words,
                time=max(str(each["time"]) for each in own if each.get("step")),
                read={each.step: each for each in last_attempt(read)},
            )
    return found


HOLDS = ("passed", "let it off")
"""Verdicts of a section that held."""


def tested_until(doc: Document) -> str:
    """Return the time of the newest reading that counts for the plan of a study as built."""
    rows = (doc.get("as_built") or {}).get("tests") or ()
    return max((str(row["time"]) for row in rows), default="")


def told_tests(doc: Document) -> dict[str, str]:
    """Return what each section that was tested came to, by its name."""
    rows = (doc.get("as_built") or {}).get("tests") or ()
    planned = {f"{plain(row['id'])} as planned": plain(row["words"]) for row in rows}
    return planned | {name: told.words for name, told in section_tests(doc).items()}


def _reading(record: Mapping[str, Any]) -> StepReading:
    gauge = 1e3 * float(record["gauge_kpa"])
    return StepReading(record["step"], gauge, record.get("water_m3"), record.get("lasted_s"))


def _phase(row: Mapping[str, Any]) -> Phase:
    ends = (row["least_kpa"], row["most_kpa"])
    least, most = (None if each is None else 1e3 * each for each in ends)
    return Phase(
        name=row["name"],
        time_s=row["time_s"],
        start_pa=1e3 * row["start_kpa"],
        end_pa=1e3 * row["end_kpa"],
        water_m3=row["water_m3"],
        most_m3=row["most_m3"],
        least_pa=least,
        most_pa=most,
    )


def step_read(reading: StepReading | None, units: UnitSystem) -> str:
    """Return what was read in a step: gauge, water, how long; empty where nothing was."""
    if reading is None:
        return ""
    told = [shown(reading.gauge_pa / 1e3, "pressure", units)]
    if reading.water_m3 is not None:
        told.append(litres(reading.water_m3, units))
    if reading.lasted_s is not None:
        told.append(minutes(reading.lasted_s))
    # No line breaks between a figure and its unit.
    return ", ".join(each.replace(" ", "\u00a0") for each in told)


def verdict_words(told: SectionVerdict, units: UnitSystem) -> str:
    """Return what readings come to as a sentence; the field sheet says the same."""
    name, _, found, limit = told
    if name == "under way":
        return _under_way(told)
    if name in ("air", "failed by water"):
        water = litres(found or 0.0, units)
        most = f"at most {litres(limit, units)}" if limit else "nothing may be"
        if name == "air":
            return f"air in it: {water} went in, {most}. Let it off, drive the air out, begin again"
        return f"fail: {water} were added, {most}"
    if name == "failed by pressure":
        gauge, end = (shown((each or 0.0) / 1e3, "pressure", units) for each in (found, limit))
        side = "below" if (found or 0.0) < (limit or 0.0) else "above"
        return f"fail: the gauge stood at {gauge}, {side} {end}"
    return _SAID[name]


_SAID = {
    "not begun": "not tested yet",
    "let it off": "it holds: let the pressure off slowly",
    "passed": "pass",
}


def _under_way(told: SectionVerdict) -> str:
    done = "topped up" if told.step == "stretch" else "held"
    if told.limit is None:
        return "under way: the water added is not recorded"
    if told.found is None:
        return f"under way: how long it was {done} is not recorded"
    return f"under way: {done} for {minutes(told.found)} of {minutes(told.limit)}"
