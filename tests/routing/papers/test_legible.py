"""Every page can be read: letters high enough, none over another or the edge, no names of code."""

from __future__ import annotations

import io

import pypdf
import pytest
from legible import CODE_NAME, cap_height_mm, letters, outside, overprinted, pages
from made_study import made_document
from sample_study import sample_study

from routing.papers.report import report_pdf
from routing.papers.sheet import sheet_pdf
from routing.papers.typeset import shortened, text_width, wrapped
from routing.record import study_document
from routing.report_study import full_report_pdf

LEAST_MM = 1.8
"""Least height of capitals on a paper [mm]: the row of ISO 3098-1 below 2.5 (from memory)."""

NAMES = {
    "long": "Skarn Beck above Otterfell and below the old mill " * 6,
    "unbroken": "L" * 300,
    "chinese": "溪水上游至旧磨坊压力管道线路方案 " * 6,
    "arabic": "خط مياه العين من المأخذ إلى المحطة " * 5,
    "devanagari": "जल रेखा परियोजना ऊपरी घाटी से पुरानी चक्की तक " * 5,
    "face": "Creek 😀 line",
}


@pytest.fixture(scope="module")
def real() -> dict:
    """Return the document of the sample study."""
    return study_document(sample_study())


def named(name: str, units: str = "metric") -> dict:
    doc = made_document(name=name, units=units)
    cells = dict.fromkeys(("owner", "drawn", "checked", "number"), name)
    revision = {"mark": "A", "date": "2026-11-25", "text": name, "by": name}
    doc["settings"] = {"sheet": {"project": name, **cells, "revision": [revision]}}
    doc["vents"][1]["kind"] = doc["vents"][1]["reason"] = name
    doc["pipes"][0]["label"] = name
    return doc


def test_report__reads_like_print(real) -> None:
    for page in pages(full_report_pdf(real)):
        heights = [cap_height_mm(char) for char in letters(page) if char["text"].isalnum()]
        assert min(heights) >= LEAST_MM - 0.01, page.page_number
        assert outside(page, 19.9, 10.0, 19.9, 8.0) == [], page.page_number
        assert overprinted(page) == [], page.page_number
        text = page.extract_text()
        assert CODE_NAME.findall(text) == [], page.page_number


@pytest.mark.parametrize("size", ["A3", "A4", "ANSI B"])
def test_sheets__read_like_print(real, size: str) -> None:
    real = {**real, "settings": {**real["settings"], "sheet": {"size": size}}}
    for page in pages(sheet_pdf(real)):
        heights = [cap_height_mm(char) for char in letters(page) if char["text"].isalnum()]
        assert min(heights) >= LEAST_MM - 0.01, page.page_number
        # Everything stands inside the frame, 20 mm from the punched edge and 10 from the others.
        assert outside(page, 20.0, 10.0, 10.0, 10.0) == [], page.page_number
        assert overprinted(page) == [], page.page_number
        assert CODE_NAME.findall(page.extract_text()) == [], page.page_number


@pytest.mark.parametrize("kind", list(NAMES))
def test_sheets__any_name_stays_in_its_place(kind: str) -> None:
    for page in pages(sheet_pdf(named(NAMES[kind]))):
        assert outside(page, 20.0, 10.0, 10.0, 10.0) == [], page.page_number
        if kind not in ("devanagari", "arabic"):
            assert overprinted(page) == [], page.page_number


@pytest.mark.parametrize("kind", list(NAMES))
def test_report__any_name_stays_in_its_place(kind: str) -> None:
    pdf = report_pdf(named(NAMES[kind]))
    for page in pages(pdf):
        assert outside(page, 19.9, 10.0, 19.9, 8.0) == [], page.page_number
        # Marks of Devanagari and of Arabic belong over their letters.
        if kind not in ("devanagari", "arabic"):
            assert overprinted(page) == [], page.page_number


def test_papers__fonts_travel_with_the_tool() -> None:
    for kind in ("chinese", "arabic", "devanagari"):
        reader = pypdf.PdfReader(io.BytesIO(report_pdf(named(NAMES[kind]))))
        fonts = {
            str(font.get_object()["/BaseFont"])
            for page in reader.pages
            for font in page["/Resources"]["/Font"].values()
        }
        families = {font.partition("+")[2].partition("-")[0] for font in fonts}
        assert families <= {
            *("SourceSansPro", "NewCMMath", "NotoSansArabic", "NotoSansDevanagari"),
            # The collection has one file of signs under the names of its regions.
            *("NotoSansCJKsc", "NotoSansCJKjp"),
        }


def test_papers__are_pdf_a(real) -> None:
    for pdf in (report_pdf(real), sheet_pdf(real)):
        reader = pypdf.PdfReader(io.BytesIO(pdf))
        told = reader.xmp_metadata
        assert told is not None
        assert (told.pdfaid_part, told.pdfaid_conformance) == ("2", "B")
        assert reader.outline, "the outline is empty"
        assert reader.metadata is not None
        assert reader.metadata.title == real["name"]


def test_wrapped__keeps_every_letter_and_every_width() -> None:
    for name in NAMES.values():
        lines = wrapped(name, 10.0, 80.0)
        assert "".join("".join(lines).split()) == "".join(name.split())
        assert all(text_width(line, 10.0) <= 80.0 for line in lines)
        cut = shortened(name, 10.0, 80.0)
        assert text_width(cut, 10.0) <= 80.0
        assert cut.rstrip("…") == name[: len(cut.rstrip("…"))]
