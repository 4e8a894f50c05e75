"""Letters that travel with the pages: whole, joined, the same on any machine."""

from __future__ import annotations

import io

import pytest
from fontTools.ttLib import TTFont

from routing.papers.letters import FACES, letters, letters_style
from routing.papers.spoken import script_of_language
from routing.words import catalogue, languages


@pytest.mark.parametrize("code", sorted(FACES))
def test_a_font_holds_every_letter_of_its_language(code: str) -> None:
    font = TTFont(io.BytesIO(letters(code)))
    script = ("\u0600", "\u077f") if code == "ar" else ("\u0900", "\u097f")
    used = {c for text in catalogue(code).values() for c in text if script[0] <= c <= script[1]}
    assert len(used) > 40
    assert {ord(char) for char in used} <= font.getBestCmap().keys()
    # Letters that join are chosen by the font's own rules (OpenType, GSUB).
    tags = {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}
    assert tags >= ({"init", "medi", "fina"} if code == "ar" else {"half", "rphf", "pres"})
    assert "fvar" not in font


def test_a_font_is_the_same_each_time_and_small_enough_for_a_phone() -> None:
    assert letters.__wrapped__("ar") == letters("ar")
    assert len(letters("ar")) < 250_000


def test_only_languages_in_scripts_of_their_own_bring_letters() -> None:
    for code in languages():
        assert bool(letters_style(code)) == (code in FACES)
    assert "data:font/ttf" in script_of_language({"language": "ne"})
    assert "data:font/ttf" not in script_of_language({"language": "es"})
    assert script_of_language({"language": "en"}) == ""
