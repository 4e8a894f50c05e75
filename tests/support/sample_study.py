"""The sample's study, run once for all tests, and its document as its file holds it."""

from __future__ import annotations

from functools import cache
from typing import Any

import orjson

from routing.line import read_route
from routing.papers.sheet import sheet_pdf
from routing.record import study_document, to_json
from routing.report_study import full_report_pdf
from routing.settings import read_settings
from routing.study import Study, open_study_terrain, run_study
from sample_dem import sample_paths

__all__ = ["sample_document", "sample_report", "sample_sheets", "sample_study"]


@cache
def sample_study() -> Study:
    """Return the study of the sample."""
    paths = sample_paths()
    settings = read_settings(paths.settings)
    terrain = open_study_terrain([paths.terrain], settings)
    return run_study(terrain, read_route(paths.line), settings)


def sample_document() -> dict[str, Any]:
    """Return the document as it is read from disk, anew each time, so that a test may change it."""
    found: dict[str, Any] = orjson.loads(to_json(study_document(sample_study())))
    return found


@cache
def sample_report() -> bytes:
    """Return the calculation report of the sample, made once for all who read it."""
    return full_report_pdf(study_document(sample_study()))


@cache
def sample_sheets() -> bytes:
    """Return the sheets of the sample, made once for all who read them."""
    return sheet_pdf(study_document(sample_study()))
