"""Sizes of paper and what lies where on a sheet, in millimetres from the top left of the frame."""

from __future__ import annotations

from collections.abc import Mapping

from routing.papers.document import Document, units_of
from routing.papers.given import sheet_text
from routing.value import dataclass

__all__ = ["PAPERS", "Paper", "paper_of"]

FILING_MARGIN = 20.0
"""Left margin, wide enough to punch [mm]; ISO 5457, Technical product documentation - Sizes and
layout of drawing sheets, 1999, clause 5 (from memory of ISO 5457)."""
MARGIN = 10.0
"""The other margins [mm]; same source."""
PLAN_SHARES = ((290.0, 0.38), (250.0, 0.34), (0.0, 0.27))
"""Height of paper [mm], and the share of the frame that its plan has: low paper keeps a profile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A size of paper with the lettering that suits it; all lengths in mm."""

    name: str
    width: float
    height: float
    letter: float
    """Size of ordinary lettering; its capitals are two thirds as high."""
    small: float
    """Size of the smallest lettering; its capitals are at least 1.8 mm high."""
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
    def gutter(self) -> float:
        """Return the room left of the profile for names and elevations."""
        return max(9.5 * self.letter, 10.6 * self.small)

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
        return 12.0 * self.letter

    @property
    def plan_height(self) -> float:
        """Return the height of the plan."""
        share = next(share for least, share in PLAN_SHARES if self.height > least)
        return share * self.frame_height


def _sized(name: str, width: float, height: float, letter: float, strip: float) -> Paper:
    return Paper(
        name=name,
        width=width,
        height=height,
        letter=letter,
        small=max(0.82 * letter, LEAST_LETTER),
        strip=strip,
    )


LEAST_LETTER = 2.8
"""Smallest size of lettering [mm]: its figures are 1.8 mm high, its capitals a little more."""
PAPERS: Mapping[str, Paper] = {
    paper.name: paper
    for paper in (
        _sized("A4", 297.0, 210.0, 2.8, 36.0),
        _sized("A3", 420.0, 297.0, 2.8, 38.0),
        _sized("A2", 594.0, 420.0, 3.2, 44.0),
        _sized("A1", 841.0, 594.0, 3.8, 50.0),
        _sized("A0", 1189.0, 841.0, 3.8, 52.0),
        _sized("ANSI A", 279.4, 215.9, 2.8, 36.0),
        _sized("ANSI B", 431.8, 279.4, 2.8, 38.0),
        _sized("ANSI C", 558.8, 431.8, 3.4, 46.0),
        _sized("ANSI D", 863.6, 558.8, 4.85, 56.0),
        _sized("ANSI E", 1117.6, 863.6, 4.85, 60.0),
    )
}
"""ISO 216 and ASME Y14.1 sizes, lying. Capitals are at least 1.8 mm high and 2.5 mm from A1 on, of
the row of ISO 3098; 3.2 mm (1/8 in) from ANSI D on, as municipal rules in the United States ask."""


def paper_of(doc: Document) -> Paper:
    """Return the paper asked for, else A3 for metric studies and ANSI B for US ones."""
    size = sheet_text(doc, "size")
    if size in PAPERS:
        return PAPERS[size]
    wide, _, high = size.removesuffix(" mm").partition(" x ")
    if high:
        return _own(size, float(wide), float(high))
    return PAPERS["ANSI B" if units_of(doc) == "us" else "A3"]


def _own(name: str, width: float, height: float) -> Paper:
    """Return paper of one's own, lettered as the largest known size that is no higher."""
    known = sorted(PAPERS.values(), key=lambda paper: paper.height)
    like = next((each for each in reversed(known) if each.height <= height), known[0])
    return _sized(name, width, height, like.letter, like.strip)
