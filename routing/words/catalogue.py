"""The languages and their catalogues: gettext files, one for each language."""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

from routing.errors import InputError
from routing.trade_table import trade_table
from routing.value import dataclass

__all__ = [
    "CATALOGUES",
    "Language",
    "catalogue",
    "language",
    "languages",
    "read_catalogue",
    "spoken_words",
    "terms",
]

ENTRY = re.compile(r'(?:(msgid|msgstr) )?(".*")$')
"""A line of a gettext file that holds text; a string is quoted as in JSON."""
CATALOGUES = Path(__file__).parent / "data" / "catalogues"


@dataclass(frozen=True, slots=True, kw_only=True)
class Language:
    """A language: its code (BCP 47), its own name, direction, decimal mark, dates and state.

    ``date_form`` has the year as ``{y}``, month and day as ``{m}`` and ``{d}``.

    ``status`` "draft" means that no speaker has confirmed it: cautions then keep their English.
    """

    code: str
    own_name: str
    name: str
    direction: Literal["ltr", "rtl"]
    decimal_mark: str
    date_form: str
    status: Literal["source", "draft", "confirmed"]


@cache
def languages() -> Mapping[str, Language]:
    """Return the languages by their codes, English first."""
    rows = [dict(row) for row in trade_table(__file__, "languages.csv")]
    return MappingProxyType({row["code"]: Language(**row) for row in rows})  # type: ignore[arg-type]


def language(code: str) -> Language:
    """Return a language by its code, as in ``"es"`` or ``"es-PE"``; raises InputError."""
    known = languages()
    found = known.get(code) or known.get(code.replace("_", "-").partition("-")[0].lower())
    if found is None:
        near = difflib.get_close_matches(code, known, n=1, cutoff=0.0)[0]
        raise InputError(
            f"language = {code!r} is not a language of this tool.",
            f"Choose one of {', '.join(known)}; the nearest is {near} ({known[near].name}).",
        )
    return found


@cache
def catalogue(code: str) -> Mapping[str, str]:
    """Return a language's sentences by the English ones, both with ``{1}`` where numbers stand."""
    place = CATALOGUES / f"{code}.po"
    if not place.exists():
        return MappingProxyType({})
    return MappingProxyType(read_catalogue(place.read_text(encoding="utf-8")))


def read_catalogue(text: str) -> dict[str, str]:
    r"""Return the sentences of a gettext file by the English ones, without what is not translated.

    Of the format that is: comments, ``msgid`` and ``msgstr`` over one or several lines. The
    catalogues have no plurals and no contexts.

    >>> read_catalogue('# es\nmsgid "a \\"b\\""\nmsgstr ""\n"a "\n"«b»"\n')
    {'a "b"': 'a «b»'}
    """
    found: dict[str, str] = {}
    entry = {"msgid": "", "msgstr": ""}
    part = "msgstr"
    for line in (*text.splitlines(), 'msgid ""'):
        told = ENTRY.match(line)
        if told is None:
            continue
        if told[1]:
            if told[1] == "msgid":
                if entry["msgid"] and entry["msgstr"]:
                    found[entry["msgid"]] = entry["msgstr"]
                entry = {"msgid": "", "msgstr": ""}
            part = told[1]
        entry[part] += json.loads(told[2])
    return found


@cache
def terms() -> Mapping[str, Mapping[str, str]]:
    """Return the words of the trade by the English ones: in each language, by its code."""
    found: dict[str, dict[str, str]] = {}
    for row in trade_table(__file__, "terms.csv"):
        found.setdefault(row["english"], {})[row["code"]] = row["term"]
    return MappingProxyType(found)


def spoken_words(code: str) -> dict[str, Any]:
    """Return a language with its sentences, as the pages' own script takes them."""
    to = language(code)
    return {
        "code": to.code,
        "direction": to.direction,
        "decimal_mark": to.decimal_mark,
        "date_form": to.date_form,
        "status": to.status,
        "sentences": dict(catalogue(to.code)),
    }
