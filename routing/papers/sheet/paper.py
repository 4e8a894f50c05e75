"""Sizes of paper and what lies where on a sheet, in millimetres from the top left of the frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from routing.papers.document import Document, units_of
from routing.papers.given import sheet_text

__all__ = ["PAPERS", "Paper", "paper_of"]

FILING_MARGIN = 20.0
"""Left margin, wide enough to punch [mm]; ISO 5457, Technical product documentation - Sizes and
layout of drawing sheets, 1999, clause 5 (from memory of ISO 5457)."""
MARGIN = 10.0
"""The other margins [mm]; same source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A size of paper with the lettering that suits it; all lengths in mm."""

    name: str
    width: float
    height: float
    letter: float
    """Size of ordinary lettering; its capitals are two thirds as high."""
    strip: float
    """Height of the title strip along the bottom."""

    @property
    def frame_width(self) -> float:
        """Return the width inside the frame."""
        return self.width - FILING_MARGIN - MARGIN

    @property
    def frame_height(self) -> float:
        """Return the height inside the frame, without the title strip."""
        return self.height - 2.0 * MARGIN - self.strip

    @property
    def small(self) -> float:
        """Return the size of the smallest lettering."""
        return 0.82 * self.letter

    @property
    def gutter(self) -> float:
        """Return the room left of the profile for names and elevations."""
        return 9.5 * self.letter

    @property
    def profile_width(self) -> float:
        """Return the greatest width of the profile."""
        return self.frame_width - self.gutter - 3.0 * self.letter

    @property
    def band_height(self) -> float:
        """Return the height of one band beneath the profile."""
        return 1.6 * self.letter

    @property
    def callout_height(self) -> float:
        """Return the height of the strip of callouts above the profile."""
        return 11.2 * self.letter

    @property
    def plan_height(self) -> float:
        """Return the height of the plan."""
        return 0.40 * self.frame_height


PAPERS: Mapping[str, Paper] = {
    "A3": Paper(name="A3", width=420.0, height=297.0, letter=2.75, strip=34.0),
    "A1": Paper(name="A1", width=841.0, height=594.0, letter=3.8, strip=48.0),
    "ANSI B": Paper(name="ANSI B", width=431.8, height=279.4, letter=2.75, strip=34.0),
    "ANSI D": Paper(name="ANSI D", width=863.6, height=558.8, letter=4.85, strip=56.0),
}
"""ISO 216 and ASME Y14.1 sizes. Capitals are 1.8 mm high on the small sheets and 2.5 mm on A1, of
the row of ISO 3098; 3.2 mm (1/8 in) on ANSI D, as municipal rules in the United States ask."""


def paper_of(doc: Document) -> Paper:
    """Return the paper asked for, else A3 for metric studies and ANSI B for US ones."""
    size = sheet_text(doc, "size")
    return PAPERS.get(size) or PAPERS["ANSI B" if units_of(doc) == "us" else "A3"]
