"""The chapters of the sensitivity and of the doubt in the ground."""

from __future__ import annotations

from collections.abc import Iterator

from routing.papers.document import Document, units_of
from routing.papers.facts import level_words
from routing.papers.report.chapters.extras import Extras
from routing.papers.report.parts import Section, facts, listed, pairs, text
from routing.papers.study_facts import currency
from routing.papers.wording import worded
from routing.units import show

__all__ = ["doubt_chapter", "sensitivity_chapter"]

_SOURCES = {
    "stated": "the error was stated",
    "class": "usual for the kind of raster",
    "step": "from the step of the heights",
    "none": "no error is known",
}


MOST_LEVELS = 16
"""Levels to take that are printed in full [-]."""


def sensitivity_chapter(doc: Document, extras: Extras) -> Iterator[Section]:
    """Return the study run again with one input changed at a time."""
    cases = [
        {
            "name": case.name,
            "head_loss_m": case.head_loss_m,
            "net_head_m": case.net_head_m,
            "power_kw": case.power_kw,
            "rise_m": case.surge_rise_m,
            "blocked_m": case.blocked_rise_m,
            "cost": case.cost,
        }
        for case in extras.cases
    ]
    yield listed(
        doc,
        "",
        cases,
        [
            ("name", "case", None),
            ("head_loss_m", "head lost", 2),
            ("net_head_m", "net head", 2),
            ("power_kw", "power", 2),
            ("rise_m", "surge of the closure", 1),
            ("blocked_m", "of a blockage", 1),
            ("cost", f"cost, {currency(doc)}".rstrip(", "), 0),
        ],
        "Each row is the study's own calculation run again with that one input changed; the "
        "surges are bounds of the rise at the outlet.",
    )
    if not cases:
        yield text("The study holds no flow in a pipe of the catalogue, so nothing was run again.")


def doubt_chapter(doc: Document) -> Iterator[Section]:
    """Return how far off the ground may be, what hangs on it, and the levels that settle it."""
    doubt, units, summary = doc.get("doubt") or {}, units_of(doc), doc["summary"]
    rows = [("Known by", _SOURCES.get(str(doubt.get("source")), "not judged"))]
    rows += [
        (words, show(doubt[key], kind, units))  # type: ignore[arg-type]
        for words, key, kind in (
            ("Error from place to place", "local_sigma_m", "depth"),
            ("Error common to the whole line", "long_sigma_m", "depth"),
            ("Errors are alike over", "range_m", "length"),
            ("The error lengthens the line by", "length_excess_m", "length"),
        )
        if doubt.get(key) is not None
    ]
    error = summary.get("gross_head_sd_m")
    if error is not None:
        rows.append(("Standard error of the gross head", show(error, "depth", units)))
    expected = summary.get("expected_vents")
    if expected:
        rows.append(("Summits to expect", f"{expected['mean']:.0f} ± {expected['sd']:.0f}"))
    yield facts("", rows)
    levels = list(doc.get("levels_to_shoot") or ())
    yield pairs(
        "Levels to take before buying",
        [
            (f"L{number}", f"{level_words(doc, each)}. {worded(each['reason'])}")
            for number, each in enumerate(levels[:MOST_LEVELS], start=1)
        ],
    )
    if len(levels) > MOST_LEVELS:
        yield text(f"{len(levels) - MOST_LEVELS} more levels stand in the workbook.")
    yield listed(
        doc,
        "What the survey settled",
        doubt.get("settled") or (),
        [
            ("station_m", "station", 1),
            ("turn", "what", None),
            ("id", "fitting", None),
            ("before", "likely before", 2),
            ("after", "likely now", 2),
        ],
    )
