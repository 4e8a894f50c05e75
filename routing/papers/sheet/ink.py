"""A drawing in millimetres, and the boxes that its labels take up."""

from __future__ import annotations

from dataclasses import dataclass, field
from html import escape
from typing import Literal

import numpy as np

from routing.arrays import FloatArray, stretches
from routing.papers.typeset import DESCENT, FAMILIES, cap_height, text_width

__all__ = ["Box", "Drawing", "Label", "path_of"]

Anchor = Literal["start", "middle", "end", "up"]

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A line of text as it was drawn; what tests of overlap look at."""

    text: str
    box: Box
    layer: str


@dataclass(slots=True)
class Drawing:
    """SVG elements as they are added, with the boxes of all text."""

    width: float
    height: float
    parts: list[str] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def add(self, *elements: str) -> None:
        """Add SVG elements."""
        self.parts.extend(elements)

    def line(self, x1: float, y1: float, x2: float, y2: float, style: str) -> None:
        """Add a straight line; ``style`` is one of the drawing's classes."""
        self.parts.append(
            f'<line x1="{x1:.3f}" y1="{y1:.3f}" x2="{x2:.3f}" y2="{y2:.3f}" class="{style}"/>'
        )

    def rect(self, box: Box, style: str) -> None:
        """Add a rectangle."""
        self.parts.append(
            f'<rect x="{box.left:.3f}" y="{box.top:.3f}" width="{box.right - box.left:.3f}" '
            f'height="{box.bottom - box.top:.3f}" class="{style}"/>'
        )

    def path(self, x: FloatArray, y: FloatArray, style: str, *, close: bool = False) -> None:
        """Add a line through points; NaN lifts the pen."""
        data = path_of(x, y)
        if data:
            self.parts.append(f'<path d="{data}{"Z" if close else ""}" class="{style}"/>')

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
        width, high = text_width(words, size, bold=bold), cap_height(size)
        turn = ends = ""
        if anchor == "up":
            box = Box(x - high, y - width, x + DESCENT * size, y)
            turn = f' transform="rotate(-90 {x:.3f} {y:.3f})"'
        else:
            start = x - {"start": 0.0, "middle": width / 2.0, "end": width}[anchor]
            box = Box(start, y - high, start + width, y + DESCENT * size)
            ends = "" if anchor == "start" else f' text-anchor="{anchor}"'
        weight = ' font-weight="600"' if bold else ""
        shown = ' class="halo"' if halo else ""
        self.parts.append(
            f'<text x="{x:.3f}" y="{y:.3f}" font-size="{size:.3f}"{weight}{shown}{ends}{turn}>'
            f"{escape(words)}</text>"
        )
        if words:
            self.labels.append(Label(text=words, box=box, layer=layer))
        return box

    def clip(self, name: str, box: Box) -> None:
        """Begin a group that shows only what lies in a box; ``add("</g>")`` ends it."""
        self.parts.append(
            f'<clipPath id="{name}"><rect x="{box.left:.3f}" y="{box.top:.3f}" '
            f'width="{box.right - box.left:.3f}" height="{box.bottom - box.top:.3f}"/></clipPath>'
            f'<g clip-path="url(#{name})">'
        )

    def svg(self, style: str) -> str:
        """Return the drawing as SVG at its true size."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{self.width:g}mm" '
            f'height="{self.height:g}mm" viewBox="0 0 {self.width:g} {self.height:g}" '
            f'font-family="{_LETTERING}"><style>{style}</style>{"".join(self.parts)}</svg>'
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
