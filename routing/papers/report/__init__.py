"""The calculation report: everything a reviewer needs to follow a study, as PDF."""

from __future__ import annotations

from routing.papers.report.chapters.extras import Case, Extras
from routing.papers.report.report import report_pdf

__all__ = ["Case", "Extras", "report_pdf"]
