"""The chapters of the pipe and of the surge: what the wall holds, and what it is asked to hold."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from routing.papers.document import Document, plain, units_of
from routing.papers.pressure import shown_surge
from routing.papers.report.basis import Formula
from routing.papers.report.found import checks_table
from routing.papers.report.parts import Section, facts, formula_list, listed, pairs, schedule, text
from routing.papers.schedule import schedules
from routing.units import show

__all__ = ["pipe_chapter", "surge_chapter"]


def pipe_chapter(doc: Document, formulas: Sequence[Formula]) -> Iterator[Section]:
    """Return the pipes, what each class allows, and where their data come from."""
    yield from (schedule(doc, each, "Pipes") for each in schedules(doc) if each.title == "Pipe")
    yield formula_list("Class and ring", formulas)
    yield checks_table(doc, "Checks of the pipe", ("pressure", "ring", "vacuum", "joint", "class"))
    yield _standing(doc)
    yield pairs("Sources of the pipes' data", _sources(doc))


def _standing(doc: Document) -> Section:
    vacuum, units = doc.get("vacuum") or {}, units_of(doc)
    if not isinstance(vacuum, dict) or vacuum.get("full_vacuum_kpa") is None:
        return text("")
    least, full = vacuum.get("least_limit_kpa"), vacuum["full_vacuum_kpa"] * 1e3
    return facts(
        "Vacuum",
        [
            ("Full vacuum at the lowest place", show(full, "pressure", units)),
            (
                "Least vacuum that some pipe withstands",
                "not known" if least is None else show(least * 1e3, "pressure", units),
            ),
            ("Vents may freeze shut", "yes" if vacuum.get("vents_may_freeze") else "no"),
        ],
    )


def _sources(doc: Document) -> Iterator[tuple[str, str]]:
    seen = set()
    for pipe in doc.get("pipes") or ():
        if pipe["label"] in seen:
            continue
        seen.add(pipe["label"])
        words = [
            f"{label}: {plain(pipe[key])}"
            + (f" ({plain(pipe[status]).lower()})" if status and pipe.get(status) else "")
            for label, key, status in (
                ("dimensions", "dimension_source", "dimension_status"),
                ("rating", "rating_source", "rating_status"),
                ("roughness", "roughness_source", None),
                ("derating", "derating_table", None),
            )
            if pipe.get(key)
        ]
        yield plain(pipe["label"]), "; ".join(words)


def surge_chapter(doc: Document, formulas: Sequence[Formula]) -> Iterator[Section]:
    """Return the cases of a stopped flow, how they were bounded and followed."""
    cases = doc.get("surge") or ()
    if isinstance(cases, dict) or not cases:
        yield text("Surge was not worked out: no flow that could stop was given.")
        return
    yield text(
        f"The papers show the surge of this case: {shown_surge(doc)}. Rises are heads above the "
        "level at rest."
    )
    yield listed(
        doc,
        "Ways in which the flow may stop",
        cases,
        [
            ("case", "case", None),
            ("state", "from", None),
            ("closing_s", "closing time", 1),
            ("critical_s", "critical time", 1),
            ("bound_rise_m", "bound of the rise", 2),
            ("governs", "by", None),
            ("peak_rise_m", "followed: peak", 2),
            ("highest_rise_m", "judged by", 2),
            ("parted_s", "water parts after", 1),
        ],
    )
    yield listed(
        doc,
        "How the waves were followed",
        cases,
        [
            ("case", "case", None),
            ("wave_speeds_m_s", "wave speed of each pipe", 0),
            ("segments", "pieces of the line", 0),
            ("joukowsky_m", "instant stop", 2),
            ("pipeline_constant", "pipeline constant", 4),
            ("whole_rise_m", "water held together", 2),
            ("parted_rise_m", "after parting", 2),
            ("peak_time_s", "peak after", 1),
        ],
    )
    yield listed(
        doc,
        "Relief valves",
        doc.get("relief_valves") or (),
        [
            ("id", "valve", None),
            ("station_m", "station", 1),
            ("setting_kpa", "opens at", 1),
            ("least_setting_kpa", "at least", 1),
            ("most_setting_kpa", "at most", 1),
            ("size_mm", "bore", 0),
            ("flow_m3_s", "passes", 1),
            ("jet_m_s", "jet", 1),
            ("jet_bearing_deg", "towards", 0),
        ],
    )
    yield formula_list("How they were worked out", formulas)
    safe = doc.get("safe_closing")
    if safe and safe.get("time_s") is not None:
        yield facts("Shortest safe closing", [("Even closure in", f"{safe['time_s']:.1f} s")])
