"""The works plan: how a line is filled, flushed, tested, read and emptied, on paper."""

from routing.papers.works.part import Part
from routing.papers.works.parts import works_parts
from routing.papers.works.plan import works_page, works_pdf, works_told

__all__ = ["Part", "works_page", "works_parts", "works_pdf", "works_told"]
