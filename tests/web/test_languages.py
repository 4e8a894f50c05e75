"""The page in other languages: every word that is shown is one of the catalogue's."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from babel.messages.pofile import read_po
from plan_page import bring_line, set_settings, settled

import sample_dem
from api.word_studies import sample_documents
from routing.papers import spoken
from routing.papers.field import field_html
from routing.papers.map import map_html
from routing.words import languages, normal_form
from routing.words.catalogue import CATALOGUES

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
FOREIGN = re.compile(r"[^\W\d_]{3,}")
PRICED = {"prices": {"date": "2026-11-02", "drain": 90.0}}
PSEUDO = {"code": "es", "direction": "ltr", "decimal_mark": ",", "status": "confirmed"}


@pytest.fixture(scope="module")
def pseudo() -> str:
    """Return a language in which each sentence of the catalogues stands in brackets."""
    with (CATALOGUES / "es.po").open("rb") as file:
        sentences = {str(each.id): f"⟦{each.id}⟧" for each in read_po(file) if each.id}
    return json.dumps({**PSEUDO, "sentences": sentences}, ensure_ascii=False)


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return {**next(sample_documents()), "language": "es"}


SHOWN = """() => {
  const found = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const within = node.parentElement;
    const apart = within.closest('.findings, .assumed') ? '' : '[translate=no], ';
    if (within.closest(`${apart}script, style, code, option, datalist`)) continue;
    if (within.checkVisibility && !within.checkVisibility()) continue;
    if (node.nodeValue.trim()) found.push(node.nodeValue.trim());
  }
  return found;
}"""


def speak(page: Any, words: str) -> None:
    page.route("**/words/es.json", lambda route: route.fulfill(body=words))
    control = page.get_by_label("Language")
    if not control.is_visible():  # on a phone it stands in the menu
        page.locator("details.menu > summary").click()
    control.select_option("es")
    page.locator("html[lang=es]").wait_for()


def english(page: Any) -> list[str]:
    """Return the texts in view that no catalogue holds, once words had ample time to be put in."""
    for _ in range(200):
        shown = (text for text in page.evaluate(SHOWN) if "⟦" not in text)
        left = [t for t in shown if FOREIGN.search(re.sub(r"{.*?}", "", normal_form(t).key))]
        if not left:
            break
        page.wait_for_timeout(50)
    return left


@pytest.mark.parametrize("size", [(1440, 900), (390, 844)])
def test_every_text_of_the_page_is_in_the_catalogue(
    open_page: Any, terrain: str, pseudo: str, size: tuple[int, int]
) -> None:
    with open_page(f"/?terrain={terrain}", size=size, service_workers="block") as page:
        bring_line(page, SAMPLE.line)
        set_settings(page, {**PRICED, "trench": {"max_depth": "1.2 m"}})
        settled(page)
        speak(page, pseudo)
        page.evaluate(
            "() => document.querySelectorAll('details.menu').forEach((m) => (m.open = false))"
        )
        found = []
        for tab in page.get_by_role("tab").all():
            tab.click()
            found += english(page)
        assert "\n".join(sorted(set(found))) == ""


OPENED = "() => document.querySelectorAll('details').forEach((part) => { part.open = true; })"


@pytest.mark.parametrize("paper", [map_html, field_html], ids=["map", "field sheet"])
def test_every_text_of_a_paper_on_the_screen_is_in_the_catalogue(
    browser: Any,
    pseudo: str,
    document: dict[str, Any],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    paper: Any,
) -> None:
    monkeypatch.setattr(spoken, "spoken_words", lambda code: json.loads(pseudo))
    spoken._script.cache_clear()
    (tmp_path / "paper.html").write_text(paper(document, None), encoding="utf-8")
    spoken._script.cache_clear()
    page = browser.new_page()
    page.goto((tmp_path / "paper.html").as_uri())
    page.locator("html[lang=es]").wait_for()
    found = []
    for part in ("", *page.locator("nav [data-part]").all()):
        if part:
            part.click()
        page.evaluate(OPENED)
        found += english(page)
    page.close()
    assert "\n".join(sorted(set(found))) == ""


TOO_WIDE = """() => {
  const read = 'button, summary, label, h1, h2, h3, th, [role=tab], .label, .field > span';
  const beyond = (node) => node.clientWidth && node.scrollWidth > node.clientWidth + 1;
  const found = new Set();
  const tabs = [...document.querySelectorAll('[role=tab], nav [data-part]')];
  for (const tab of tabs.length ? tabs : [document.body]) {
    tab.click();
    for (const node of document.querySelectorAll(read))
      if (node.checkVisibility() && beyond(node))
        found.add(`${node.innerText} ${node.scrollWidth} > ${node.clientWidth}`);
    if (beyond(document.documentElement)) found.add(`the page, under ${tab.innerText.slice(0, 9)}`);
  }
  return [...found];
}"""


@pytest.mark.parametrize("size", [(1024, 700), (390, 844)])
def test_no_language_overflows(open_page: Any, terrain: str, size: tuple[int, int]) -> None:
    found = []
    with open_page(f"/?terrain={terrain}", size=size, service_workers="block") as page:
        bring_line(page, SAMPLE.line)
        for code in languages():
            page.locator("#language").evaluate(
                "(list, code) => { list.value = code; list.dispatchEvent(new Event('change')); }",
                code,
            )
            page.locator(f"html[lang={code}]").wait_for()
            found += [f"{code}: {told}" for told in page.evaluate(TOO_WIDE)]
            page.locator("details.menu > summary").first.click()
            menu = page.locator(".sheet-menu").first.bounding_box()
            assert menu is not None
            if not 0 <= menu["x"] <= size[0] - menu["width"]:
                found.append(f"{code}: the menu leaves the window at {menu['x']}")
            found += [f"{code}, menu open: {told}" for told in page.evaluate(TOO_WIDE)]
            page.locator("details.menu > summary").first.click()
    assert "\n".join(found) == ""


@pytest.mark.parametrize("paper", [map_html, field_html], ids=["map", "field sheet"])
def test_no_language_overflows_a_paper_on_the_screen(
    browser: Any, document: dict[str, Any], tmp_path: Path, paper: Any
) -> None:
    page = browser.new_page()
    found = []
    for code in languages():
        place = tmp_path / f"{code}.html"
        place.write_text(paper({**document, "language": code}, None), encoding="utf-8")
        page.goto(place.as_uri())
        page.locator(f"html[lang={code}]").wait_for()
        page.evaluate(OPENED)
        for width, height in ((1024, 700), (390, 844)):
            page.set_viewport_size({"width": width, "height": height})
            found += [f"{code} at {width}: {told}" for told in page.evaluate(TOO_WIDE)]
    page.close()
    assert "\n".join(found) == ""


ENGLISH_MARK = "getComputedStyle(document.querySelector('[data-english]'), '::after').content"


def test_words_that_stay_english_are_marked_and_told_to_readers(
    open_page: Any, terrain: str, pseudo: str
) -> None:
    """WCAG 2.2, 3.1.2: the language of each passage can be found by a program."""
    known = json.loads(pseudo)
    known["sentences"].pop("Save")
    with open_page(f"/?terrain={terrain}", service_workers="block") as page:
        speak(page, json.dumps(known))
        assert page.locator("#save").get_attribute("lang") == "en"
        assert page.evaluate(ENGLISH_MARK) == '"EN"'
        page.get_by_label("Language").select_option("en")
        page.locator("html[lang=en]").wait_for()
        assert page.locator("[data-english], body [lang]").count() == 0


def test_language_is_kept_and_english_comes_back(open_page: Any, terrain: str, pseudo: str) -> None:
    with open_page(f"/?terrain={terrain}", service_workers="block") as page:
        speak(page, pseudo)
        assert page.locator("#save").inner_text() == "⟦Save⟧"
        page.reload()
        page.locator("html[lang=es]").wait_for()
        page.get_by_label("Language").select_option("en")
        page.locator("html[lang=en]").wait_for()
        assert page.locator("#save").inner_text() == "Save"


def test_a_language_read_from_the_right_turns_the_page_round(
    open_page: Any, terrain: str, pseudo: str
) -> None:
    right = json.dumps({**json.loads(pseudo), "direction": "rtl"})
    with open_page(f"/?terrain={terrain}", service_workers="block") as page:
        speak(page, right)
        page.locator("html[dir=rtl]").wait_for()
        assert page.evaluate("getComputedStyle(document.body).direction") == "rtl"
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 0


def test_every_language_has_its_own_name() -> None:
    names = [one.own_name for one in languages().values()]
    assert len(set(names)) == len(names)
