"""Plan and profile sheets: drawn to scale as SVG in millimetres of paper, set as PDF."""

from __future__ import annotations

from routing.papers.sheet.issue import sheet_pdf

__all__ = ["sheet_pdf"]
