"""The calculation report can be read: letters, margins, cells and pages, whatever the names."""

from __future__ import annotations

import io
import random
from functools import cache
from typing import Any

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from legible import (
    CODE_NAME,
    LEAST_MM,
    NAMES,
    cap_height_mm,
    letters,
    named,
    outside,
    overprinted,
    pages,
)
from sample_study import sample_document, sample_report

from routing.papers.fit import broken, size_for
from routing.papers.report import report_pdf
from routing.papers.typeset import text_width

COPIES = 10
"""So many times the rows of the sample: about what 12 km of line have [-]."""
WORDS = st.one_of(
    st.from_regex(r"[A-Za-z0-9,./-]{1,60}", fullmatch=True),
    st.sampled_from([word for name in NAMES.values() for word in name.split()]),
)


@cache
def named_report(kind: str) -> bytes:
    return report_pdf(named(NAMES[kind]))


def test_report__reads_like_print() -> None:
    for page in pages(sample_report()):
        heights = [cap_height_mm(char) for char in letters(page) if char["text"].isalnum()]
        assert min(heights) >= LEAST_MM - 0.01, page.page_number
        assert outside(page, 19.9, 10.0, 19.9, 8.0) == [], page.page_number
        assert overprinted(page) == [], page.page_number
        text = page.extract_text()
        assert CODE_NAME.findall(text) == [], page.page_number


@pytest.mark.parametrize("kind", list(NAMES))
def test_report__any_name_stays_in_its_place(kind: str) -> None:
    for page in pages(named_report(kind)):
        assert outside(page, 19.9, 10.0, 19.9, 8.0) == [], page.page_number
        # Marks of Devanagari and of Arabic belong over their letters.
        if kind not in ("devanagari", "arabic"):
            assert overprinted(page) == [], page.page_number


def test_papers__fonts_travel_with_the_tool() -> None:
    for kind in ("chinese", "arabic", "devanagari"):
        reader = pypdf.PdfReader(io.BytesIO(named_report(kind)))
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


@settings(max_examples=60)
@given(st.data(), st.integers(2, 12))
def test_tables__no_word_is_wider_than_its_cell(data: Any, columns: int) -> None:
    cells = st.lists(WORDS, max_size=4).map(" ".join)
    heads = data.draw(
        st.lists(st.sampled_from(["no.", "station, m"]), min_size=columns, max_size=columns)
    )
    rows = data.draw(
        st.lists(st.lists(cells, min_size=columns, max_size=columns), min_size=1, max_size=4)
    )
    size, widths = size_for(heads, rows, 170.0)
    assert sum(widths) <= 170.0 + 0.1 * columns
    pad = 2.6 if columns <= 9 else 1.8
    for row in rows:
        for cell, width in zip(row, widths, strict=True):
            told = broken(cell, size, width, columns)
            assert told.replace("\u200b", "") == cell
            pieces = [piece for word in told.split(" ") for piece in word.split("\u200b")]
            for piece in (piece for piece in pieces if len(piece) > 1):
                assert text_width(piece, size) * 25.4 / 72.0 <= width - pad + 1e-9


def scrambled(seed: int) -> dict[str, Any]:
    """Return the sample with a few rows of each table and words of all sorts in them."""
    chance, doc = random.Random(seed), sample_document()
    words = [*(name for kind, name in NAMES.items() if kind != "face"), "V", "a b", "0.5"]

    def worded(row: dict[str, Any]) -> dict[str, Any]:
        loose = ("reason", "name", "text", "message", "source", "place", "label", "case", "consent")
        return {
            key: chance.choice(words) if key in loose and chance.random() < 0.3 else value
            for key, value in row.items()
        }

    for key, value in doc.items():
        if isinstance(value, list) and value and isinstance(value[0], dict) and key != "pipes":
            kept = chance.sample(value, min(len(value), chance.choice((1, 2, 3, 12))))
            doc[key] = [worded(row) for row in kept]
    doc["units"] = chance.choice(("metric", "us"))
    return doc


@pytest.mark.parametrize("seed", range(2))
def test_report__any_study_stays_within_its_page(seed: int) -> None:
    for page in pages(report_pdf(scrambled(seed))):
        assert outside(page, 19.9, 10.0, 19.9, 8.0) == [], page.page_number
        # Marks of Devanagari and of Arabic belong over their letters.
        latin = page.filter(lambda item: "NotoSans" not in item.get("fontname", ""))
        assert overprinted(latin) == [], page.page_number


def test_report__of_a_line_of_twelve_kilometres_has_fewer_than_sixty_pages() -> None:
    doc = sample_document()
    for holder in (doc, doc["works"], doc["trench"], doc["flow"], doc["ground"]):
        for key, value in holder.items():
            if isinstance(value, list) and value and isinstance(value[0], dict):
                holder[key] = value * COPIES
    assert len(pypdf.PdfReader(io.BytesIO(report_pdf(doc))).pages) < 60
