"""The study document: one row for each of its numbers and words, and what follows from the rows.

``data/document.csv`` says of every member of ``study.json`` its type, unit, decimals, range and
meaning. The JSON Schema, the rounding, and the headings and units of tables are made from it.
"""

from routing.document.files import SCHEMA, read_document, to_json, write_document
from routing.document.rounding import rounded_document
from routing.document.row import Row, find_row, load_rows, members
from routing.document.schema import study_schema

__all__ = [
    "SCHEMA",
    "Row",
    "find_row",
    "load_rows",
    "members",
    "read_document",
    "rounded_document",
    "study_schema",
    "to_json",
    "write_document",
]
