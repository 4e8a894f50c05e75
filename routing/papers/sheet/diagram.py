"""The single-line diagram of the water way: all that stands on the pipe, in order, in rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from routing.fittings import size_text
from routing.papers.document import Document, column, plain, units_of
from routing.papers.layout import spread
from routing.papers.sheet.ink import Anchor, Box, Drawing
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.sketch import caption
from routing.papers.signs import LOOKS, Look, SignKind
from routing.papers.station import station_text
from routing.papers.typeset import cap_height, shortened, text_width
from routing.units import show
from routing.value import dataclass
from routing.words import Said, said

__all__ = ["Stretch", "draw_stretch", "stretches"]

APART = 1.7
"""Least distance between fittings, in sizes of lettering [-]."""
REACH = 8.0
"""Distance of a sign from the line, and of the first and last fitting from its ends [mm]."""
FOOT = 9.0
"""Room below the line for levels and pipes, in sizes of lettering [-]."""

Item = tuple[float, SignKind, str, Look]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A row of the diagram: what stands on the line between two stations, and how high it is."""

    number: int
    count: int
    from_m: float
    to_m: float
    items: Sequence[Item]
    high: float


def stretches(doc: Document, paper: Paper, wide: float) -> list[Stretch]:
    """Return the rows of the diagram, each as wide as told [mm], that hold every fitting."""
    items = sorted(_items(doc), key=lambda item: item[0])
    most = max(int((wide - 2.0 * (16.0 + REACH)) / (APART * paper.small)), 1)
    count = max(-(-len(items) // most), 1)
    cuts = [round(len(items) * row / count) for row in range(count + 1)]
    inner = [(items[cut - 1][0] + items[cut][0]) / 2.0 for cut in cuts[1:-1]]
    ends = [0.0, *inner, float(column(doc, "station_m")[-1])]
    tallest = max((text_width(words, paper.small) for _, _, words, _ in items), default=0.0)
    high = 3.9 * paper.letter + tallest + REACH + FOOT * paper.small
    return [
        Stretch(
            number=row + 1,
            count=count,
            from_m=ends[row],
            to_m=ends[row + 1],
            items=items[cuts[row] : cuts[row + 1]],
            high=high,
        )
        for row in range(count)
    ]


def draw_stretch(ink: Drawing, doc: Document, paper: Paper, box: Box, row: Stretch) -> None:
    """Draw a row of the diagram: the pipe as one line, its fittings at even distances."""
    size, sign = paper.small, 1.5 * paper.letter
    title = "Single-line diagram of the water way, not to scale"
    if row.count > 1:
        title = Said(f"{said(title)}, {said(f'{row.number} of {row.count}')}")
    caption(ink, paper, box, title, ())
    left, right = box.left + 16.0, box.right - 16.0
    line = box.bottom - FOOT * size

    def at_x(station: float) -> float:
        share = (station - row.from_m) / (row.to_m - row.from_m)
        return left + REACH + min(max(share, 0.0), 1.0) * (right - left - 2.0 * REACH)

    ink.line(left, line, right, line, "pipe")
    _draw_ends(ink, doc, row, (left, right, line), (size, sign))
    wanted = [at_x(at) for at, *_ in row.items]
    places = spread(wanted, APART * size, left + 4.0, right - 4.0) if wanted else []
    for (_, kind, words, look), x in zip(row.items, places, strict=True):
        y = line - REACH if kind in ("vent", "tap", "relief") else line + REACH
        if kind in ("valve", "pipe"):
            y = line
        ink.line(x, line, x, y, "fine")
        ink.mark(kind, x, y, sign, look)
        top = line - REACH - sign
        ink.text(x + cap_height(size) / 2.0, top, words, size, anchor="up", layer="diagram")
    base = box.bottom - 3.0
    for pipe in doc.get("pipes") or ():
        if float(pipe["from_m"]) >= row.to_m or float(pipe["to_m"]) <= row.from_m:
            continue
        x0, x1 = at_x(float(pipe["from_m"])), at_x(float(pipe["to_m"]))
        ink.line(x0, base - 3.4, x1, base - 3.4, "fine")
        for x in (x0, x1):
            ink.line(x, base - 4.4, x, base - 2.4, "fine")
        label = shortened(plain(pipe["label"]), size, x1 - x0 - 1.0)
        if len(label) > 3:
            ink.text((x0 + x1) / 2.0, base, label, size, anchor="middle", layer="diagram")


def _draw_ends(
    ink: Drawing,
    doc: Document,
    row: Stretch,
    places: tuple[float, float, float],
    sizes: tuple[float, float],
) -> None:
    """Draw intake and powerhouse with their levels; where the line goes on, its station."""
    (left, right, line), (size, sign) = places, sizes
    foot = line + 10.5 + size
    ends: tuple[tuple[SignKind, float, float, bool, float, Anchor], ...] = (
        ("intake", left, -1.0, row.number == 1, row.from_m, "start"),
        ("powerhouse", right, 1.0, row.number == row.count, row.to_m, "end"),
    )
    for kind, x, way, is_end, station, anchor in ends:
        if is_end:
            level = doc["summary"][f"{'intake' if kind == 'intake' else 'outlet'}_level_m"]
            ink.mark(kind, x + 3.0 * way, line, sign)
            words = show(level, "elevation", units_of(doc))
        else:
            ink.line(x, line - 3.0, x, line + 3.0, "match")
            words = station_text(doc, station)
        ink.text(x + 6.0 * way, foot, words, size, anchor=anchor, layer="diagram")


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
