"""The title strip of a sheet: where figures come from, revisions, title block, who signed."""

from __future__ import annotations

from collections.abc import Iterator

from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_rows, sheet_text, signed, status
from routing.papers.plane import SurveySystem
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.revision import changed, revision_rows
from routing.papers.typeset import cap_height, shortened, text_width, wrapped
from routing.units import show
from routing.words import Said, said

__all__ = ["draw_strip", "project_name"]

FACTS, OWN, REVISIONS, TITLE = 1.0, 0.42, 0.62, 1.15
"""Shares of the strip's width [-]; one's own logo and rows only where they are given."""
ROWS = (1.25, 1.15, 1.0, 0.8)
"""Shares of the strip's height that the rows of the title block take [-]."""
MOST_REVISIONS = 4
"""Revisions shown, the newest first; all stand in the report [-]."""
PAD = 1.0
"""Room between a rule and its text [mm]."""
OVER = 1.0
"""Room between a cell's upper rule and its capitals [mm]: Devanagari and Arabic stand higher."""


def project_name(doc: Document) -> str:
    """Return the name on every paper."""
    return sheet_text(doc, "project") or Said(plain(doc.get("name") or "study"))


def draw_strip(
    ink: Drawing,
    doc: Document,
    survey: SurveySystem,
    paper: Paper,
    sheet: tuple[str, str, str],
) -> None:
    """Draw the strip along the foot of a sheet; ``sheet`` is its title, scale and number."""
    top, bottom = paper.frame_height, paper.frame_height + paper.strip
    own = OWN if sheet_rows(doc) or sheet_text(doc, "logo") else 0.0
    unit = paper.frame_width / (FACTS + own + REVISIONS + TITLE)
    first, second = unit * (FACTS + own), unit * (FACTS + own + REVISIONS)
    # The boxes stand where ISO 7200 has them, their words run as the language does.
    facts, rows = Box(0.0, top, unit * FACTS, bottom), Box(unit * FACTS, top, first, bottom)
    changes, block = Box(first, top, second, bottom), Box(second, top, paper.frame_width, bottom)
    with ink.reading(facts):
        _facts(ink, doc, survey, paper, facts)
    with ink.reading(rows):
        if own:
            _own(ink, doc, paper, rows)
    with ink.reading(changes):
        _revisions(ink, doc, paper, changes)
    with ink.reading(block):
        _title(ink, doc, paper, block, sheet)
    for edge in dict.fromkeys((facts.right, first, second)):
        ink.line(edge, top, edge, bottom, "frame")
    ink.rect(Box(0.0, 0.0, paper.frame_width, bottom), "border")
    ink.line(0.0, top, paper.frame_width, top, "frame")


def _facts(ink: Drawing, doc: Document, survey: SurveySystem, paper: Paper, box: Box) -> None:
    size, step = paper.small, 1.34 * paper.small
    rows = list(_sources(doc, survey))
    left = box.left + PAD + max(text_width(words, size) for words, _ in rows) + 2.0
    y = box.top + PAD + cap_height(size) + 0.4
    for words, value in rows:
        lines = wrapped(value, size, box.right - left - PAD)
        if y + step * (len(lines) - 1) > box.bottom - PAD:
            lines = lines[:1]
        if y > box.bottom - PAD:
            break
        ink.text(box.left + PAD, y, words, size, layer="strip")
        for line in lines[:2]:
            ink.text(left, y, line, size, layer="strip")
            y += step


def _sources(doc: Document, survey: SurveySystem) -> Iterator[tuple[str, str]]:
    terrain, summary, units = doc["terrain"], doc["summary"], units_of(doc)
    error, flow = terrain.get("rmse_m"), summary.get("flow_m3_s")
    source = ", ".join(plain(name) for name in terrain.get("files") or ()) or "raster"
    told = show(error, "depth", units) if error is not None else "not stated"
    generator = doc.get("generator") or {}
    maker = " ".join(plain(generator.get(key) or "") for key in ("name", "version"))
    yield "Coordinates", f"{survey.name}, in {survey.unit_on(units)}; {survey.chosen}"
    yield "Vertical datum", plain(terrain.get("vertical_datum") or "not stated: as in the raster")
    cell = show(terrain.get("cell_m"), "length", units)
    yield "Terrain", Said(f"{source}; {said(f'cell {cell}; error (RMSE) {told}')}")
    yield "Intake level", show(summary["intake_level_m"], "elevation", units)
    yield "Design flow", show(flow, "flow", units) if flow is not None else "none given"
    yield "Stations", "distance in plan from the intake (WGS 84 ellipsoid)"
    yield "Made with", f"{maker} from the study “{plain(doc.get('name') or 'study')}”"


def _own(ink: Drawing, doc: Document, paper: Paper, box: Box) -> None:
    """Set the logo as large as the rows of one's own beneath it allow, and these rows."""
    size, rows = paper.small, sheet_rows(doc)
    step = 1.34 * size
    foot = box.bottom - PAD
    top = foot - len(rows) * step
    for number, (label, words) in enumerate(rows):
        base = top + number * step + cap_height(size) + 0.3
        said_label = shortened(f"{label}:", size, 0.5 * (box.right - box.left))
        ink.text(box.left + PAD, base, said_label, size, layer="strip")
        left = box.left + PAD + text_width(said_label, size) + 1.0
        ink.text(left, base, Said(shortened(words, size, box.right - left - PAD)), size,
                 layer="strip")  # fmt: skip
    if logo := sheet_text(doc, "logo"):
        high = max(top - box.top - 2.0 * PAD, 1.0)
        ink.add(
            f'<image x="{box.left + PAD:.3f}" y="{box.top + PAD:.3f}" '
            f'width="{box.right - box.left - 2.0 * PAD:.3f}" height="{high:.3f}" '
            f'preserveAspectRatio="xMidYMid meet" href="{logo}"/>'
        )


def _revisions(ink: Drawing, doc: Document, paper: Paper, box: Box) -> None:
    size, high = paper.small, (box.bottom - box.top) / (MOST_REVISIONS + 1)
    wide = box.right - box.left
    date = text_width("2026-11-25", size) + 2.0 * PAD
    edges = [box.left, box.left + 8.0, box.left + 8.0 + date, box.right - 0.16 * wide, box.right]
    rows = [["rev", "date", "what changed", "by"]]
    newest = list(reversed(revision_rows(doc)))[:MOST_REVISIONS]
    rows += [[row[key] for key in ("mark", "date", "text", "by")] for row in newest]
    for number in range(MOST_REVISIONS + 1):
        y = box.top + number * high
        ink.line(box.left, y, box.right, y, "fine")
        base = y + (high + cap_height(size)) / 2.0
        for column, words in enumerate(rows[number] if number < len(rows) else ()):
            room = edges[column + 1] - edges[column] - 1.5 * PAD
            said = shortened(words, size, room)
            ink.text(edges[column] + 0.75 * PAD, base, said, size, layer="strip")
    if newest and changed(doc):
        side = min(high - 0.6, 2.2 * size)
        left, top = edges[1] - side - 0.3, box.top + high + (high - side) / 2.0
        ink.poly([(left, top + side), (left + side, top + side), (left + side / 2.0, top)],
                 "cloud")  # fmt: skip
    for edge in edges[1:-1]:
        ink.line(edge, box.top, edge, box.bottom, "fine")


def _title(
    ink: Drawing, doc: Document, paper: Paper, box: Box, sheet: tuple[str, str, str]
) -> None:
    title, scale, number = sheet
    quarter, high = (box.right - box.left) / 4.0, (box.bottom - box.top) / sum(ROWS)
    cells: list[list[tuple[int, str, str, bool]]] = [
        [(3, "project", project_name(doc), True), (1, "owner", sheet_text(doc, "owner"), False)],
        [(3, "drawing", title, True), (1, "number", sheet_text(doc, "number"), False)],
        [
            (1, f"scale on {paper.name}", scale, False),
            *((1, key, sheet_text(doc, key), False) for key in ("drawn", "checked", "date")),
        ],
    ]
    y = box.top
    for row, share in zip(cells, ROWS, strict=False):
        x, bottom = box.left, y + share * high
        for span, label, words, bold in row:
            cell = Box(x, y, x + span * quarter, bottom)
            _cell(ink, paper, cell, label, words, bold=bold)
            x = cell.right
        y = bottom
    edge = box.left + 3.0 * quarter
    mark = Box(box.left, y, edge, box.bottom)
    ink.rect(mark, "white" if signed(doc) else "shade")
    for each in (mark, Box(edge, y, box.right, box.bottom)):
        ink.rect(each, "thin")
    size = paper.letter
    base = (y + box.bottom + cap_height(size)) / 2.0
    said = shortened(status(doc), size, edge - box.left - 2.0 * PAD, bold=True)
    ink.text(box.left + PAD, base, said, size, bold=True, layer="strip")
    ink.text(box.right - PAD, base, number, size, bold=True, anchor="end", layer="strip")


def _cell(ink: Drawing, paper: Paper, box: Box, label: str, words: str, *, bold: bool) -> None:
    ink.rect(box, "thin")
    size, room = paper.small, box.right - box.left - 1.6 * PAD
    x = box.left + 0.8 * PAD
    named = shortened(label, size, room)
    ink.text(x, box.top + OVER + cap_height(size), named, size, layer="strip")
    large = paper.letter
    below = box.top + OVER + 1.32 * size
    lines = wrapped(words, large, room, bold=bold)
    fit = max(int((box.bottom - 0.5 - below) / (1.2 * large)), 1)
    if len(lines) > fit:
        last = " ".join(lines[fit - 1 :])
        lines = [*lines[: fit - 1], shortened(last, large, room, bold=bold)]
    for number, line in enumerate(lines):
        base = below + cap_height(large) + number * 1.2 * large
        ink.text(x, base, line, large, bold=bold, layer="strip")
