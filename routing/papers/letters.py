"""Letters that travel with the pages: the font of a language whose script a machine may lack."""

from __future__ import annotations

import base64
import io
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from routing.papers.typeset import font_files
from routing.words import catalogue, language

__all__ = ["FACES", "letters", "letters_style"]

FAMILY = "Leatline letters"
"""Name that the pages' style sheets ask for behind the machine's own font."""
FACES = MappingProxyType({"ar": "U+0600-077F", "ne": "U+0900-097F, U+200C-200D"})
"""Languages in scripts of their own, with what of them the font is used for."""


@lru_cache(maxsize=4)
def letters(code: str) -> bytes:
    """Return the font of a language's script as TrueType: upright, of one weight, small.

    The same font gives the same bytes. It holds every letter of the script, for names too.
    """
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont
    from fontTools.varLib.instancer import instantiateVariableFont

    used = {ord(char) for text in catalogue(language(code).code).values() for char in text}
    font = TTFont(_fitting(used), recalcTimestamp=False)
    font = instantiateVariableFont(
        font, {axis.axisTag: axis.defaultValue for axis in font["fvar"].axes}
    )
    subset = Subsetter(Options(layout_features=["*"], hinting=False, notdef_outline=True))
    subset.populate(unicodes=[sign for sign in font.getBestCmap() if sign > 0x2AF])
    subset.subset(font)
    made = io.BytesIO()
    font.save(made)
    return made.getvalue()


def letters_style(code: str) -> str:
    """Return the style that brings a language's letters into a page; for most there is none."""
    if code not in FACES:
        return ""
    data = base64.b64encode(letters(code)).decode()
    return (
        f'@font-face {{ font-family: "{FAMILY}"; unicode-range: {FACES[code]}; '
        f"src: url(data:font/ttf;base64,{data}); }} "
        "body, button, input, select, .leaflet-container "
        f'{{ font-family: "DejaVu Sans", Verdana, system-ui, "{FAMILY}", sans-serif; }}'
    )


def _fitting(used: set[int]) -> Path:
    """Return the file of the font that has most of the signs."""
    from fontTools.ttLib import TTFont

    def held(path: Path) -> int:
        with TTFont(path, lazy=True, fontNumber=0) as font:
            return len(used & {sign for sign in font.getBestCmap() if sign > 0x2AF})

    return max(font_files(), key=held)
