"""Papers in a language: said where words are drawn, once, and only while the paper is made."""

from __future__ import annotations

import io
import re
from typing import Any

import openpyxl
import pytest
from pypdf import PdfReader
from sample_study import sample_document

from routing.errors import InputError
from routing.papers import export_bytes, in_language
from routing.papers.quantities import bill_of_document
from routing.papers.sheet.ink import Drawing
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import paper_of
from routing.papers.typeset import shortened, text_width, wrapped
from routing.papers.workbook import SPOKEN, told_subjects
from routing.papers.works import works_page, works_parts, works_told
from routing.words import (
    Said,
    Translator,
    catalogue,
    language,
    languages,
    said,
    said_caution,
    speaking,
    spoken,
)

SENTENCES = {"cover {1}": "recubrimiento de {1} como mínimo", "Stand clear.": "Apártese."}


@pytest.fixture
def spanish() -> Translator:
    return Translator(language("es"), SENTENCES)


@pytest.fixture(scope="module")
def doc() -> dict[str, Any]:
    return sample_document()


def test_words_are_english_until_a_paper_speaks(spanish: Translator) -> None:
    assert (said("cover 1.234 m"), spoken()) == ("cover 1.234 m", ("en", "ltr"))
    with speaking(spanish):
        assert said("cover 1.234 m") == "recubrimiento de 1,234 m como mínimo"
        assert spoken() == ("es", "ltr")
        with speaking("ar"):
            assert spoken() == ("ar", "rtl")
        assert spoken() == ("es", "ltr")
    assert said("cover 1.234 m") == "cover 1.234 m"


def test_what_is_said_once_is_not_said_again(spanish: Translator) -> None:
    """1.234 m becomes 1,234 m; read once more as English that would be a thousand."""
    with speaking(spanish):
        once = said("1.234 m")
        assert said(once) == once == "1,234 m"
        assert said(Said("cover 1.234 m")) == "cover 1.234 m"


def test_a_caution_keeps_its_english_beside_it(spanish: Translator) -> None:
    with speaking(spanish):
        assert said_caution("Stand clear.") == "Apártese. [Stand clear.]"
    assert said_caution("Stand clear.") == "Stand clear."


def test_room_is_measured_by_the_words_that_are_drawn(spanish: Translator) -> None:
    shown = "recubrimiento de 0,80 m como mínimo"
    with speaking(spanish):
        ink = Drawing(100.0, 20.0)
        box = ink.text(0.0, 5.0, "cover 0.80 m", 2.75)
        assert ink.labels[0].text == shown
        assert box.right - box.left == text_width("cover 0.80 m", 2.75)
        assert " ".join(wrapped("cover 0.80 m", 2.75, 22.0)) == shown
        assert len(wrapped("cover 0.80 m", 2.75, 22.0)) > 1
        assert shortened("cover 0.80 m", 2.75, 15.0).startswith("recubr")
    assert text_width(shown, 2.75) == box.right - box.left


@pytest.mark.parametrize("text", ["ढाल एङ्कर", "الصمام"])
def test_letters_of_other_scripts_have_their_own_widths(text: str) -> None:
    """A letter of a running hand is at most an em wide, one by one; boxes would be an em each."""
    assert 0.25 * len(text) < text_width(text, 1.0) < 0.75 * len(text)


def test_the_works_plan_speaks_the_language_of_the_study(doc: dict[str, Any]) -> None:
    told = {part.title: part for part in works_told({**doc, "language": "es"})}
    english = {part.title: part for part in works_parts(doc)}
    assert told.keys() & english.keys() == set()
    assert "Prueba de presión" in told
    assert all("[" in caution for part in told.values() for caution in part.cautions)
    assert [part.title for part in works_told(doc)] == list(english)


def test_each_paper_can_be_asked_for_in_its_own_language(doc: dict[str, Any]) -> None:
    crew = in_language({**doc, "language": "en"}, "works", "ne")
    text = PdfReader(io.BytesIO(export_bytes(crew, "works"))).pages[0].extract_text()
    assert re.search("[\u0900-\u097f]{3}", text)
    assert in_language(doc, "works", None) is doc
    with pytest.raises(
        InputError, match=r"report is written in English only, not in Nepali\. .*pdf"
    ):
        in_language(doc, "report", "ne")
    with pytest.raises(InputError, match=r"'xx'"):
        in_language(doc, "works", "xx")


@pytest.mark.parametrize("code", [code for code in languages() if code != "en"])
def test_few_words_of_sheets_and_works_plan_lack_a_translation(
    code: str, english_words: list[str]
) -> None:
    """What a change of the papers brought since the last translation stays English, and little."""
    to = Translator(language(code), catalogue(code))
    for text in english_words:
        to(text)
    assert len(to.missing) < 0.1 * len(set(english_words)), list(to.missing)


@pytest.fixture(scope="module")
def english_words(doc: dict[str, Any]) -> list[str]:
    """All that the papers ask for, heard while they are made without a catalogue."""
    heard: list[str] = []

    class Listener(Translator):
        def __call__(self, text: str) -> str:
            heard.append(text)
            return text

    with speaking(Listener(language("ne"), {})):
        sheet_set(doc, paper_of(doc))
        works_page(doc)
    return heard


def test_letters_that_join_are_set_by_the_page_and_not_the_drawing() -> None:
    ink = Drawing(100.0, 20.0)
    for text in ("ढाल, m³", "الصمام", "grade, m³"):
        ink.text(0.0, 5.0, text, 2.75)
    assert [label.joined for label in ink.labels] == [True, True, False]
    svg = ink.svg("")
    assert "grade, m³" in svg
    assert "ढाल" not in svg
    assert "الصمام" not in svg


@pytest.mark.parametrize("code", [code for code in languages() if code != "en"])
def test_no_word_of_the_bill_and_of_the_crews_tables_nor_a_heading_is_without_a_translation(
    code: str, doc: dict[str, Any]
) -> None:
    with speaking(code) as to:
        bill_of_document(doc)
        names = [subject.name for subject, told in told_subjects(doc) if told]
    assert list(to.missing) == []
    assert len(names) == len(SPOKEN)
    assert SPOKEN.isdisjoint(names)


def test_a_workbook_has_all_its_headings_spoken_and_keeps_every_number(doc: dict[str, Any]) -> None:
    def read(code: str) -> list[Any]:
        made = export_bytes(in_language(doc, "xlsx", code), "xlsx")
        return openpyxl.load_workbook(io.BytesIO(made)).worksheets

    def numbers(sheet: Any) -> list[float]:
        rows = sheet.iter_rows(values_only=True)
        return [cell for row in rows for cell in row if isinstance(cell, int | float)]

    english, arabic = read("en"), read("ar")
    turned = {sheet.title for sheet in english if sheet.title in SPOKEN}
    assert len(turned) == len(SPOKEN)
    for plain, told in zip(english, arabic, strict=True):
        assert numbers(plain) == numbers(told), plain.title
        assert plain.title != told.title
        assert told.sheet_view.rightToLeft
        heads, own = ([str(cell.value or "") for cell in sheet[1]] for sheet in (plain, told))
        spoken = [head != other for head, other in zip(heads, own, strict=True)]
        assert sum(spoken) >= len(spoken) - 1, heads  # id, or a name of a law
    caution = next(
        told for plain, told in zip(english, arabic, strict=True) if plain.title == "cautions"
    )
    assert "not for construction" in caution.cell(3, 2).value  # English beside the first draft


def test_the_bill_speaks_and_its_numbers_follow_the_language(doc: dict[str, Any]) -> None:
    def page(code: str) -> str:
        made = export_bytes(in_language(doc, "bill", code), "bill")
        return PdfReader(io.BytesIO(made)).pages[0].extract_text()

    assert "Mengenverzeichnis" in page("de") or "Leistungsverzeichnis" in page("de")
    assert "702,8" in page("de")
    assert "702.8" in page("en")
    assert re.search("[\u0900-\u097f]{3}", page("ne"))
