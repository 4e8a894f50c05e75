"""Every page can be read: letters high enough, none over another or the edge, no names of code."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pypdf
import pytest
from legible import (
    LEAST_MM,
    NAMES,
    check_print,
    inked,
    named,
    outside,
    overprinted,
)
from sample_study import sample_document, sample_report, sample_sheets

from routing.papers.quantities import quantities_pdf
from routing.papers.report.report import report_data
from routing.papers.sheet import sheet_pdf
from routing.papers.typeset import shortened, text_width, wrapped
from routing.papers.works import works_pdf


@pytest.mark.parametrize("size", ["A3", "A4", "ANSI B"])
def test_sheets__read_like_print(size: str) -> None:
    real = sample_document()
    real["settings"]["sheet"] = {"size": size}
    made = sample_sheets() if size == "A3" else sheet_pdf(real)
    for page in inked(made):
        # Everything stands inside the frame, 20 mm from the punched edge and 10 from the others.
        check_print(page, 20.0, 10.0, 10.0, 10.0)


@pytest.mark.parametrize("code", ["en", "de", "ar"])
def test_works_plan__is_lettered_as_high_as_the_sheets(code: str) -> None:
    # Blocks in three columns and tables of ten have the smallest letters.
    for made in (works_pdf, quantities_pdf):
        for number, page in enumerate(inked(made({**sample_document(), "language": code})), 1):
            assert min(page.capitals_mm()) >= LEAST_MM - 0.005, (made.__name__, number)
            assert outside(page, 15.5, 8.0, 15.5, 7.0) == [], (made.__name__, number)


@pytest.mark.parametrize("kind", list(NAMES))
def test_sheets__any_name_stays_in_its_place(kind: str) -> None:
    for number, page in enumerate(inked(sheet_pdf(named(NAMES[kind]))), start=1):
        assert outside(page, 20.0, 10.0, 10.0, 10.0) == [], number
        if kind not in ("devanagari", "arabic"):
            assert overprinted(page) == [], number


def test_papers__are_pdf_a() -> None:
    for pdf in (sample_report(), sample_sheets()):
        reader = pypdf.PdfReader(io.BytesIO(pdf))
        told = reader.xmp_metadata
        assert told is not None
        assert (told.pdfaid_part, told.pdfaid_conformance) == ("2", "B")
        assert reader.outline, "the outline is empty"
        assert reader.metadata is not None
        assert reader.metadata.title == sample_document()["name"]


def parts_of(node: Any) -> Iterator[str]:
    """Yield the kinds of a PDF's parts as a reader aloud meets them (ISO 32000-1, 14.8)."""
    node = node.get_object()
    for each in node if isinstance(node, list) else (node,):
        if isinstance(each, dict):
            yield str(each.get("/S", ""))
            if "/K" in each:
                yield from parts_of(each["/K"])
        elif hasattr(each, "get_object") and isinstance(each.get_object(), dict):
            yield from parts_of(each)


def test_report__its_tables_are_tables_to_a_reader_aloud() -> None:
    reader = pypdf.PdfReader(io.BytesIO(sample_report()))
    parts = Counter(parts_of(reader.trailer["/Root"]["/StructTreeRoot"]["/K"]))
    told = report_data(sample_document())["chapters"]
    tables = [part for chapter in told for part in chapter["sections"] if "table" in part]
    assert parts["/Table"] >= len(tables) > 20
    assert parts["/TH"] >= sum(len(part["table"]["heads"]) for part in tables)
    assert parts["/H1"] == len(told)


def test_wrapped__keeps_every_letter_and_every_width() -> None:
    for name in NAMES.values():
        lines = wrapped(name, 10.0, 80.0)
        assert "".join("".join(lines).split()) == "".join(name.split())
        assert all(text_width(line, 10.0) <= 80.0 for line in lines)
        cut = shortened(name, 10.0, 80.0)
        assert text_width(cut, 10.0) <= 80.0
        assert cut.rstrip("…") == name[: len(cut.rstrip("…"))]
