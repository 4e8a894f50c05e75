"""The languages and their catalogues: gettext files, one for each language."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

from routing.errors import InputError
from routing.trade_table import trade_table
from routing.value import dataclass

__all__ = ["CATALOGUES", "Language", "catalogue", "language", "languages", "spoken_words", "terms"]

CATALOGUES = Path(__file__).parent / "data" / "catalogues"


@dataclass(frozen=True, slots=True, kw_only=True)
class Language:
    """A language: its code (BCP 47), its own name, direction, decimal mark and state.

    ``status`` "draft" means that no speaker has confirmed it: cautions then keep their English.
    """

    code: str
    own_name: str
    name: str
    direction: Literal["ltr", "rtl"]
    decimal_mark: str
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
            f"language = {code!r} is not one that is spoken here.",
            f"Choose one of {', '.join(known)}; the nearest is {near} ({known[near].name}).",
        )
    return found


@cache
def catalogue(code: str) -> Mapping[str, str]:
    """Return a language's sentences by the English ones, both with ``{1}`` where numbers stand."""
    place = CATALOGUES / f"{code}.po"
    if not place.exists():
        return MappingProxyType({})
    from babel.messages.pofile import read_po

    with place.open("rb") as file:
        read = read_po(file, locale=None, ignore_obsolete=True)
    return MappingProxyType(
        {str(entry.id): str(entry.string) for entry in read if entry.id and entry.string}
    )


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
        "status": to.status,
        "sentences": dict(catalogue(to.code)),
    }
