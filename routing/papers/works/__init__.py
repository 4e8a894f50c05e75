"""The works plan: how a line is filled, flushed, tested, read and emptied, on paper."""

from routing.papers.works.part import Part
from routing.papers.works.parts import ANSWERED, FAULTS, works_parts
from routing.papers.works.plan import works_page, works_pdf, works_told
from routing.papers.works.sections import STEPS
from routing.papers.works.tested import section_tests, tested_until, told_tests

__all__ = [
    "ANSWERED",
    "FAULTS",
    "STEPS",
    "Part",
    "section_tests",
    "tested_until",
    "told_tests",
    "works_page",
    "works_parts",
    "works_pdf",
    "works_told",
]
