"""The bill of quantities with the user's prices: a workbook to go on in, a page to hand over.

Both are in the language of the study; the report, in English, takes the same rows.
"""

from __future__ import annotations

import datetime
import io
import json
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from routing.land import KINDS
from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_date, sheet_text, standing, status
from routing.papers.spoken import speaking_as
from routing.papers.typeset import FAMILIES, compile_pdf
from routing.papers.workbook import MADE, MOST_NAME
from routing.units import convert, unit_of
from routing.value import dataclass
from routing.words import said, spoken

__all__ = [
    "Bill",
    "BillLine",
    "bill_lines",
    "bill_of_document",
    "quantities_pdf",
    "quantities_xlsx",
]

UNPRICED = "no price"
PIECES = "pieces"
_KINDS = {"m": "length", "m3": "volume"}


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """One row in the reader's units; ``price`` is None where there is none."""

    what: str
    size: str
    quantity: float
    unit: str
    price: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """The bill as a page shows it: heads, rows of text, sums, and what is to be known of it."""

    heads: list[str]
    rows: list[list[str]]
    sums: list[list[str]]
    note: str


def bill_lines(doc: Document) -> list[BillLine]:
    """Return the rows of the bill in the study's units; quantity times price is as it was."""
    lines = []
    for row in doc.get("quantities") or ():
        kind = _KINDS.get(row["unit"])
        factor = 1.0 if kind is None else convert(1.0, kind, units_of(doc))  # type: ignore[arg-type]
        lines.append(
            BillLine(
                what=said(plain(row["what"])),
                size=_size(row),
                quantity=float(row["quantity"]) * factor,
                unit=PIECES if kind is None else unit_of(kind, units_of(doc)),  # type: ignore[arg-type]
                price=None if row["price"] is None else float(row["price"]) / factor,
            )
        )
    return lines


def _size(row: Mapping[str, Any]) -> str:
    """Return the size of a row in words; that of a crossing is what is crossed."""
    kind = KINDS.get(row["size"]) if row["what"] == "crossings" else None
    return said(plain(row["size"]) if kind is None else kind.words)


def _contingency(doc: Document) -> float:
    prices = (doc.get("settings") or {}).get("prices") or {}
    cost = doc.get("cost")
    if cost is None or prices.get("contingency") is None:
        return 0.0
    sum_ = float(cost["total"]) - float(cost["contingency"])
    return float(cost["contingency"]) / sum_ if sum_ else 0.0


def _about(doc: Document) -> tuple[str, str]:
    """Return the money and what is to be known of the prices."""
    cost = doc.get("cost")
    if cost is None:
        return "", said("No prices were given: fill in the column of prices.")
    lacking = "; ".join(said(plain(each)) for each in cost["not_priced"])
    asked = said(f"Prices asked on {plain(cost['date'])}.") + " " if cost["date"] else ""
    return plain(cost["currency"]), f"{asked}{said('Not in the sum')}: {lacking}."


def quantities_xlsx(doc: Document) -> bytes:
    """Return the bill as a workbook in which amounts and sums follow the prices put in."""
    with speaking_as(doc):
        return _quantities_book(doc)


def _quantities_book(doc: Document) -> bytes:
    import xlsxwriter

    buffer = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    lines = bill_lines(doc)
    money, note = _about(doc)
    with xlsxwriter.Workbook(buffer, options) as book:
        date = sheet_date(doc)
        made = MADE if date is None else datetime.datetime(date.year, date.month, date.day)
        book.set_properties(
            {"title": plain(doc.get("name") or "study")[:255], "comments": note, "created": made}
        )
        sheet = book.add_worksheet(said("quantities")[:MOST_NAME])
        if spoken()[1] == "rtl":
            sheet.right_to_left()
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True})
        number, whole, sum_ = (
            book.add_format({"num_format": form, **more})
            for form, more in (("#,##0.00", {}), ("#,##0", {}), ("#,##0.00", {"bold": True}))
        )
        lacks = book.add_format({"bg_color": "#FFF2B3", "num_format": "#,##0.00"})
        for at, words in enumerate([*_heads(money), said("note")]):
            sheet.write_string(0, at, words, head)
        for at, line in enumerate(lines, start=1):
            sheet.write_string(at, 0, line.what)
            sheet.write_string(at, 1, line.size)
            sheet.write_number(at, 2, line.quantity, whole if line.unit == PIECES else number)
            sheet.write_string(at, 3, said(line.unit))
            if line.price is None:
                sheet.write_blank(at, 4, None, lacks)
                sheet.write_string(at, 6, said(UNPRICED))
            else:
                sheet.write_number(at, 4, line.price, number)
            value = 0.0 if line.price is None else line.quantity * line.price
            sheet.write_formula(at, 5, f"=C{at + 1}*E{at + 1}", number, value)
        total = sum(line.quantity * (line.price or 0.0) for line in lines)
        share, end = _contingency(doc), len(lines) + 1
        sheet.write_string(end, 0, said("sum of what has a price"))
        sheet.write_formula(end, 5, f"=SUM(F2:F{end})", number, total)
        sheet.write_string(end + 1, 0, said("share for what is not foreseen"))
        sheet.write_number(end + 1, 4, share, book.add_format({"num_format": "0 %"}))
        sheet.write_formula(end + 1, 5, f"=F{end + 1}*E{end + 2}", number, total * share)
        sheet.write_string(end + 2, 0, said("total"), sum_)
        sheet.write_formula(end + 2, 5, f"=F{end + 1}+F{end + 2}", sum_, total * (1.0 + share))
        sheet.write_string(end + 4, 0, note)
        for at, width in enumerate((30, 46, 12, 10, 14, 16, 12)):
            sheet.set_column(at, at, width)
        sheet.freeze_panes(1, 0)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.repeat_rows(0)
    return buffer.getvalue()


def bill_of_document(doc: Document) -> Bill:
    """Return the bill in the reader's units and money, rows without a price marked."""
    lines, (money, note) = bill_lines(doc), _about(doc)
    total = sum(line.quantity * (line.price or 0.0) for line in lines)
    share = _contingency(doc)
    rows = [
        [
            line.what,
            line.size,
            _figure(line.quantity, 0 if line.unit == PIECES else 1),
            said(line.unit),
            said(UNPRICED) if line.price is None else _figure(line.price, 2),
            "–" if line.price is None else _figure(line.quantity * line.price, 0),
        ]
        for line in lines
    ]
    sums = [
        [said("Sum of what has a price"), f"{_figure(total, 0)} {money}".strip()],
        [
            said(f"For what is not foreseen, {100.0 * share:.0f} %"),
            f"{_figure(total * share, 0)} {money}".strip(),
        ],
        [said("Total"), f"{_figure(total * (1.0 + share), 0)} {money}".strip()],
    ]
    return Bill(heads=_heads(money), rows=rows, sums=sums if doc.get("cost") else [], note=note)


def _heads(money: str) -> list[str]:
    """Return the heads of the columns; what is money says in which."""
    own = f", {money}" if money else ""
    first = [said(head) for head in ("what", "size", "quantity", "unit")]
    return [*first, f"{said('price of one')}{own}", f"{said('amount')}{own}"]


def quantities_pdf(doc: Document) -> bytes:
    """Return the bill as a page to hand over, rows without a price marked."""
    with speaking_as(doc):
        data = _bill_page(doc)
    template = (files("routing.papers") / "data" / "quantities.typ").read_text(encoding="utf-8")
    text = json.dumps(data, ensure_ascii=False).encode()
    return compile_pdf(template, {"quantities.json": text}, date=sheet_date(doc))


def _bill_page(doc: Document) -> dict[str, Any]:
    bill, (code, direction) = bill_of_document(doc), spoken()
    page = said("page 8888 of 9999").replace("8888", "{page}").replace("9999", "{pages}")
    return {
        "language": code,
        "direction": direction,
        "title": said("Bill of quantities"),
        "page": page,
        "family": list(FAMILIES),
        "paper": "us-letter" if units_of(doc) == "us" else "a4",
        "name": sheet_text(doc, "project") or plain(doc.get("name") or "study"),
        "status": said(status(doc)),
        "standing": standing(doc),
        "heads": bill.heads,
        "rows": bill.rows,
        "sums": bill.sums,
        "unpriced": said(UNPRICED),
        "note": bill.note,
    }


def _figure(value: float, digits: int) -> str:
    told = said(f"{value:,.{digits}f}".replace(",", "\u202f"))
    return f"\u2066{told}\u2069" if spoken()[1] == "rtl" else told  # else the groups change places
