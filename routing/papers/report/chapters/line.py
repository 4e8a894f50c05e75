"""The chapter of the line: lengths, heads, losses, pressures, the trench it lies in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from routing.papers.document import Document, column, units_of
from routing.papers.layout import nice_step
from routing.papers.pressure import shown_surge
from routing.papers.report.basis import Formula
from routing.papers.report.parts import Section, facts, formula_list, listed, table
from routing.papers.study_facts import summary_facts
from routing.papers.wording import true_minus
from routing.units import convert, show, unit_of

__all__ = ["line_chapter"]

ROWS = 40
"""Rows of the table of pressures [-]."""
MOST_FLAT = 8
"""Reaches below the least grade that are named [-]."""


def line_chapter(doc: Document, formulas: Sequence[Formula]) -> Iterator[Section]:
    """Return lengths, heads and pressures of the line, and how it is laid."""
    yield facts("Figures of the line", summary_facts(doc))
    yield formula_list("How they were worked out", formulas)
    yield listed(
        doc,
        "Head lost along the line",
        (doc.get("flow") or {}).get("reaches") or (),
        [
            ("from_m", "from", 1),
            ("to_m", "to", 1),
            ("velocity_m_s", "velocity", 2),
            ("reynolds", "Reynolds number", 0),
            ("friction_factor", "friction factor", 5),
            ("friction_m", "friction", 2),
            ("gradient_m_km", "gradient", 2),
        ],
    )
    yield _pressures(doc)
    yield facts("Trench", _trench(doc))
    yield _grades(doc)


def _pressures(doc: Document) -> Section:
    """Return ground, pipe and pressures at round stations and at the end of the line."""
    units = units_of(doc)
    station = column(doc, "station_m")
    metres = 1.0 / convert(1.0, "station", units)
    step = nice_step(float(station[-1]) / metres, ROWS) * metres
    at = np.append(np.arange(0.0, float(station[-1]) - 1e-6, step), station[-1])
    wanted = [
        ("ground_m", "ground", "elevation", 1.0),
        ("pipe_m", "pipe centre", "elevation", 1.0),
        ("depth_m", "to invert", "depth", 1.0),
        ("static_pressure_kpa", "static", "pressure", 1000.0),
        ("flowing_pressure_kpa", "flowing", "pressure", 1000.0),
        ("surge_max_kpa", "highest surge", "pressure", 1000.0),
        ("surge_min_kpa", "lowest surge", "pressure", 1000.0),
        ("rating_kpa", "rated", "pressure", 1000.0),
    ]
    heads, columns = [f"station, {unit_of('station', units)}"], []
    columns.append([show(value, "station", units, unit=False) for value in at.tolist()])
    for key, words, kind, factor in wanted:
        values = column(doc, key)
        if not np.isfinite(values).any():
            continue
        heads.append(f"{words}, {unit_of(kind, units)}")  # type: ignore[arg-type]
        shown = np.interp(at, station, values) * factor
        columns.append([show(v, kind, units, unit=False) for v in shown.tolist()])  # type: ignore[arg-type]
    rows = [list(row) for row in zip(*columns, strict=True)]
    note = "Every station stands in the table of stations that goes with this report."
    if surge := shown_surge(doc):
        note += f" Highest and lowest are those of the surge: {surge}."
    title = "Pressures along the line"
    return table(title, heads, rows, [True] * len(heads), note, units=units, sheet="stations")


def _trench(doc: Document) -> Iterator[tuple[str, str]]:
    trench, units = doc.get("trench") or {}, units_of(doc)
    rows = [
        ("Least cover", "cover_m", "depth"),
        ("Deepest allowed", "max_depth_m", "depth"),
        ("Deepest as laid", "deepest_m", "depth"),
        ("Width at the bottom", "width_m", "depth"),
        ("Bedding", "bedding_m", "depth"),
        ("Volume, upright walls", "volume_m3", "volume"),
        ("Volume, walls sloped 1 to 1", "sloped_volume_m3", "volume"),
    ]
    for words, key, kind in rows:
        if trench.get(key) is not None:
            yield words, show(trench[key], kind, units)  # type: ignore[arg-type]
    bench = trench.get("bench") or {}
    if bench.get("width_m") is not None:
        yield "Width of the bench on a side slope", show(bench["width_m"], "depth", units)
    flat = list(trench.get("below_grade") or ())
    for part in flat[:MOST_FLAT]:
        start = show(part["from_m"], "station", units, unit=False)
        reach = f"{start} to {show(part['to_m'], 'station', units)}"
        grade = true_minus(f"{round(100 * part['grade'], 2) + 0.0:.2f}")
        yield "Flatter than the least grade", f"{reach}: {grade} %"
    if len(flat) > MOST_FLAT:
        yield "", f"and {len(flat) - MOST_FLAT} more; they stand in the workbook"


def _grades(doc: Document) -> Section:
    rows = [
        {"number": str(number), **each, "grade_pct": 100.0 * float(each["grade"])}
        for number, each in enumerate(doc.get("grades") or (), start=1)
    ]
    return listed(
        doc,
        "Straights of the pipe",
        rows,
        [
            ("number", "no.", None),
            ("from_m", "from", 1),
            ("to_m", "to", 1),
            ("from_z_m", "centre there", 2),
            ("to_z_m", "centre at its end", 2),
            ("grade_pct", "grade", 2),
            ("made_as", "bend at its end made as", None),
            ("radius_m", "radius", 1),
            ("plan_radius_m", "in plan", 1),
        ],
        "Falls are negative. The bends of the corner table of the sheets lie between them.",
        "grades",
    )
