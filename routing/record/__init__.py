"""Room of the record: a study as ``study.json``, from which every paper is made.

``document`` puts it together, ``names`` lets what is set keep its name from revision to revision,
``crew`` puts in what crews brought home and ``built`` says what levels as built change;
``line``, ``pressures``, ``fittings`` and ``yields`` make its larger sections.
"""

from routing.document import (
    ROW_MEMBERS,
    SCHEMA,
    line_row,
    read_document,
    to_json,
    with_lines,
    write_document,
)
from routing.record.built import built_levels, built_section
from routing.record.built_line import built_line
from routing.record.built_settings import moved_settings
from routing.record.crew import check_records, place_records, with_records
from routing.record.document import study_document
from routing.record.names import keep_names, keep_names_if_any, was_named

__all__ = [
    "ROW_MEMBERS",
    "SCHEMA",
    "built_levels",
    "built_line",
    "built_section",
    "check_records",
    "keep_names",
    "keep_names_if_any",
    "line_row",
    "moved_settings",
    "place_records",
    "read_document",
    "study_document",
    "to_json",
    "was_named",
    "with_lines",
    "with_records",
    "write_document",
]
