"""The two pictures of the summary: the line on the ground, and from the side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from routing.papers.document import Document
from routing.papers.plane import local_plane
from routing.papers.report.parts import ROOM_MM
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.key import draw_whole_plan, draw_whole_profile
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.style import STYLE

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["map_svg", "profile_svg"]

MAP_MM, PROFILE_MM = 92.0, 78.0
"""Heights of the pictures [mm]."""


def _paper(units: str) -> Paper:
    width = ROOM_MM[units]
    return Paper(name="report", width=width, height=width, letter=2.8, small=2.8, strip=0.0)


def map_svg(
    doc: Document, units: str, relief: Relief | None, contours: Sequence[DrawnContour]
) -> bytes:
    """Return the whole line in plan on the relief of the ground."""
    paper = _paper(units)
    ink = Drawing(paper.width, MAP_MM)
    box = Box(0.2, 0.2, paper.width - 0.2, MAP_MM - 0.2)
    draw_whole_plan(ink, doc, (), paper, local_plane(doc), (relief, contours), box)
    return ink.svg(STYLE).encode()


def profile_svg(doc: Document, units: str) -> bytes:
    """Return the whole line in profile with the levels of the water."""
    paper = _paper(units)
    ink = Drawing(paper.width, PROFILE_MM)
    draw_whole_profile(ink, doc, (), paper, Box(0.0, 0.0, paper.width, PROFILE_MM))
    return ink.svg(STYLE).encode()
