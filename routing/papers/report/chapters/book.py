"""The list of chapters: a title, what it holds, and whether it begins a page."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from routing.papers.document import Document
from routing.papers.report.basis import Formula, basis
from routing.papers.report.chapters.back import (
    cautions_chapter,
    checks_chapter,
    other_results,
    permit_chapter,
    signature_chapter,
    sources_chapter,
)
from routing.papers.report.chapters.building import (
    crossings_chapter,
    quantities_chapter,
    tests_chapter,
)
from routing.papers.report.chapters.doubts import doubt_chapter, sensitivity_chapter
from routing.papers.report.chapters.extras import Extras
from routing.papers.report.chapters.fittings import fittings_chapter
from routing.papers.report.chapters.line import line_chapter
from routing.papers.report.chapters.opening import basis_chapter, summary_chapter
from routing.papers.report.chapters.structures import structures_chapter
from routing.papers.report.chapters.wall import pipe_chapter, surge_chapter
from routing.papers.report.chapters.water import alternatives_chapter, water_chapter
from routing.papers.report.parts import Section, holds
from routing.value import dataclass

__all__ = ["Chapter", "Extras", "chapters_of"]

Formulas = Callable[[str], list[Formula]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """A chapter of the report; ``page``: it begins a new one."""

    title: str
    sections: tuple[Section, ...]
    page: bool = False


def chapters_of(doc: Document, extras: Extras) -> list[Chapter]:
    """Return every chapter that has something to say; the summary fills the first page."""
    worked = basis(doc)

    def formulas(chapter: str) -> list[Formula]:
        return [each for each in worked if each.chapter == chapter]

    made: list[tuple[str, Iterable[Section], bool]] = [
        ("Summary", summary_chapter(doc), True),
        ("Basis and assumptions", basis_chapter(doc, extras), True),
        ("Water and energy", water_chapter(doc, formulas("water")), False),
        ("Alternatives", alternatives_chapter(doc), False),
        ("Line, heads and pressures", line_chapter(doc, formulas("line")), False),
        ("Pipe and class", pipe_chapter(doc, formulas("pipe")), False),
        ("Surge", surge_chapter(doc, formulas("surge")), False),
        ("Vents and drains", fittings_chapter(doc, formulas("fittings")), False),
        ("Structures", structures_chapter(doc, formulas("structures")), False),
        ("Crossings, parcels and consents", crossings_chapter(doc), False),
        ("Tests and commissioning", tests_chapter(doc, formulas("works")), False),
        ("Quantities and cost", quantities_chapter(doc, formulas("cost")), False),
        ("Sensitivity", sensitivity_chapter(doc, extras), False),
        ("Doubt", doubt_chapter(doc), False),
        ("Checks", checks_chapter(doc), False),
        ("Other results", other_results(doc), False),
        ("Cautions", cautions_chapter(doc), False),
        ("Sources", sources_chapter(doc, worked), False),
        ("Documents by kind of permit", permit_chapter(doc), False),
        ("Signature", signature_chapter(doc), True),
    ]
    chapters = [
        Chapter(title=title, sections=tuple(part for part in parts if holds(part)), page=page)
        for title, parts, page in made
    ]
    return [chapter for chapter in chapters if chapter.sections]
