"""The calculation report, from the study document and the tool's own data files alone."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from importlib.resources import files
from typing import Any

import numpy as np

from routing.papers.document import Document, column, plain, units_of
from routing.papers.facts import level_words, summary_facts, terrain_facts, verdict_facts
from routing.papers.given import sheet_date, sheet_revisions, sheet_text, signed, standing, status
from routing.papers.layout import nice_step
from routing.papers.pressure import shown_surge
from routing.papers.report.basis import basis, not_checked
from routing.papers.report.confirm import confirm_rows
from routing.papers.report.found import checks_table, compact_table, formula_rows, table
from routing.papers.report.turns import left_to_pipe, needing, thrusts_table
from routing.papers.schedule import fitting_counts, schedules
from routing.papers.shopping import shopping
from routing.papers.subject import subjects
from routing.papers.typeset import FAMILY, compile_pdf
from routing.units import convert, show, unit_of

__all__ = ["report_data", "report_pdf"]

OWN_WORDS = frozenset(
    {"figures", "stations", "vents", "drains", "bends", "pipes", "warnings", "cautions"}
    | {"assumptions", "ground highs", "ground lows", "trench spans", "trench offers", "blocks"}
    | {"anchors", "supports", "kits"}
    | {"flow reaches", "air", "trench below grade", "terrain files", "terrain grids", "checks"}
    | {"levels to shoot", "doubt depths"}
)
"""Tables that the report words itself; any other is printed as it stands in the document."""
MOST_ROWS = 60
"""Rows of the table of pressures [-]."""


def report_pdf(doc: Document) -> bytes:
    """Return the calculation report of a study as PDF."""
    data = json.dumps(report_data(doc), ensure_ascii=False).encode()
    template = (files("routing.papers.report") / "data" / "report.typ").read_text(encoding="utf-8")
    return compile_pdf(template, {"report.json": data}, date=sheet_date(doc))


def report_data(doc: Document) -> dict[str, Any]:
    """Return all that the report prints, as plain values in reading order."""
    date = sheet_date(doc)
    sections: list[dict[str, Any]] = [
        {"title": "Result", "facts": _pairs([*summary_facts(doc), *verdict_facts(doc)])},
        {"title": "Checks", "table": checks_table(doc)},
        {"title": "Elevations", "facts": _pairs(terrain_facts(doc))},
        {"title": "Warnings of the study", "rows": _warnings(doc)},
        {"title": "Cautions", "items": [plain(i["text"]) for i in doc.get("cautions") or ()]},
        {"title": "What the tool does not check", "items": not_checked()},
        {"title": "Assumed", "items": [plain(item) for item in doc.get("assumptions") or ()]},
        {"title": "Calculation basis", "formulas": [_formula(item) for item in basis(doc)]},
        {"title": "Head lost along the line", "table": _reaches(doc)},
        {"title": "Pressures along the line", "table": _pressures(doc)},
    ]
    sections += [
        {"title": item.title, "table": table(item.heads, item.rows, item.numeric, item.note)}
        for item in [*schedules(doc), shopping(doc)]
    ]
    sections += [
        {"title": "Thrusts", "table": thrusts_table(doc)},
        {"title": "Why each vent and drain", "rows": _reasons(doc)},
        {"title": "Levels to take before buying", "rows": _levels(doc)},
        {"title": "Air trapped without the vents", "table": _air(doc)},
        {"title": "Trench", "facts": _trench(doc)},
        {"title": "Materials from the model", "facts": _materials(doc)},
        {"title": "How far the result moves", "table": _sensitivity(doc)},
    ]
    sections += [
        {"title": item.name.capitalize(), "table": compact_table(item)}
        for item in subjects(needing(doc))
        if item.name not in OWN_WORDS
    ]
    sections.append({"title": "Turns left to the pipe", "items": left_to_pipe(doc)})
    sections.append({"title": "Formulas named in the tables", "rows": formula_rows(doc)})
    sections += [
        {"title": "Sources of pipe data", "rows": _pipe_sources(doc)},
        {"title": "To confirm against the current edition", "rows": confirm_rows(doc)},
        {"title": "Settings as given", "facts": list(_settings(doc))},
    ]
    generator = doc.get("generator") or {}
    return {
        "family": FAMILY,
        "paper": "us-letter" if units_of(doc) == "us" else "a4",
        "name": sheet_text(doc, "project") or plain(doc.get("name") or "study"),
        "study": plain(doc.get("name") or "study"),
        "owner": sheet_text(doc, "owner"),
        "drawn": sheet_text(doc, "drawn"),
        "checked": sheet_text(doc, "checked"),
        "date": sheet_text(doc, "date"),
        "day": None if date is None else [date.year, date.month, date.day],
        "signed": sheet_text(doc, "signed") if signed(doc) else "",
        "status": status(doc),
        "standing": standing(doc),
        "revisions": [
            [row[key] for key in ("mark", "date", "text", "by")] for row in sheet_revisions(doc)
        ],
        "maker": f"{plain(generator.get('name') or '')} {plain(generator.get('version') or '')}",
        "sections": [part for part in sections if _holds(part)],
    }


def _holds(section: Mapping[str, Any]) -> bool:
    table = section.get("table")
    return bool(
        table["rows"]
        if table is not None
        else [v for k, v in section.items() if k != "title" and v]
    )


def _pairs(facts: Iterable[tuple[str, str]]) -> list[list[str]]:
    return [list(fact) for fact in facts]


def _formula(item: Any) -> dict[str, Any]:
    return {
        "title": item.title,
        "math": item.math,
        "holds": item.holds,
        "source": f"{item.source} ({item.status})" if item.status != "definition" else item.source,
        "terms": [
            [term.symbol, term.meaning, term.value, term.unit, term.path, term.result]
            for term in item.terms
        ],
    }


def _warnings(doc: Document) -> list[list[str]]:
    rows = []
    for item in doc.get("warnings") or ():
        at = item.get("station_m")
        where = "" if at is None else show(at, "station", units_of(doc))
        rows.append([f"{plain(item['severity'])} {where}".strip(), plain(item["message"])])
    return rows


def _reaches(doc: Document) -> dict[str, Any]:
    units = units_of(doc)
    rows = [
        [
            show(reach["from_m"], "station", units, unit=False),
            show(reach["to_m"], "station", units, unit=False),
            show(reach["velocity_m_s"], "velocity", units, unit=False),
            f"{reach['reynolds']:.0f}",
            f"{reach['friction_factor']:.5f}",
            f"{convert(reach['friction_m'], 'head', units):.2f}",
            f"{reach['gradient_m_km']:.2f}",
        ]
        for reach in (doc.get("flow") or {}).get("reaches") or ()
    ]
    station = unit_of("station", units)
    heads = [
        f"from, {station}",
        f"to, {station}",
        f"velocity, {unit_of('velocity', units)}",
        "Reynolds no.",
        "friction factor",
        f"friction, {unit_of('head', units)}",
        "gradient, per 1000",
    ]
    return table(heads, rows, [True] * 7)


def _pressures(doc: Document) -> dict[str, Any]:
    """Return ground, pipe and pressures at round stations and at the end of the line."""
    units = units_of(doc)
    station = column(doc, "station_m")
    metres = 1.0 / convert(1.0, "station", units)
    step = nice_step(float(station[-1]) / metres, MOST_ROWS) * metres
    at = np.append(np.arange(0.0, float(station[-1]) - 1e-6, step), station[-1])
    wanted = [
        ("ground_m", "ground", "elevation", 1.0),
        ("pipe_m", "pipe centre", "elevation", 1.0),
        ("depth_m", "to invert", "depth", 1.0),
        ("static_head_m", "static head", "head", 1.0),
        ("static_pressure_kpa", "static", "pressure", 1000.0),
        ("flowing_head_m", "flowing head", "head", 1.0),
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
    return table(heads, rows, [True] * len(heads), note)


def _reasons(doc: Document) -> list[list[str]]:
    rows = []
    for item in [*doc["vents"], *doc["drains"]]:
        size = item.get("size_source")
        sized = f" Size: {plain(size)}." if size else ""
        rows.append([plain(item["id"]), plain(item["reason"]) + sized])
    return rows


def _levels(doc: Document) -> list[list[str]]:
    """Return the levels to take, the one that settles most first."""
    return [
        [f"L{number}", f"{level_words(doc, item)}. {plain(item['reason'])}"]
        for number, item in enumerate(doc.get("levels_to_shoot") or (), start=1)
    ]


def _air(doc: Document) -> dict[str, Any]:
    units = units_of(doc)
    rows = [
        [
            plain(item.get("vent_id") or "–"),
            show(item["station_m"], "station", units, unit=False),
            show(item["needed_m"], "head", units, unit=False),
            show(item["available_m"], "head", units, unit=False),
            plain(item["verdict"]),
        ]
        for item in doc.get("air") or ()
    ]
    head = unit_of("head", units)
    heads = [
        "vent",
        f"station, {unit_of('station', units)}",
        f"held back, {head}",
        f"available, {head}",
        "the line",
    ]
    return table(heads, rows, [False, True, True, True, False])


def _trench(doc: Document) -> list[list[str]]:
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
    shown = [
        [words, show(trench[key], kind, units)]  # type: ignore[arg-type]
        for words, key, kind in rows
        if trench.get(key) is not None
    ]
    for part in trench.get("below_grade") or ():
        start = show(part["from_m"], "station", units, unit=False)
        reach = f"{start} to {show(part['to_m'], 'station', units)}"
        shown.append(["Flatter than the least grade", f"{reach}: {100 * part['grade']:.2f} %"])
    return shown


def _materials(doc: Document) -> list[list[str]]:
    rows = [[words, str(count)] for words, count in fitting_counts(doc)]
    classes: dict[str, int] = {}
    for bend in doc.get("bends") or ():
        angle = float(bend["deflection_deg"])
        words = next((w for most, w in _BENDS if angle <= most), "Bends over 90°")
        classes[words] = classes.get(words, 0) + 1
    rows += [[words, str(classes[words])] for _, words in _BENDS if words in classes]
    if "Bends over 90°" in classes:
        rows.append(["Bends over 90°", str(classes["Bends over 90°"])])
    return rows


_BENDS = (
    (11.25, "Bends up to 11.25°"),
    (22.5, "Bends up to 22.5°"),
    (45.0, "Bends up to 45°"),
    (90.0, "Bends up to 90°"),
)


def _sensitivity(doc: Document) -> dict[str, Any]:
    """Return what net head and power become when an input is otherwise, all else the same."""
    summary, flow, units = doc["summary"], doc.get("flow"), units_of(doc)
    error = summary.get("gross_head_sd_m")
    gross = float(summary["gross_head_m"])
    loss = float(summary.get("head_loss_m") or 0.0)
    cases = [("as calculated", gross, loss)]
    if flow:
        cases.append(("new pipe", gross, float(flow["head_loss_new_m"])))
    if error is not None:
        cases.append(("the levels' error, against", gross - float(error), loss))
        cases.append(("the levels' error, in favour", gross + float(error), loss))
    power, rows = summary.get("power_kw"), []
    for words, head, lost in cases if len(cases) > 1 else []:
        net = head - lost
        row = [
            words,
            f"{convert(head, 'head', units):.2f}",
            f"{convert(lost, 'head', units):.2f}",
            f"{convert(net, 'head', units):.2f}",
        ]
        if power is not None:
            row.append(f"{max(power * net / (gross - loss), 0.0):.2f}" if gross > loss else "–")
        rows.append(row)
    unit = unit_of("head", units)
    heads = ["case", f"gross head, {unit}", f"head lost, {unit}", f"net head, {unit}"]
    if power is not None:
        heads.append("power, kW")
    note = "Power in proportion to the net head, at the same flow and efficiency."
    return table(heads, rows, [False, *([True] * (len(heads) - 1))], note)


def _pipe_sources(doc: Document) -> list[list[str]]:
    rows = []
    for pipe in doc.get("pipes") or ():
        words = [
            f"{label}: {plain(pipe[key])}"
            + (f" ({plain(pipe[status])})" if status and pipe.get(status) else "")
            for label, key, status in (
                ("dimensions", "dimension_source", "dimension_status"),
                ("rating", "rating_source", "rating_status"),
                ("roughness", "roughness_source", None),
                ("derating", "derating_table", None),
            )
            if pipe.get(key)
        ]
        rows.append([plain(pipe["label"]), "; ".join(words)])
    return rows


def _settings(doc: Document) -> Iterable[list[str]]:
    """Return the settings the user gave, one a row; what is on the title block stands there."""
    for name, values in (doc.get("settings") or {}).items():
        if name == "sheet":
            continue
        entries = values if isinstance(values, list) else [values]
        for number, entry in enumerate(entries, start=1):
            where = name if len(entries) == 1 else f"{name} {number}"
            if isinstance(entry, Mapping):
                for key, value in entry.items():
                    yield [plain(f"{where}: {key}"), _given(value)]


def _given(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "; ".join(_given(item) for item in value)
    if isinstance(value, Mapping):
        return ", ".join(f"{plain(key)} {_given(item)}" for key, item in value.items())
    return plain(value)
