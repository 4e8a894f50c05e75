"""The words around the profile drawing: title, key, bands under the graph, cautions."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

import numpy as np

from routing.papers.document import Document, column, grade_words, has_flow, plain, units_of
from routing.papers.given import standing_lines
from routing.papers.layout import ticks, wrapped
from routing.papers.pressure import shown_surge, surge_lines
from routing.papers.signs import sign_shape
from routing.papers.study_facts import summary_facts, terrain_facts
from routing.papers.wording import plainly
from routing.units import convert, show, unit_of

__all__ = ["bands", "footer", "header", "legend", "text"]

ROW = 17.0
LINE = 13.5
CHAR_PX = 5.9
"""Mean width of a character of the small text [px]."""
TICKS = 16
"""Most stations that the bands under the graph are given for."""


def text(x: float, y: float, words: str, *, anchor: str = "start", style: str = "") -> str:
    """Return one line of text; ``words`` need no escaping."""
    named = f' class="{style}"' if style else ""
    placed = f' text-anchor="{anchor}"' if anchor != "start" else ""
    return f'<text{named} x="{x:.1f}" y="{y:.1f}"{placed}>{escape(words)}</text>'


def header(doc: Document, width: float) -> tuple[list[str], float]:
    """Return the title and the key figures, and where they end."""
    name = plain(doc.get("name") or "study")
    parts = [text(20, 30, name if len(name) <= 90 else name[:89] + "…", style="title")]
    facts = [f"{label}: {value}" for label, value in (*summary_facts(doc), *terrain_facts(doc))]
    at, most = 50.0, int((width - 40) / CHAR_PX)
    for told in standing_lines(doc):
        for line in wrapped(told, most):
            parts.append(text(20, at, line, style="small strong"))
            at += LINE + 1
    for line in _joined(facts, most):
        parts.append(text(20, at, line, style="small"))
        at += LINE + 1
    return parts, at


def _joined(facts: list[str], width: int) -> list[str]:
    lines: list[str] = []
    for fact in facts:
        if lines and len(lines[-1]) + 5 + len(fact) <= width:
            lines[-1] += "  ·  " + fact
        else:
            lines.append(fact)
    return [piece for line in lines for piece in wrapped(line, width)]


def legend(doc: Document, left: float, right: float, top: float) -> tuple[list[str], float]:
    """Return the key to the lines and signs, in as many rows as it needs, and where it ends."""
    parts = []
    x, y = left, top + 8.0
    for draw, mark_px, words in _legend_items(doc):
        width = mark_px + 6.0 + len(words) * CHAR_PX
        if x > left and x + width > right:
            x, y = left, y + LEGEND_ROW_PX
        parts += [draw(x, y), text(x + mark_px + 6.0, y + 4, words, style="small")]
        x += width + 16.0
    return parts, y + 8.0


LEGEND_ROW_PX = 22.0


def _legend_items(doc: Document) -> list[tuple[Callable[[float, float], str], float, str]]:
    """Return how each entry's mark is drawn at a place, its width [px], and its words."""

    def line(name: str) -> Callable[[float, float], str]:
        def draw(x: float, y: float) -> str:
            case = f'<path class="spancase" d="M{x:.1f} {y:g}h34"/>' if name == "span" else ""
            return f'{case}<path class="{name}" d="M{x:.1f} {y:g}h34"/>'

        return draw

    def sign(shape: str) -> Callable[[float, float], str]:
        return lambda x, y: f'<g transform="translate({x:.1f} {y - 9:g}) scale(.56)">{shape}</g>'

    def marks(x: float, y: float) -> str:
        return (
            f'<path class="mark" d="M{x:.1f} {y + 2:g}l3.5 -5l3.5 5'
            f'M{x + 11:.1f} {y - 3:g}l3.5 5l3.5 -5"/>'
        )

    entries = [("ground", "ground"), ("pipe", "pipe as laid (centre)")]
    if column(doc, "span").any():
        entries.append(("span", "pipe above ground"))
    if column(doc, "assumed").any():
        entries.append(("assumed", "ground assumed (missing in the raster)"))
    entries.append(("static", "static level"))
    if has_flow(doc):
        entries.append(("flowing", "hydraulic grade line, flowing in aged pipe"))
    if surge_lines(doc):
        entries.append(("surge", f"highest, lowest in surge: {shown_surge(doc)}"))
    return [
        *((line(name), 34.0, words) for name, words in entries),
        (sign(sign_shape("vent", "V")), 18.0, "vent, needed"),
        (sign(sign_shape("vent", "V", "half")), 18.0, "take a level first"),
        (sign(sign_shape("vent", "V", "hollow")), 18.0, "advised"),
        (sign(sign_shape("drain", "D")), 18.0, "drain"),
        (marks, 18.0, "high, low of the ground"),
    ]


def bands(
    doc: Document, x_of: Callable[[float], float], left: float, right: float, top: float
) -> tuple[list[str], float]:
    """Return the bands under the graph: pipes, then figures at even stations; and their end."""
    parts, at = _pipe_band(doc, x_of, left, top)
    grades, at = _grade_band(doc, x_of, left, at)
    parts += grades
    units = units_of(doc)
    to_shown = convert(1.0, "station", units)
    station = column(doc, "station_m")
    marks = ticks(0.0, float(station[-1]) * to_shown, TICKS)
    rows: list[tuple[str, Any, Any]] = [
        ("Ground", column(doc, "ground_m"), "elevation"),
        ("Invert", column(doc, "ground_m") - column(doc, "depth_m"), "elevation"),
        ("Depth", column(doc, "depth_m"), "depth"),
        ("Static", column(doc, "static_pressure_kpa") * 1e3, "pressure"),
    ]
    if has_flow(doc):
        rows.append(("Flowing", column(doc, "flowing_pressure_kpa") * 1e3, "pressure"))
    if surge_lines(doc):
        rows.append(("Highest", column(doc, "surge_max_kpa") * 1e3, "pressure"))
    parts.append(
        text(
            left - 32,
            at + 13,
            f"Station [{unit_of('station', units)}]",
            anchor="end",
            style="small strong",
        )
    )
    for mark in marks:
        x = x_of(mark / to_shown)
        parts.append(f'<path class="frame" d="M{x:.1f} {at - 4:.1f}v6"/>')
        parts.append(text(x, at + 13, f"{mark:g}", anchor="middle", style="small strong"))
    for number, (label, values, kind) in enumerate(rows, start=1):
        y = at + 13 + number * ROW
        parts.append(f'<path class="grid" d="M20 {y - 12:.1f}H{right:g}"/>')
        parts.append(
            text(left - 32, y, f"{label} [{unit_of(kind, units)}]", anchor="end", style="small")
        )
        for mark in marks:
            value = float(np.interp(mark / to_shown, station, values))
            parts.append(
                text(
                    x_of(mark / to_shown),
                    y,
                    show(value, kind, units, unit=False),
                    anchor="middle",
                    style="small",
                )
            )
    return parts, at + 13 + (len(rows) + 0.4) * ROW


def _pipe_band(
    doc: Document, x_of: Callable[[float], float], left: float, top: float
) -> tuple[list[str], float]:
    pipes = list(doc.get("pipes") or ())
    if not pipes:
        return [], top + 6.0
    parts = [text(left - 32, top + 15, "Pipe", anchor="end", style="small strong")]
    for number, pipe in enumerate(pipes):
        a, b = x_of(pipe["from_m"]), x_of(pipe["to_m"])
        fill = "#e8eef4" if number % 2 == 0 else "#fff"
        label = plain(pipe["label"])
        room = int((b - a - 8) / CHAR_PX)
        label = label if len(label) <= room else (label[: room - 1] + "…" if room > 4 else "")
        parts.append(
            f'<rect x="{a:.1f}" y="{top:.1f}" width="{b - a:.1f}" height="22" fill="{fill}" '
            f'stroke="#333"><title>{escape(plain(pipe["label"]))}</title></rect>'
        )
        parts.append(text((a + b) / 2, top + 15, label, anchor="middle", style="small"))
    return parts, top + 30.0


def _grade_band(
    doc: Document, x_of: Callable[[float], float], left: float, top: float
) -> tuple[list[str], float]:
    """Return the straights: a rule at each break, grade and length where there is room."""
    units = units_of(doc)
    label = f"Grade [%]; [{unit_of('station', units)}]"
    parts = [text(left - 32, top + 12, label, anchor="end", style="small")]
    for straight in doc["grades"]:
        a, b = x_of(float(straight["from_m"])), x_of(float(straight["to_m"]))
        parts.append(f'<path class="frame" d="M{a:.1f} {top:.1f}v16"/>')
        grade, length = grade_words(straight, units)
        for words in (f"{grade}; {length}", grade):
            if len(words) * CHAR_PX < b - a - 4:
                parts.append(text((a + b) / 2, top + 12, words, anchor="middle", style="small"))
                break
    return parts, top + 24.0


def footer(doc: Document, top: float, width: float) -> tuple[list[str], float]:
    """Return warnings and cautions in two columns, and the height of the whole drawing."""
    column_px = (width - 60) / 2
    room = int(column_px / CHAR_PX)
    blocks: list[tuple[str, list[str]]] = []
    for warning in doc.get("warnings") or ():
        if warning["severity"] != "note":
            at = warning.get("station_m")
            where = f" (station {show(at, 'station', units_of(doc))})" if at is not None else ""
            words = f"{warning['severity'].upper()}: {plainly(warning['message'])}{where}"
            blocks.append(("strong", wrapped(words, int(room * 0.9))))
    blocks += [("", wrapped(plain(item["text"]), room)) for item in doc.get("cautions") or ()]
    total = sum(len(lines) for _, lines in blocks)
    parts = [text(20, top + 12, "Warnings and cautions", style="strong")]
    x, y, used, lowest = 20.0, top + 30.0, 0, top + 30.0
    for style, lines in blocks:
        if used * 2 >= total and x < width / 2:
            x, y = 20.0 + column_px + 20.0, top + 30.0
        for line in lines:
            parts.append(text(x, y, line, style=f"small {style}".strip()))
            y += LINE
        used += len(lines)
        y += 2.0
        lowest = max(lowest, y)
    return parts, lowest + 10.0
