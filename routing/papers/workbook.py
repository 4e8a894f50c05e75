"""The study as a workbook: one sheet a subject, typed cells, a row of units, no formulas.

Names and headings of all tables are in the language of the study, and so is all that a crew reads.
The other tables keep the words of ``study.json`` in their cells.
"""

from __future__ import annotations

import datetime
import io
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_date
from routing.papers.shopping import shopping_subject
from routing.papers.side_by_side import lines_subject
from routing.papers.spoken import speaking_as
from routing.papers.stakes import stakes
from routing.papers.subject import Subject, as_shown, subjects
from routing.papers.things import things_subject
from routing.words import said, said_caution, spoken

__all__ = ["SPOKEN", "told_subjects", "workbook"]

MADE = datetime.datetime(2000, 1, 1)
"""Date of making where the study has none: equal studies give equal files."""
MOST_NAME = 31
"""Longest name of a sheet that the format allows [-]."""
SPOKEN = frozenset(
    {
        "things to set",
        "shopping list",
        "stakes",
        "kits",
        "quantities",
        "works hold points",
        "cautions",
    }
)
"""Subjects that a crew reads."""
ROW_NAMES = frozenset({"section", "quantity"})
"""Columns of the tables of figures that name their rows."""
OWN = frozenset({"id", "of", "note", "stake"})
"""Their columns of names and notes, which stand as they are."""


def workbook(doc: Document) -> bytes:
    """Return the study's tables as XLSX, in the study's units.

    Row 1 names the columns, row 2 gives their units; both stay in view. Missing values are empty
    cells. A number is what its cell shows, so that who copies it has what the papers say. Text
    never turns into formulas or links.
    """
    with speaking_as(doc):
        return _book(doc)


def _book(doc: Document) -> bytes:
    import xlsxwriter

    buffer = io.BytesIO()
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with xlsxwriter.Workbook(buffer, options) as book:
        date = sheet_date(doc)
        made = MADE if date is None else datetime.datetime(date.year, date.month, date.day)
        book.set_properties(
            {
                "title": plain(doc.get("name") or "study")[:255],
                "comments": f"Values are in {units_of(doc)} units; the row of units says which.",
                "created": made,
            }
        )
        formats = _Formats(book, letter=units_of(doc) == "us")
        used: set[str] = set()
        for subject, _ in told_subjects(doc):
            sheet = book.add_worksheet(_name(subject.name, used))
            if spoken()[1] == "rtl":
                sheet.right_to_left()
            _sheet(sheet, subject, formats)
    return buffer.getvalue()


class _Formats:
    """The few looks of cells."""

    def __init__(self, book: Any, *, letter: bool) -> None:
        self._book, self.letter = book, letter
        self._numbers: dict[int | None, Any] = {}
        self.head = book.add_format({"bold": True, "text_wrap": True, "valign": "bottom"})
        self.unit = book.add_format({"italic": True, "font_color": "#555555", "bottom": 1})
        self.text = book.add_format({"valign": "top"})

    def number(self, digits: int | None) -> Any:
        """Return the look of numbers with some decimals; counts have none."""
        if digits not in self._numbers:
            form = "General" if digits is None else "0." + "0" * digits if digits else "0"
            self._numbers[digits] = self._book.add_format({"num_format": form, "valign": "top"})
        return self._numbers[digits]


def _sheet(sheet: Any, subject: Subject, formats: _Formats) -> None:
    widths = []
    for index, column in enumerate(subject.columns):
        sheet.write_string(0, index, column.title, formats.head)
        sheet.write_string(1, index, column.unit, formats.unit)
        widths.append(max(len(column.unit), min(len(column.title), 14), 8))
    places = [column.digits for column in subject.columns]
    for number, row in enumerate(subject.rows, start=2):
        for index, value in enumerate(row):
            if value is None:
                continue
            if isinstance(value, bool):
                sheet.write_boolean(number, index, value, formats.text)
            elif isinstance(value, int | float):
                digits = places[index]
                if digits is not None:
                    value, digits = as_shown(value, digits)
                sheet.write_number(number, index, value, formats.number(digits))
            else:
                sheet.write_string(number, index, value, formats.text)
                widths[index] = min(max(widths[index], len(value)), 70)
    for index, width in enumerate(widths):
        sheet.set_column(index, index, width + 2)
    _print_setup(sheet, subject.name, letter=formats.letter)
    sheet.freeze_panes(2, 1 if len(subject.columns) > 4 else 0)
    sheet.autofilter(1, 0, len(subject.rows) + 1, len(subject.columns) - 1)


def _print_setup(sheet: Any, name: str, *, letter: bool) -> None:
    """Lay the sheet across the page, its width on one, its heads on every page."""
    sheet.set_landscape()
    sheet.set_paper(1 if letter else 9)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0, 1)
    sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.7)
    # In headers of the format & is an order; two of them are one sign.
    sheet.set_footer(f"&L{name.replace('&', '&&')}&R{said('page &P of &N')}")


def told_subjects(doc: Document) -> Iterator[tuple[Subject, bool]]:
    """Yield the subjects that have rows, and whether each is in the language being spoken."""
    own = [things_subject(doc), shopping_subject(doc), lines_subject(doc), stakes(doc).subject]
    for subject in [*subjects(doc), *own]:
        if subject.rows:
            yield _in_words(subject), subject.name in SPOKEN


def _in_words(subject: Subject) -> Subject:
    """Return a table in the language: its names, its heads, and the cells that are words.

    Of a table that a crew reads those are all but names and notes; of a table of figures the names
    of its rows.
    """
    tell = said_caution if subject.name == "cautions" else said
    spoken = [
        column.key not in OWN if subject.name in SPOKEN else column.key in ROW_NAMES
        for column in subject.columns
    ]
    return replace(
        subject,
        name=said(subject.name),
        columns=tuple(replace(each, title=said(each.title)) for each in subject.columns),
        rows=tuple(
            tuple(
                tell(value) if words and isinstance(value, str) else value
                for value, words in zip(row, spoken, strict=True)
            )
            for row in subject.rows
        ),
    )


def _name(wanted: str, used: set[str]) -> str:
    """Return a name of a sheet that the format allows and that no other sheet has."""
    name = "".join(" " if char in "[]:*?/\\'" else char for char in wanted)[:MOST_NAME] or "table"
    number = 2
    while name.lower() in used:
        name = f"{wanted[: MOST_NAME - 4]} {number}"
        number += 1
    used.add(name.lower())
    return name
