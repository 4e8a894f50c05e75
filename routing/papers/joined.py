"""How wide letters are that join their neighbours, as those of Arabic do: by the font's tables."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

__all__ = ["joined_widths"]

FORMS = {(False, True): "init", (True, True): "medi", (True, False): "fina"}
"""Form of a letter by whether it joins the one before and the one after: OpenType's features."""
TAKEN_APART = "ccmp"
"""Feature that takes a letter apart into its body and its dots, which the forms then change."""
MARK = 3
"""Class of signs that stand over or under a letter and take no room: OpenType, GDEF."""


def joined_widths(text: str, fonts: tuple[Path, ...]) -> dict[int, int]:
    """Return the widths of the letters of a text that join, by their places [thousandths].

    A letter joins the next where the font has a form of it that does, and one of the next too.
    Signs above and below letters stand between them and part nothing.
    """
    forms = _forms(fonts)
    places = [at for at, char in enumerate(text) if unicodedata.category(char) != "Mn"]
    known = [forms.get(ord(text[at]), {}) for at in places]
    # The last letter joins none.
    after = [
        "init" in one and "fina" in other
        for one, other in zip(known, [*known[1:], {}], strict=False)
    ]
    found = {}
    for at, one, before, behind in zip(places, known, [False, *after], after, strict=False):
        form = FORMS.get((before, behind), "")
        if form in one:
            found[at] = one[form]
    return found


@lru_cache(maxsize=1)
def _forms(fonts: tuple[Path, ...]) -> Mapping[int, Mapping[str, int]]:
    """Return how wide each form of a letter is, by its code point [thousandths of the size]."""
    from fontTools.ttLib import TTFont

    found: dict[int, Mapping[str, int]] = {}
    for path in fonts:
        with TTFont(path, lazy=True) as font:
            share = 1000.0 / font["head"].unitsPerEm
            marks = {
                name
                for name, kind in font["GDEF"].table.GlyphClassDef.classDefs.items()
                if kind == MARK
            }
            changed, metrics = _changes(font["GSUB"].table), font["hmtx"]
            for code, name in font.getBestCmap().items():
                body = changed.get(TAKEN_APART, {}).get(name, (name,))[0]
                widths = {
                    form: round(share * sum(metrics[x][0] for x in to[body] if x not in marks))
                    for form, to in changed.items()
                    if form != TAKEN_APART and body in to
                }
                if widths:
                    found[code] = widths
    return found


def _changes(table: Any) -> dict[str, dict[str, Sequence[str]]]:
    """Return what each feature puts in the place of a sign."""
    found: dict[str, dict[str, Sequence[str]]] = {}
    for record in table.FeatureList.FeatureRecord:
        if record.FeatureTag in (TAKEN_APART, *FORMS.values()):
            to = found.setdefault(record.FeatureTag, {})
            for index in record.Feature.LookupListIndex:
                for part in table.LookupList.Lookup[index].SubTable:
                    mapping = getattr(getattr(part, "ExtSubTable", part), "mapping", {})
                    for name, put in mapping.items():
                        to.setdefault(name, (put,) if isinstance(put, str) else put)
    return found
