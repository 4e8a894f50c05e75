"""All that sheets and plan of works say of the sample is one of the catalogue's sentences."""

from __future__ import annotations

import re

import numpy as np
import pytest
from legible import inked

from api.word_studies import sample_documents
from routing.papers.alternatives import alternatives_data, alternatives_pdf
from routing.papers.sheet.ink import Drawing
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import paper_of
from routing.papers.works import works_page
from routing.words import language, languages, speaking
from routing.words.catalogue import CATALOGUES, read_catalogue
from routing.words.translate import Translator


def test_no_text_of_the_papers_lacks_a_sentence() -> None:
    """Listened to while they are drawn, in a language that answers in brackets."""
    known = read_catalogue((CATALOGUES / "es.po").read_text(encoding="utf-8"))
    document = next(sample_documents())
    with speaking(Translator(language("es"), {text: f"⟦{text}⟧" for text in known})) as heard:
        sheet_set(document, paper_of(document))
        works_page(document)
    assert list(heard.missing) == []


ENGLISH = {
    "Alternatives", "Lines compared by the same checks", "Length in plan", "Gross head", "Open",
    "Consents lacking", "Without a price", "Faults", "Warnings", "Failed checks", "nothing",
    "The study holds this one line, and so nothing to compare it with.",
    "Bold where the lines differ. A dash: not known.",
}  # fmt: skip
"""Words of the lines side by side as English has them, which no other language shares."""


def labels_over_another(ink: Drawing) -> list[tuple[str, str]]:
    """Return pairs of lines of text of which one covers a tenth of the other's height and more."""
    found = []
    boxes = np.array([[b.left, b.top, b.right, b.bottom] for b in (t.box for t in ink.labels)])
    for number, (left, top, right, bottom) in enumerate(boxes):
        rest = boxes[:number]
        wide = np.minimum(rest[:, 2], right) - np.maximum(rest[:, 0], left)
        tall = np.minimum(rest[:, 3], bottom) - np.maximum(rest[:, 1], top)
        least = 0.1 * np.minimum(rest[:, 3] - rest[:, 1], bottom - top)
        for other in np.flatnonzero((wide > 0.2) & (tall > least)):
            found.append((ink.labels[other].text, ink.labels[number].text))
    return found


@pytest.mark.parametrize("code", list(languages()))
def test_no_text_of_a_sheet_leaves_it_or_lies_over_another(code: str) -> None:
    document = next(sample_documents())
    paper = paper_of(document)
    with speaking(code):
        sheets = sheet_set(document, paper)
    wrong = []
    for number, sheet in enumerate(sheets, start=1):
        wrong += [(number, *pair) for pair in labels_over_another(sheet.ink)]
        for label in sheet.ink.labels:
            if label.box.left < -0.01 or label.box.right > paper.frame_width + 0.01:
                wrong.append((number, label.text, "beyond the frame"))
    assert wrong == []


def test_tables_and_notes_run_as_the_language_does() -> None:
    """In Arabic the first column is the rightmost; figures keep their units one above another."""
    document = next(sample_documents())
    paper = paper_of(document)
    edges = {}
    for code in ("en", "ar"):
        with speaking(code):
            sheets = sheet_set(document, paper)
        tables = [(table, sheet.ink) for sheet in sheets for table in sheet.ink.tables]
        bends = next(table for table, _ in tables if len(table.rows[0]) == 6)
        wide = sum(bends.widths)
        first, *_, last = (cell[0].box for cell in bends.rows[1])
        edges[code] = (first.left - bends.left, bends.left + wide - last.right)
        assert all(cell[0].anchor == "end" for cell in bends.rows[1][1:])
        # the rules of the table lie where its cells do
        x = np.concatenate([shape.points[:, 0] for shape in tables[0][1].shapes])
        assert np.isclose(x, tables[0][0].left).any()
        if code == "ar":
            assert first.right == pytest.approx(bends.left + wide - 0.8)
            assert {cell[0].anchor for row in bends.rows for cell in row} == {"end"}
            strip = [t for t in sheets[0].ink.labels if t.layer == "strip" and not t.bold]
            assert {label.anchor for label in strip} == {"end"}
    assert edges["en"][0] == pytest.approx(0.8)
    assert edges["en"][1] == pytest.approx(0.8)


@pytest.mark.parametrize("code", list(languages()))
def test_lines_side_by_side_are_in_the_language_of_the_study(code: str) -> None:
    """A permit's alternatives: no words of the table and about the map stay English."""
    data = alternatives_data({**next(sample_documents()), "language": code})
    assert (data["language"], data["direction"]) == (code, languages()[code].direction)
    cells = [cell for group in data["groups"] for row in group["rows"] for cell in row["cells"]]
    shown = {*cells, *data["words"], data["title"], data["subtitle"], data["foot"]}
    assert bool(ENGLISH & shown) == (code == "en")


def test_lines_side_by_side_are_one_pdf_in_arabic_too() -> None:
    document = {**next(sample_documents()), "language": "ar"}
    (first, *_) = inked(alternatives_pdf(document))
    assert "1167" in first.text
    assert re.search("[\u0600-\u06ff]{3}", first.text)
