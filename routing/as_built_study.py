"""The study run again on levels and places as built: the whole chain on what lies in the ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from routing.crew import Record
from routing.document import rounded_document
from routing.inputs import find_pipes
from routing.papers.document import Document
from routing.record import (
    built_levels,
    built_line,
    built_section,
    check_records,
    keep_names,
    moved_settings,
    study_document,
    with_records,
)
from routing.settings import settings_from_mapping
from routing.study import run_study
from routing.terrain import Terrain

__all__ = ["AS_BUILT", "as_built_document"]

AS_BUILT = " – as built"
"""Stands behind the name of the study, so that every paper and file is marked."""
USUAL_STICK_M = 6.0
"""Length of a stick where no pipe was given [m]."""
MOST_STICK_M = 12.0
"""Longest piece of pipe that is taken to lie straight, also of a coil [m]."""


def as_built_document(doc: Document, records: Sequence[Record], terrain: Terrain) -> dict[str, Any]:
    """Return the study of a line as built: what the plan becomes where levels were taken.

    The settings are those of the study, and so is the line, but for places that were found beside
    it: see :func:`routing.record.built_line`; what the settings say by station keeps its place
    (:func:`routing.record.moved_settings`). Stations of records go along; names last from it,
    ``changes`` says what moved, is new or went, ``as_built`` what levels and places changed.

    Parameters
    ----------
    doc : mapping
        The study that was built from
    records : sequence of dict
        What crews brought home
    terrain : Terrain
        The ground of the study, opened as its settings want it

    Returns
    -------
    document : dict
        As ``study.json``, the records in it

    Raises
    ------
    LeatlineError
        If the records are not of this study, or hold neither a level nor a place beside the line.
    """
    check_records(doc, records)
    settings = settings_from_mapping(doc.get("settings") or {})
    whole = list(with_records(doc, records).get("records") or ())
    sticks = [pipe.jointing.stick_m for _, pipe in find_pipes(settings)] or [USUAL_STICK_M]
    stick = min(max(sticks), MOST_STICK_M)
    line = built_line(doc, whole, stick)
    built = line.levels(built_levels(doc, whole, stick, moved=line.moved))
    settings = moved_settings(doc, line)
    # The line of a saved study was cleaned and turned round already.
    kept = replace(settings, study=replace(settings.study, reverse=False, clean=False))
    study = run_study(terrain, line.route, kept, built=built)
    found = study_document(study)
    found["name"] = str(doc["name"]).removesuffix(AS_BUILT) + AS_BUILT
    named = keep_names(found, doc)
    section = built_section(built, line, study, named, {**doc, "records": whole})
    named |= rounded_document({"as_built": section})
    return with_records(named, [line.record(each) for each in whole])
