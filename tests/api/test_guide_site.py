"""The guide as a folder: opens without the service, every link leads somewhere, commands exist."""

from __future__ import annotations

import json
import re
from itertools import cycle
from pathlib import Path
from typing import Any

import pytest
import typer
from axe import violations
from guide_texts import TEXTS, commands
from verified_page import PAGE, page

from api.cli import app
from api.guide import guide_names
from api.guide_site import search_index, write_guide


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("guide")
    write_guide(folder)
    return folder


def test_every_page_is_there_and_every_link_leads_to_a_file(site: Path) -> None:
    pages = {path.stem for path in site.glob("*.html")}
    assert pages == set(guide_names())
    for path in site.glob("*.html"):
        for address in re.findall(r'(?:href|src)="([^"]+)"', path.read_text(encoding="utf-8")):
            target = address.partition("#")[0]
            if target and "://" not in target and not target.startswith("data:"):
                assert (site / target).is_file(), (path.name, address)


def test_links_to_a_heading_find_it(site: Path) -> None:
    for path in site.glob("*.html"):
        for address in re.findall(r'href="([\w.-]+\.html#[^"]+)"', path.read_text("utf-8")):
            name, _, mark = address.partition("#")
            assert f'id="{mark}"' in (site / name).read_text("utf-8"), (path.name, address)


def test_pictures_are_shown_and_said(site: Path) -> None:
    shown = set()
    for path in site.glob("*.html"):
        for picture in re.findall(r"<img [^>]*>", path.read_text("utf-8")):
            source = re.search(r'src="pictures/([^"]+)"', picture)
            assert source is not None, picture
            assert re.search(r'alt="[^"]{10,}"', picture), picture
            shown.add(source[1])
    assert {path.suffix for path in (site / "pictures").iterdir()} <= {".jpg", ".svg"}
    assert shown <= {path.name for path in (site / "pictures").iterdir()}


@pytest.mark.browser
def test_search_finds_words_in_a_file_without_the_service(site: Path, browser: Any) -> None:
    view = browser.new_page()
    view.goto((site / "index.html").as_uri())
    view.get_by_label("Search").fill("air lock")
    first = view.locator("#guide-found a").first
    first.click()
    assert view.locator("h1").inner_text() == "Words of the trade"
    view.close()


@pytest.mark.browser
def test_anyone_can_read_every_page(site: Path, browser: Any) -> None:
    """No violation of the rules that axe-core tests, in a light room and in a dark one."""
    view = browser.new_page()
    found = []
    for scheme, path in zip(cycle(("light", "dark")), sorted(site.glob("*.html")), strict=False):
        view.emulate_media(color_scheme=scheme)
        view.goto(path.as_uri())
        found += [f"{path.name}: {told}" for told in violations(view)]
    view.close()
    assert found == []


def test_no_marks_of_docstrings_are_read(site: Path) -> None:
    for name in ("python.html", "methods.html", "search-index.js"):
        told = (site / name).read_text(encoding="utf-8")
        assert len(told) > 1000, name
        assert not re.search(r"``|:(?:func|class|data|meth|mod|attr):`", told), name


def test_the_index_holds_every_page() -> None:
    parts = json.loads(search_index().partition(" = ")[2].rstrip(";\n"))
    assert {part["page"] for part in parts} == set(guide_names())
    assert all(part["heading"] for part in parts)


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.stem)
def test_every_command_that_is_told_exists(path: Path) -> None:
    root: Any = typer.main.get_command(app)
    for words in commands(path.read_text(encoding="utf-8")):
        command, rest = root, list(words)
        while hasattr(command, "commands") and rest and not rest[0].startswith("-"):
            if rest[0] not in command.commands:
                command = command.commands.get("plan", command)  # works STUDY.json is its plan
                break
            command = command.commands[rest.pop(0)]
        assert command is not root or not rest or rest[0].startswith("-"), words
        known = {name for given in command.params for name in given.opts} | {"--help"}
        for word in rest:
            if word.startswith("--"):
                assert word.partition("=")[0] in known, (path.name, words)


def test_what_was_verified_is_what_the_records_say() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run: python tests/support/verified_page.py"
