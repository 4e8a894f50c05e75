"""A drawing in millimetres, and the boxes that its labels take up."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import field
from html import escape
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from routing.arrays import FloatArray, stretches
from routing.papers.sheet.style import mark
from routing.papers.signs import Look, SignKind
from routing.papers.typeset import DESCENT, FAMILIES, cap_height, text_width
from routing.value import dataclass
from routing.words import said, spoken

if TYPE_CHECKING:
    from routing.papers.sheet.view import Placed

__all__ = ["Anchor", "Box", "Drawing", "Label", "Mark", "Shape", "Table", "path_of", "svg_text"]

Anchor = Literal["start", "middle", "end", "up"]
OPPOSITE: dict[Anchor, Anchor] = {"start": "end", "middle": "middle", "end": "start"}
"""Which end of a line of text stands at its place where that is measured from the right."""

CIRCLE_POINTS = 24
"""Corners by which other formats draw a circle [-]."""
JOINED = re.compile("[\u0600-\u077f\u0900-\u097f]")
"""Arabic and Devanagari, whose letters join: SVG spaces them badly, so the page sets such text."""
_LETTERING = ", ".join(f"'{name}'" for name in FAMILIES)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on the drawing [mm], y downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def grown(self, by: float) -> Box:
        """Return the box with a margin all round."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def turned(self, within: Box) -> Box:
        """Return the box as far from the right of another as it is from its left."""
        edges = within.left + within.right
        return Box(edges - self.right, self.top, edges - self.left, self.bottom)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A line of text as it was drawn: tests of overlap look at it, other formats write it anew."""

    text: str
    box: Box
    layer: str
    at: tuple[float, float]
    size: float
    anchor: Anchor
    bold: bool
    halo: bool = False
    in_table: bool = False
    """Whether a table of the page sets it, so that it is no part of the SVG."""

    @property
    def joined(self) -> bool:
        """Whether its letters join, so that it is no part of the SVG: the page sets it."""
        return JOINED.search(self.text) is not None


class Shape(NamedTuple):
    """A line as it was drawn: its points [mm], its class, and the box that cuts it."""

    points: FloatArray
    style: str
    closed: bool
    clip: Box | None


class Table(NamedTuple):
    """A table as it was drawn: its corner, widths and heights [mm], and what stands in each cell.

    The page sets it as one, with its first row as heads, so that readers aloud find their way.
    """

    left: float
    top: float
    widths: Sequence[float]
    heights: Sequence[float]
    rows: Sequence[Sequence[Sequence[Label]]]


class Mark(NamedTuple):
    """A sign as it was drawn."""

    kind: SignKind
    x: float
    y: float
    size: float


@dataclass(slots=True)
class Drawing:
    """SVG elements as they are added, with all that was drawn as plain values beside them."""

    width: float
    height: float
    parts: list[str] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    plans: list[Placed] = field(default_factory=list)
    _clip: Box | None = None
    _edges: float | None = None
    """Sum of left and right edge where all is measured from the right [mm]."""

    @contextmanager
    def reading(self, box: Box) -> Iterator[None]:
        """Draw what stands in a box from the right where the paper's language runs that way."""
        before = self._edges
        self._edges = box.left + box.right if spoken()[1] == "rtl" else None
        try:
            yield
        finally:
            self._edges = before

    def _x(self, x: float) -> float:
        return x if self._edges is None else self._edges - x

    def _begun(self, x: float, anchor: Anchor) -> tuple[float, Anchor]:
        """Return where a line of text is set and by which of its ends."""
        if self._edges is None or anchor == "up":
            return x, anchor
        return self._x(x), OPPOSITE[anchor]

    def add(self, *elements: str) -> None:
        """Add SVG elements that only the SVG shows, such as a picture."""
        self.parts.extend(elements)

    def line(self, x1: float, y1: float, x2: float, y2: float, style: str) -> None:
        """Add a straight line; ``style`` is one of the drawing's classes."""
        x1, x2 = self._x(x1), self._x(x2)
        self.parts.append(
            f'<line x1="{x1:.3f}" y1="{y1:.3f}" x2="{x2:.3f}" y2="{y2:.3f}" class="{style}"/>'
        )
        self._shape([(x1, y1), (x2, y2)], style)

    def rect(self, box: Box, style: str) -> None:
        """Add a rectangle."""
        if self._edges is not None:
            box = Box(self._x(box.right), box.top, self._x(box.left), box.bottom)
        self.parts.append(
            f'<rect x="{box.left:.3f}" y="{box.top:.3f}" width="{box.right - box.left:.3f}" '
            f'height="{box.bottom - box.top:.3f}" class="{style}"/>'
        )
        corners = [(box.left, box.top), (box.right, box.top)]
        corners += [(box.right, box.bottom), (box.left, box.bottom)]
        self._shape(corners, style, closed=True)

    def circle(self, x: float, y: float, radius: float, style: str) -> None:
        """Add a circle."""
        x = self._x(x)
        self.parts.append(f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{radius:.3f}" class="{style}"/>')
        turn = np.linspace(0.0, 2.0 * np.pi, CIRCLE_POINTS, endpoint=False)
        points = np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)])
        self._shape(points, style, closed=True)

    def path(self, x: FloatArray, y: FloatArray, style: str, *, close: bool = False) -> None:
        """Add a line through points; NaN lifts the pen."""
        x = x if self._edges is None else self._edges - x
        data = path_of(x, y)
        if not data:
            return
        self.parts.append(f'<path d="{data}{"Z" if close else ""}" class="{style}"/>')
        for first, last in stretches(np.isfinite(x) & np.isfinite(y)):
            if last > first:
                part = slice(first, last + 1)
                self._shape(np.column_stack([x[part], y[part]]), style, closed=close)

    def poly(
        self, points: Sequence[tuple[float, float]], style: str, *, close: bool = True
    ) -> None:
        """Add a line through a few points, closed unless told otherwise."""
        x, y = np.array(points, dtype=np.float64).T
        self.path(x, y, style, close=close)

    def mark(self, kind: SignKind, x: float, y: float, size: float, look: Look = "solid") -> None:
        """Add a sign with its middle at a place."""
        x = self._x(x)
        self.parts.append(mark(kind, x, y, size, look))
        self.marks.append(Mark(kind, x, y, size))

    def _shape(self, points: ArrayLike, style: str, *, closed: bool = False) -> None:
        self.shapes.append(Shape(np.asarray(points, np.float64), style, closed, self._clip))

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        *,
        anchor: Anchor = "start",
        bold: bool = False,
        halo: bool = False,
        layer: str = "text",
    ) -> Box:
        """Add a line of text with its baseline at (x, y), where "up" runs up the sheet."""
        x, anchor = self._begun(x, anchor)
        label = _label(x, y, said(words), size, anchor, layer, bold=bold, halo=halo)
        if label.text:
            self.labels.append(label)
        if not label.joined:
            self.parts.append(svg_text(label))
        return label.box

    def cell_text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        *,
        anchor: Anchor = "start",
        bold: bool = False,
        layer: str = "text",
    ) -> Label:
        """Add a line of text that a table of the page sets, and return it for its cell."""
        x, anchor = self._begun(x, anchor)
        label = _label(x, y, said(words), size, anchor, layer, bold=bold, in_table=True)
        if label.text:
            self.labels.append(label)
        return label

    def clip(self, name: str, box: Box) -> None:
        """Begin a group that shows only what lies in a box; :meth:`unclip` ends it."""
        self._clip = box
        self.parts.append(
            f'<clipPath id="{name}"><rect x="{box.left:.3f}" y="{box.top:.3f}" '
            f'width="{box.right - box.left:.3f}" height="{box.bottom - box.top:.3f}"/></clipPath>'
            f'<g clip-path="url(#{name})">'
        )

    def unclip(self) -> None:
        """End the group that :meth:`clip` began."""
        self._clip = None
        self.parts.append("</g>")

    def extent(self) -> Box:
        """Return the box of all lines and letters drawn so far."""
        corners = [(label.box.left, label.box.top) for label in self.labels]
        corners += [(label.box.right, label.box.bottom) for label in self.labels]
        points = np.vstack([*(shape.points for shape in self.shapes), np.reshape(corners, (-1, 2))])
        low, high = points.min(axis=0), points.max(axis=0)
        return Box(float(low[0]), float(low[1]), float(high[0]), float(high[1]))

    def svg(self, style: str) -> str:
        """Return the drawing as SVG at its true size."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{self.width:g}mm" '
            f'height="{self.height:g}mm" viewBox="0 0 {self.width:g} {self.height:g}" '
            f'font-family="{_LETTERING}"><style>{style}</style>{"".join(self.parts)}</svg>'
        )


def _label(
    x: float,
    y: float,
    words: str,
    size: float,
    anchor: Anchor,
    layer: str,
    **more: bool,
) -> Label:
    """Return a line of text with the box it takes up."""
    width, high = text_width(words, size, bold=more["bold"]), cap_height(size)
    if anchor == "up":
        box = Box(x - high, y - width, x + DESCENT * size, y)
    else:
        start = x - {"start": 0.0, "middle": width / 2.0, "end": width}[anchor]
        box = Box(start, y - high, start + width, y + DESCENT * size)
    return Label(text=words, box=box, layer=layer, at=(x, y), size=size, anchor=anchor, **more)


def svg_text(label: Label) -> str:
    """Return a line of text as SVG."""
    x, y = label.at
    weight = ' font-weight="600"' if label.bold else ""
    shown = ' class="halo"' if label.halo else ""
    turn = f' transform="rotate(-90 {x:.3f} {y:.3f})"' if label.anchor == "up" else ""
    ends = f' text-anchor="{label.anchor}"' if label.anchor in ("middle", "end") else ""
    return (
        f'<text x="{x:.3f}" y="{y:.3f}" font-size="{label.size:.3f}"{weight}{shown}{ends}{turn}>'
        f"{escape(label.text)}</text>"
    )


def path_of(x: FloatArray, y: FloatArray) -> str:
    """Return points as an SVG path to a hundredth of a millimetre.

    >>> path_of(np.array([0.0, 1.5]), np.array([2.0, 2.25]))
    'M0.00 2.00L1.50 2.25'
    """
    good = np.isfinite(x) & np.isfinite(y)
    pieces: list[str] = []
    for first, last in stretches(good):
        piece = range(first, last + 1)
        if len(piece) > 1:
            places = np.column_stack([x[piece], y[piece]]).ravel().tolist()
            pieces.append("M" + "L".join(["%.2f %.2f"] * len(piece)) % tuple(places))
    return "".join(pieces)
