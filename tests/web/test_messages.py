"""The guide's page of messages: an entry with cause and remedy for every code, and no other."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
from every_error import every_error

from routing.errors import LeatlineError
from routing.finding import FINDING_CODES

PAGE = Path(__file__).parents[2] / "web" / "guide" / "messages.md"
ROW = re.compile(r"^\| `([a-z_0-9]+)` \| (.*) \| (.*) \|$", re.MULTILINE)
ROWS = ROW.findall(PAGE.read_text(encoding="utf-8"))
ENTRIES = {code: (cause.strip(), remedy.strip()) for code, cause, remedy in ROWS}


ERRORS = every_error()


@pytest.mark.parametrize("kind", ERRORS, ids=lambda kind: kind.__name__)
def test_messages__every_error_has_an_entry(kind: type[LeatlineError]) -> None:
    assert kind.code in ENTRIES


def test_messages__every_error_has_a_code_of_its_own() -> None:
    # A class without one would be looked up under its parent's entry.
    assert [
        code for code, count in Counter(kind.code for kind in ERRORS).items() if count > 1
    ] == []


@pytest.mark.parametrize("code", FINDING_CODES)
def test_messages__every_warning_has_an_entry(code: str) -> None:
    assert code in ENTRIES


def test_messages__no_entry_without_a_message() -> None:
    assert ENTRIES.keys() == {kind.code for kind in ERRORS} | FINDING_CODES.keys()
    assert len(ROWS) == len(ENTRIES)


@pytest.mark.parametrize("code", ENTRIES)
def test_messages__cause_and_remedy_are_sentences(code: str) -> None:
    for words in ENTRIES[code]:
        assert words[0].isupper()
        assert words.endswith(".")
        assert len(words) >= 8
