"""The calculation report can be read: letters, margins, cells and pages, whatever the names."""

from __future__ import annotations

import io
import random
import re
from functools import cache
from typing import Any

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from legible import (
    LEAST_MM,
    NAMES,
    check_print,
    inked,
    named,
    outside,
    overprinted,
)
from sample_study import sample_document, sample_report

from routing.papers.fit import broken, size_for
from routing.papers.report import report_pdf
from routing.papers.typeset import text_width

COPIES = 10
"""So many times the rows of the sample: about what 12 km of line have [-]."""
JOINED = re.compile("[\u0590-\u08ff\u0900-\u097f\ufb50-\ufeff]")
"""Letters of Arabic and Devanagari."""
WORDS = st.one_of(
    st.from_regex(r"[A-Za-z0-9,./-]{1,60}", fullmatch=True),
    st.sampled_from([word for name in NAMES.values() for word in name.split()]),
)


@cache
def named_report(kind: str) -> bytes:
    return report_pdf(named(NAMES[kind]))


def test_report__reads_like_print() -> None:
    for page in inked(sample_report()):
        check_print(page, 19.9, 10.0, 19.9, 8.0)


@pytest.mark.parametrize("kind", list(NAMES))
def test_report__any_name_stays_in_its_place(kind: str) -> None:
    for number, page in enumerate(inked(named_report(kind)), start=1):
        assert outside(page, 19.9, 10.0, 19.9, 8.0) == [], number
        # Marks of Devanagari and of Arabic belong over their letters.
        if kind not in ("devanagari", "arabic"):
            assert overprinted(page) == [], number


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


def check(seed: int) -> None:
    doc = scrambled(seed)
    for number, page in enumerate(inked(report_pdf(doc)), start=1):
        where = (seed, number)
        assert outside(page, 19.9, 10.0, 19.9, 8.0) == [], where
        assert min(page.capitals_mm(), default=LEAST_MM) >= LEAST_MM - 0.005, where
        # Marks of Devanagari and of Arabic belong over their letters.
        page.chars = [char for char in page.chars if not JOINED.match(char["text"])]
        assert overprinted(page) == [], where


@pytest.mark.parametrize("seed", range(4))
def test_report__any_study_stays_within_its_page(seed: int) -> None:
    check(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4, 50))
def test_report__more_studies_stay_within_their_pages(seed: int) -> None:
    check(seed)


def test_report__of_a_line_of_twelve_kilometres_has_fewer_than_sixty_pages() -> None:
    doc = sample_document()
    for holder in (doc, doc["works"], doc["trench"], doc["flow"], doc["ground"]):
        for key, value in holder.items():
            if isinstance(value, list) and value and isinstance(value[0], dict):
                holder[key] = value * COPIES
    assert len(pypdf.PdfReader(io.BytesIO(report_pdf(doc))).pages) < 60
