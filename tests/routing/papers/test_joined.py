"""Widths of letters that join, beside what the typesetter itself makes of them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typst

from routing.papers.joined import joined_widths
from routing.papers.typeset import FAMILIES, _fonts, font_files, text_width
from routing.words import Said, catalogue

SIZE = 10.0
MEASURE = """#set text(font: {families}, size: 10pt, lang: "ar", dir: rtl)
#let lines = json("lines.json")
#context [#metadata(lines.map(line => measure(text(line)).width / 1pt)) <widths>]"""


def lines() -> list[str]:
    return [text for text in catalogue("ar").values() if "{" not in text and 12 < len(text) < 70]


def set_widths(lines: list[str], folder: Path) -> list[float]:
    """Return how wide typst sets each line [pt]."""
    (folder / "lines.json").write_text(json.dumps(lines), encoding="utf-8")
    page = folder / "main.typ"
    page.write_text(MEASURE.replace("{families}", f"({json.dumps(FAMILIES)[1:-1]})"))
    found = typst.query(page, "<widths>", field="value", one=True, font_paths=_fonts())
    return [float(width) for width in json.loads(found)]


def test_text_width__of_arabic_is_what_is_set(tmp_path: Path) -> None:
    said = lines()
    widths = set_widths(said, tmp_path)
    shares = [
        text_width(Said(line), SIZE) / width for line, width in zip(said, widths, strict=True)
    ]
    assert len(shares) > 1000
    # Too narrow a guess would let lines run over; too wide it may be by letters set as one sign,
    # and by Latin letters in between.
    assert min(shares) > 0.97
    assert max(shares) < 1.10
    assert sum(shares) / len(shares) == pytest.approx(1.0, abs=0.005)


def test_text_width__letters_apart_are_wider_and_a_sign_above_parts_nothing() -> None:
    word = "منبع"
    apart = sum(text_width(Said(letter), SIZE) for letter in word)
    assert text_width(Said(word), SIZE) < 0.8 * apart
    assert text_width(Said("مُنبع"), SIZE) == text_width(Said(word), SIZE)


def test_joined_widths__join_only_where_both_letters_do() -> None:
    fonts = tuple(font_files())
    assert set(joined_widths("باب", fonts)) == {0, 1}  # alef joins none after it
    assert joined_widths("ا ب", fonts) == {}
    assert joined_widths("valve 12", fonts) == {}
    assert joined_widths("\u064b", fonts) == {}  # a sign of its own, above nothing
