"""The sheets of a study as layouts of a DXF: paper spaces in mm, true to the printed ones."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely

from routing.arrays import FloatArray
from routing.papers.document import Document
from routing.papers.sheet.ink import Drawing, Label, Shape
from routing.papers.sheet.issue import SheetDrawing, sheet_set
from routing.papers.sheet.paper import FILING_MARGIN, MARGIN, Paper, paper_of
from routing.papers.sheet.style import STYLE
from routing.papers.typeset import cap_height

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["SHEET_LAYERS", "STYLE_NAME", "add_sheets", "layout_name"]

STYLE_NAME = "LEATLINE"
"""Style of all lettering; its font is one that every drawing program has or replaces."""
_RULE = re.compile(r"\.(\w+)\{([^}]*)\}")
_WIDTHS = (0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100, 106, 120)
"""Line weights that the format knows [0.01 mm]: DXF reference, group code 370."""
_SUBJECT = {
    **dict.fromkeys(("contour", "contourindex"), "CONTOURS"),
    **dict.fromkeys(("pipe", "beyond", "spancase", "spancore", "wall"), "PIPE"),
    **dict.fromkeys(("static", "flowing", "surge", "rating", "test"), "HEADS"),
    **dict.fromkeys(("stream", "boundary", "nogo", "road", "service", "parcel"), "LAND"),
    **dict.fromkeys(("protected", "rightofway", "water", "groundclass"), "LAND"),
    **dict.fromkeys(("ground", "trench", "earth", "sand"), "GROUND"),
    **dict.fromkeys(("frame", "border", "thin", "match", "break"), "FRAME"),
    **dict.fromkeys(("hair", "fine", "tick"), "FINE"),
    **dict.fromkeys(("cloud", "revision"), "REVISION"),
    **dict.fromkeys(("edge", "centre", "hidden", "cut", "concrete"), "DETAIL"),
}
"""Layer of a sheet by the class of the drawing, each after ``SHEET-``."""
SHEET_LAYERS = tuple(sorted({f"SHEET-{name}" for name in (*_SUBJECT.values(), "TEXT", "OTHER")}))
LINE_TYPES = {
    "2.2 .9": "DASHED",
    "5 1 .8 1": "DASHDOT",
    "6 1.2 1.2 1.2": "DASHDOT",
    "7 1.4 1.4 1.4 1.4 1.4": "DIVIDE",
    ".9 .8": "DOT",
    ".5 .7": "DOT",
}
"""Line types of the format for the dashes of the drawing; others are dashed."""
ALIGNED = {"middle": 1, "end": 2}
"""Group 72 of lettering that is set by its middle or its end."""


class Look(NamedTuple):
    """How a class is drawn: layer, colour as 0xRRGGBB, line weight, line type, fill."""

    layer: str
    colour: int | None
    weight: int
    line_type: str
    fill: int | None


def add_sheets(
    drawing: Any,
    doc: Document,
    contours: Sequence[DrawnContour] = (),
    relief: Relief | None = None,
) -> None:
    """Add a layout for every sheet of a study, at the scale of the paper."""
    paper = paper_of(doc)
    for name in SHEET_LAYERS:
        drawing.layers.add(name, color=7)
    looks = dict(_looks())
    used: set[str] = set()
    unit = _unit(drawing)
    for number, sheet in enumerate(sheet_set(doc, paper, relief, contours), start=1):
        _sheet(drawing, sheet, paper, layout_name(number, sheet.title, used), looks, unit)


def layout_name(number: int, title: str, used: set[str]) -> str:
    """Return a name of a layout that the format allows, with the number of its sheet.

    >>> layout_name(3, "Plan and profile, station 0+000.0 to 0+300.0", set())
    '03 Plan and profile station 0+0'
    """
    kept = re.sub(r"[<>/\\\\\":;?*|,=`]", "", f"{number:02d} {title}")[:31].strip()
    used.add(kept)
    return kept


def _sheet(
    drawing: Any,
    sheet: SheetDrawing,
    paper: Paper,
    name: str,
    looks: dict[str, Look],
    unit: float,
) -> None:
    space = drawing.layouts.new(name)
    space.page_setup(size=(paper.width, paper.height), margins=(0, 0, 0, 0), units="mm")
    ink: Drawing = sheet.ink
    for shape in ink.shapes:
        _shape(space, shape, paper, looks[shape.style])
    for mark in ink.marks:
        block = mark.kind.upper() if mark.kind.upper() in drawing.blocks else "END"
        place = _at(np.array([[mark.x, mark.y]]), paper)[0]
        scale = mark.size / 2.0 / unit
        space.add_blockref(
            block,
            tuple(place),
            dxfattribs={"layer": "SHEET-OTHER", "xscale": scale, "yscale": scale},
        )
    for label in ink.labels:
        _text(space, label, paper)


def _unit(drawing: Any) -> float:
    """Return the half size of a block's shape in its own units."""
    return float(drawing.blocks.get("VENT").query("LWPOLYLINE")[0].get_points()[2][1])


def _at(points: FloatArray, paper: Paper) -> FloatArray:
    """Return places of the drawing, y downwards from its frame, as places of the page."""
    x = FILING_MARGIN + points[:, 0]
    return np.column_stack([x, paper.height - MARGIN - points[:, 1]])


def _shape(space: Any, shape: Shape, paper: Paper, look: Look) -> None:
    given: dict[str, Any] = {"layer": look.layer, "linetype": look.line_type}
    if look.weight:
        given["lineweight"] = look.weight
    if look.colour is not None:
        given["true_color"] = look.colour
    for points in _cut(shape):
        places = _at(points, paper).round(3).tolist()
        if look.fill is not None and shape.closed:
            hatch = space.add_hatch(dxfattribs={"layer": look.layer, "true_color": look.fill})
            hatch.paths.add_polyline_path(places, is_closed=True)
        if look.colour is not None:
            space.add_lwpolyline(places, close=shape.closed, dxfattribs=given)


def _cut(shape: Shape) -> Iterator[FloatArray]:
    """Return a shape's points, cut by its box where it has one."""
    if shape.clip is None:
        yield shape.points
        return
    box = shapely.box(shape.clip.left, shape.clip.top, shape.clip.right, shape.clip.bottom)
    if shape.closed and len(shape.points) > 2:
        whole: Any = shapely.make_valid(shapely.Polygon(shape.points))
    else:
        whole = shapely.LineString(shape.points)
    left = shapely.intersection(whole, box)
    for part in shapely.get_parts(left):
        if part.geom_type == "Polygon":
            yield np.array(part.exterior.coords)[:-1]
        elif part.geom_type == "LineString" and len(part.coords) > 1:
            yield np.array(part.coords)


def _text(space: Any, label: Label, paper: Paper) -> None:
    x, y = label.at
    place = tuple(_at(np.array([[x, y]]), paper)[0].round(3).tolist())
    given: dict[str, Any] = {"layer": "SHEET-TEXT", "style": STYLE_NAME, "insert": place}
    given["height"] = round(cap_height(label.size), 3)
    if label.anchor == "up":
        given["rotation"] = 90.0
    elif label.anchor in ALIGNED:
        given |= {"halign": ALIGNED[label.anchor], "align_point": place}
    space.add_text(label.text, dxfattribs=given)


def _looks() -> Iterator[tuple[str, Look]]:
    """Return how each class of the sheets' own style is drawn."""
    for name, body in _RULE.findall(STYLE):
        told = dict(part.split(":", 1) for part in body.split(";") if ":" in part)
        stroke, fill = told.get("stroke", "none"), told.get("fill", "none")
        width = float(told.get("stroke-width", ".13"))
        dashes = told.get("stroke-dasharray")
        faint = float(told.get("fill-opacity", "1")) < 0.5
        yield (
            name,
            Look(
                layer=f"SHEET-{_SUBJECT.get(name, 'OTHER')}",
                colour=None if stroke == "none" else _colour(stroke),
                weight=min(_WIDTHS, key=lambda known: abs(known - 100.0 * width)),
                line_type=LINE_TYPES.get(dashes, "DASHED") if dashes else "CONTINUOUS",
                fill=None if fill == "none" or faint else _colour(fill),
            ),
        )


def _colour(text: str) -> int:
    digits = text.lstrip("#")
    if len(digits) == 3:
        digits = "".join(2 * digit for digit in digits)
    return int(digits, 16)
