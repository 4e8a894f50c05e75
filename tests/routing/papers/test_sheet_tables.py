"""The schedules of the sheets: tables to a reader aloud, whole, and every number the study's."""

from __future__ import annotations

import re
from typing import Any

import pypdfium2
import pytest
from aloud import tables_aloud
from drawn_sheets import bare, drawings
from made_study import as_read_from_disk, made_document

from routing.papers.sheet import sheet_pdf
from routing.papers.sheet.galley import Listing
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import paper_of
from routing.papers.sheet.tables import sheet_blocks
from routing.units import UnitSystem

FOOT, PSI = 0.3048, 6.894757293168
"""International foot [m] and pound-force per square inch [kPa]: NIST SP 811, 2008, B.8 (memory)."""


def aloud(doc: dict[str, Any]) -> list[list[tuple[list[str], bool]]]:
    pages = pypdfium2.PdfDocument(sheet_pdf(doc))
    return [table for page in pages for table in tables_aloud(page)]


def number(words: str) -> float:
    """Return a number of a schedule; 0+123.4 and 8+69.5 are stations."""
    told = words.replace("−", "-")
    if match := re.fullmatch(r"(\d+)\+(\d{2,3})(\.\d+)?", told):
        return float(match[1]) * 10.0 ** len(match[2]) + float(match[2] + (match[3] or ""))
    return float(told)


def test_sheet_pdf__its_schedules_are_tables_with_heads_in_the_order_of_their_rows() -> None:
    doc = made_document(count=300)
    wanted = {
        bare("".join(block.heads)): [bare("".join(row)) for row in block.rows]
        for block in sheet_blocks(doc)
        if isinstance(block, Listing)
    }
    found: dict[str, list[str]] = {}
    for table in aloud(doc):
        (heads, first), *rows = [(bare("".join(cells)), is_head) for cells, is_head in table]
        assert first, heads
        assert not any(is_head for _, is_head in rows), heads
        found.setdefault(heads, []).extend(cells for cells, _ in rows)
    assert len(wanted) >= 5
    for heads, rows in wanted.items():
        assert found[heads] == rows, heads


@pytest.mark.parametrize("units", ["metric", "us"])
def test_sheet_pdf__every_number_of_its_schedules_is_the_studys(units: UnitSystem) -> None:
    doc = as_read_from_disk(made_document(count=300, units=units))
    length, pressure = (1.0, 1.0) if units == "metric" else (FOOT, PSI)
    static = dict(
        zip(doc["stations"]["station_m"], doc["stations"]["static_pressure_kpa"], strict=True)
    )
    wanted = {
        key: [[item[name] for name in ("station_m", "ground_m", "pipe_m", "depth_m")]
              + [static[item["station_m"]]] for item in doc[key]]
        for key in ("vents", "drains")
    }  # fmt: skip
    seen = dict.fromkeys(("V", "D", "B"), 0)
    for table in aloud(doc):
        for cells, is_head in table:
            kind = re.fullmatch(r"([VDB])(\d+)", cells[0])
            if is_head or kind is None or len(cells) < 6:
                continue
            letter, at = kind[1], int(kind[2]) - 1
            seen[letter] += 1
            if letter == "B":
                bend, shown = doc["bends"][at], [cells[k].split()[0] for k in range(1, 6)]
                asked = [bend["station_m"] / length, abs(bend["plan_deg"]), bend["vertical_deg"]]
                asked += [bend["deflection_deg"], bend["pipe_m"] / length]
                assert cells[2].endswith("R" if bend["plan_deg"] > 0 else "L")
            else:
                row = wanted["vents" if letter == "V" else "drains"][at]
                shown = [cells[k] for k in (1, 6, 7, 8, 9)]
                asked = [value / length for value in row[:4]] + [row[4] / pressure]
            for words, value in zip(shown, asked, strict=True):
                digits = len(words.partition(".")[2])
                assert number(words) == pytest.approx(value, abs=0.501 * 10.0**-digits), cells
    assert seen == {"V": len(doc["vents"]), "D": len(doc["drains"]), "B": len(doc["bends"])}


def test_sheets__list_every_straight_however_many() -> None:
    doc = made_document(count=300)
    many = [
        {**doc["grades"][0], "from_m": 4.0 * k, "to_m": 4.0 * k + 4.0, "grade": -0.01 * (1 + k % 7)}
        for k in range(355)
    ]
    doc["grades"] = many
    (listed,) = (block for block in sheet_blocks(doc) if block.title.startswith("Straights"))
    assert isinstance(listed, Listing)
    assert [row[0] for row in listed.rows] == [str(k) for k in range(1, 356)]
    shown = [
        line.text
        for sheet in sheet_set(doc, paper_of(doc))
        for table in sheet.ink.tables
        if len(table.widths) == len(listed.heads) == 7
        for row in table.rows[1:]
        for line in row[0]
    ]
    assert [text for text in shown if text.isdigit()] == [str(k) for k in range(1, 356)]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_profile__letters_the_level_of_each_break(units: UnitSystem) -> None:
    doc = made_document(count=200, units=units)
    said = {x.text for page in drawings(doc)[1:] for x in page.ink.labels if x.layer == "band"}
    length = 1.0 if units == "metric" else FOOT
    levels = [f"{each['from_z_m'] / length:.2f}" for each in doc["grades"]]
    assert [level for level in levels if level not in said] == []
