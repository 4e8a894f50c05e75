"""Pages without a script: whole in each language, what is not known marked as English."""

from __future__ import annotations

import re

import pytest

from api.page_words import in_language
from api.routes.pages import page_text
from api.routes.sign_in import REFUSED
from routing.words import languages

OTHERS = [code for code in languages() if code != "en"]


@pytest.mark.parametrize("name", ["sign-in.html", "shared.html"])
@pytest.mark.parametrize("code", OTHERS)
def test_in_language__whole_page(code: str, name: str) -> None:
    html = page_text(name).replace("<!-- trouble -->", f"<p>{REFUSED}</p>")
    told = in_language(html, f"{code}-XX,en;q=0.5")
    assert f'<html lang="{code}" dir="{languages()[code].direction}">' in told
    assert 'lang="en"' not in told
    tags = re.compile(r"<[^>]+>")
    assert tags.findall(told)[2:] == tags.findall(html)[2:]  # nothing but words has changed
    assert REFUSED not in told


def test_in_language__english_stays_as_it_is() -> None:
    html = page_text("sign-in.html")
    assert in_language(html, "") == in_language(html, "en-GB,es;q=0.4") == html
    assert in_language(html, "tlh") == html


def test_in_language__unknown_words_are_marked_but_not_in_a_title() -> None:
    html = '<html lang="en"><title>Skarn Beck</title><p>Skarn Beck</p><p>Sign in</p></html>'
    told = in_language(html, "de")
    assert "<title>Skarn Beck</title>" in told
    assert '<p><span lang="en">Skarn Beck</span></p>' in told
    assert told.count('lang="en"') == 1
