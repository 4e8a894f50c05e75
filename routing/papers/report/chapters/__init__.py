"""The chapters of the calculation report, in reading order."""

from __future__ import annotations

from routing.papers.report.chapters.book import Chapter, Extras, chapters_of

__all__ = ["Chapter", "Extras", "chapters_of"]
