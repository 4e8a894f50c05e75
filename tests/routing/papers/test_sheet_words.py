"""All that sheets and plan of works say of the sample is one of the catalogue's sentences."""

from __future__ import annotations

from api.word_studies import sample_documents
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import paper_of
from routing.papers.works import works_page
from routing.words import language, speaking
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
