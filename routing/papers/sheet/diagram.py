"""The single-line diagram of the water way: everything that stands on the pipe, in order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from routing.fittings import size_text
from routing.papers.document import Document, column, plain, units_of
from routing.papers.layout import spread
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.sketch import caption
from routing.papers.signs import LOOKS, Look, SignKind
from routing.papers.station import station_text
from routing.papers.typeset import cap_height, shortened, text_width
from routing.units import show

__all__ = ["draw_diagram"]

Item = tuple[float, SignKind, str, Look]


def draw_diagram(ink: Drawing, doc: Document, paper: Paper, box: Box) -> None:
    """Draw the pipe as one line with its fittings at even distances, not to scale."""
    units, size, sign = units_of(doc), paper.small, 1.5 * paper.letter
    caption(ink, paper, box, "Single-line diagram of the water way, not to scale", ())
    left, right = box.left + 16.0, box.right - 16.0
    length = float(column(doc, "station_m")[-1])
    items = sorted(_items(doc), key=lambda item: item[0])
    tallest = max((text_width(words, size) for _, _, words, _ in items), default=0.0)
    line = min(box.top + 2.4 * paper.letter + tallest + 8.0 + sign, box.bottom - 9.0 * size)
    most = int((right - left - 16.0) / (1.7 * size))
    note = ""
    if len(items) > most:
        kept = _foremost(items, most)
        note = f"{len(items) - len(kept)} of {len(items)} fittings are left out for want of room."
        items = kept
    ink.line(left, line, right, line, "pipe")
    ink.mark("intake", left - 3.0, line, sign)
    ink.mark("powerhouse", right + 3.0, line, sign)
    summary = doc["summary"]
    above, below = (show(summary[f"{end}_level_m"], "elevation", units)
                    for end in ("intake", "outlet"))  # fmt: skip
    foot = line + 10.5 + size
    ink.text(left - 6.0, foot, above, size, layer="diagram")
    ink.text(right + 6.0, foot, below, size, anchor="end", layer="diagram")
    wanted = [left + 8.0 + at / length * (right - left - 16.0) for at, *_ in items]
    places = spread(wanted, 1.7 * size, left + 4.0, right - 4.0) if items else []
    for (_, kind, words, look), x in zip(items, places, strict=True):
        y = line - 8.0 if kind in ("vent", "tap", "relief") else line + 8.0
        if kind in ("valve", "pipe"):
            y = line
        ink.line(x, line, x, y, "fine")
        ink.mark(kind, x, y, sign, look)
        top = line - 8.0 - sign
        ink.text(x + cap_height(size) / 2.0, top, words, size, anchor="up", layer="diagram")
    for pipe in doc.get("pipes") or ():
        x0 = left + 8.0 + float(pipe["from_m"]) / length * (right - left - 16.0)
        x1 = left + 8.0 + float(pipe["to_m"]) / length * (right - left - 16.0)
        base = box.bottom - 3.0 - (1.4 * size if note else 0.0)
        ink.line(x0, base - 3.4, x1, base - 3.4, "fine")
        for x in (x0, x1):
            ink.line(x, base - 4.4, x, base - 2.4, "fine")
        said = shortened(plain(pipe["label"]), size, x1 - x0 - 1.0)
        if len(said) > 3:
            ink.text((x0 + x1) / 2.0, base, said, size, anchor="middle", layer="diagram")
    if note:
        ink.text(box.left + 1.5, box.bottom - 1.4, note, size, layer="diagram")


def _foremost(items: Sequence[Item], most: int) -> list[Item]:
    """Return as many items as there is room for: all that shut or relieve, the others evenly."""
    held = {at for at, item in enumerate(items) if item[1] in ("valve", "relief")}
    others = [at for at in range(len(items)) if at not in held]
    wanted = min(max(most - len(held), 0), len(others))
    chosen = {others[at] for at in np.linspace(0, len(others) - 1, wanted).round().astype(int)}
    return [item for at, item in enumerate(items) if at in held | chosen][:most]


_LISTED: tuple[tuple[SignKind, str], ...] = (
    ("vent", "vents"),
    ("drain", "drains"),
    ("valve", "valves"),
    ("tap", "taps"),
    ("relief", "relief_valves"),
)


def _items(doc: Document) -> Iterator[Item]:
    for kind, key in _LISTED:
        for each in doc.get(key) or ():
            at = float(each["station_m"])
            words = f"{plain(each['id'])} · {station_text(doc, at)}"
            if each.get("size_mm") is not None:
                words += f" · {size_text(float(each['size_mm']) / 1000.0, units_of(doc))}"
            yield at, kind, words, LOOKS.get(str(each.get("need")), "solid")
