"""What the sheets' lines and signs mean: everything that may be drawn, each with its sample."""

from __future__ import annotations

from collections.abc import Callable

from routing.land import GROUND
from routing.papers.document import Document
from routing.papers.given import sheet_features
from routing.papers.sheet.features import draw_shot, feature_style
from routing.papers.sheet.galley import Legend
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.revision import changed, draw_cloud
from routing.papers.signs import SignKind

__all__ = ["legend"]

Sample = Callable[[Drawing, Box], None]

_LINES = (
    ("ground", "ground"),
    ("trench", "bottom of the trench"),
    ("wall", "pipe, crown and invert"),
    ("static", "static level"),
    ("flowing", "hydraulic grade line at the design flow"),
    ("surge", "highest and lowest head with surge"),
    ("rating", "rating of the pipe, as a level"),
    ("test", "test pressure, as a level"),
    ("sheetbox", "static pressure above the pipe's rating"),
    ("pipe", "pipe in plan"),
    ("beyond", "pipe beyond the match line"),
    ("match", "match line"),
    ("contourindex", "index contour, lettered"),
    ("contour", "contour"),
)
_SIGNS: tuple[tuple[SignKind, str], ...] = (
    ("intake", "intake"),
    ("powerhouse", "powerhouse"),
    ("vent", "V: vent, air valve; half: take a level first; hollow: advised"),
    ("drain", "D: drain; half and hollow likewise"),
    ("bend", "B: bend, with its turn in plan"),
    ("block", "T: thrust block"),
    ("anchor", "S: anchor on steep ground"),
    ("support", "SP: support"),
    ("valve", "G: isolating valve"),
    ("tap", "M: gauge tap"),
    ("relief", "R: relief valve"),
    ("level", "L: level to take"),
    ("crossing", "X: crossing"),
)
_FEATURES = {
    "stream": ("stream", "stream"),
    "boundary": ("boundary", "boundary"),
    "parcel": ("parcel", "parcel"),
    "no-go": ("nogo", "no-go area"),
    "protected": ("protected", "protected area"),
    "road": ("road", "road"),
    "service": ("service", "service"),
    "right of way": ("rightofway", "right of way"),
    GROUND: (feature_style(GROUND), "class of ground"),
}


def legend(doc: Document) -> Legend:
    """Return samples of every line and sign, and of the features that the study was given."""
    given = {str((item.get("properties") or {}).get("kind")) for item in sheet_features(doc)}
    rows: list[tuple[Sample, str]] = [(_line(style), words) for style, words in _LINES]
    rows.append((_span, "pipe above ground"))
    rows += [(_sign(kind), words) for kind, words in _SIGNS]
    rows += [(_line(style), words) for kind, (style, words) in _FEATURES.items() if kind in given]
    if (doc.get("survey") or {}).get("points"):
        rows.append((_shot, "surveyed point, with its level"))
    if "reference" in given:
        rows.append((_reference, "reference point, with its level"))
    if changed(doc):
        rows.append((_cloud, "changed since the revision before, with its mark"))
    return Legend(title="Lines and signs", rows=rows)


def _line(style: str) -> Sample:
    def draw(ink: Drawing, box: Box) -> None:
        y = (box.top + box.bottom) / 2.0
        if style == "wall":
            ink.rect(Box(box.left, y - 0.5, box.right, y + 0.5), style)
        else:
            ink.line(box.left, y, box.right, y, style)

    return draw


def _cloud(ink: Drawing, box: Box) -> None:
    middle = (box.top + box.bottom) / 2.0
    draw_cloud(ink, Box(box.left + 1.0, middle - 0.9, box.right - 1.0, middle + 0.9))


def _span(ink: Drawing, box: Box) -> None:
    y = (box.top + box.bottom) / 2.0
    for style in ("spancase", "spancore"):
        ink.line(box.left, y, box.right, y, style)


def _sign(kind: SignKind) -> Sample:
    def draw(ink: Drawing, box: Box) -> None:
        size = min(box.bottom - box.top, 4.2)
        ink.mark(kind, (box.left + box.right) / 2.0, (box.top + box.bottom) / 2.0, size)

    return draw


def _shot(ink: Drawing, box: Box) -> None:
    draw_shot(ink, (box.left + box.right) / 2.0, (box.top + box.bottom) / 2.0)


def _reference(ink: Drawing, box: Box) -> None:
    x, y = (box.left + box.right) / 2.0, (box.top + box.bottom) / 2.0
    ink.circle(x, y, 1.2, "reference")
    ink.line(x - 1.2, y, x + 1.2, y, "fine")
    ink.line(x, y - 1.2, x, y + 1.2, "fine")
