"""The study document: one row for each of its numbers and words, and what follows from the rows.

``data/document.csv`` says of every member of ``study.json`` its type, unit, decimals, range and
meaning. The JSON Schema, the rounding, and the headings and units of tables are made from it.
``lines`` sets several lines side by side.
"""

from routing.document.damage import damage_named, first_fault
from routing.document.files import SCHEMA, read_document, read_json, to_json, write_document
from routing.document.lines import ROW_MEMBERS, line_row, rows_of_lines, with_lines
from routing.document.rounding import rounded_document
from routing.document.row import Row, find_row, load_rows, members
from routing.document.schema import study_schema

__all__ = [
    "ROW_MEMBERS",
    "SCHEMA",
    "Row",
    "damage_named",
    "find_row",
    "first_fault",
    "line_row",
    "load_rows",
    "members",
    "read_document",
    "read_json",
    "rounded_document",
    "rows_of_lines",
    "study_schema",
    "to_json",
    "with_lines",
    "write_document",
]
