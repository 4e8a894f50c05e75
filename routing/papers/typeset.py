"""Typesetting: typst with fonts that travel with the tool, so that a page is the same anywhere."""

from __future__ import annotations

import datetime
import importlib.util
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from routing.errors import StudyFileError

__all__ = ["DESCENT", "FAMILY", "cap_height", "compile_pdf", "line_height", "text_width"]

FAMILY = "Source Sans Pro"
"""Lettering of all typeset papers; its figures all have one width."""

CAP_SHARE = 0.66
"""Height of a capital over the size of the letters, from the font's own table [-]."""

DESCENT = 0.22
"""Depth of g and y beneath the line over the size of the letters [-]."""


def compile_pdf(
    main: str, files: Mapping[str, bytes], *, date: datetime.date | None = None
) -> bytes:
    """Return the PDF of a typst page description with the files it names.

    The same input gives the same bytes: the fonts are the tool's own unless the text holds
    characters that they lack, and the only date is ``date``.
    """
    import typst

    source = {"main.typ": main.encode(), **files}
    stamp = None
    if date is not None:
        stamp = datetime.datetime(date.year, date.month, date.day, tzinfo=datetime.UTC)
    # Relief pictures are no text; every other file is.
    words = "".join(
        data.decode("utf-8", "replace")
        for name, data in files.items()
        if name.endswith((".json", ".svg"))
    )
    fonts: Any = _fonts(_lacks(words))
    try:
        # Typst follows addresses in no file; what it reads is what it is given here.
        # Without tags: they make the file of a long table ten times as large, and slow to write.
        pdf = typst.compile(source, format="pdf", font_paths=fonts, timestamp=stamp, pdf_tags=False)
    except typst.TypstError as exc:
        raise StudyFileError(
            f"The study cannot be typeset: {exc}.", "Run the study again and export the new file."
        ) from exc
    if not isinstance(pdf, bytes):
        raise StudyFileError("The study gave no pages.", "Run the study again.")
    return pdf


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of a line of text, in the unit of ``size``, the size of its letters.

    >>> text_width("360.0", 10.0)
    22.37
    """
    widths = _widths("Semibold" if bold else "Regular")
    return round(sum(widths.get(ord(char), 1000) for char in text) * size / 1000.0, 4)


def cap_height(size: float) -> float:
    """Return the height of capitals and figures of letters of a size, in the unit of ``size``."""
    return CAP_SHARE * size


def line_height(size: float) -> float:
    """Return the height of a line of text from the foot of g to the top of capitals."""
    return (CAP_SHARE + DESCENT) * size


@lru_cache(maxsize=1)
def _folder() -> Path:
    found = importlib.util.find_spec("font_source_sans_pro")
    if found is None or found.origin is None:
        raise ModuleNotFoundError("font_source_sans_pro holds the lettering of sheets and reports")
    return Path(found.origin).parent / "files"


@lru_cache(maxsize=2)
def _fonts(system: bool) -> Any:
    import typst

    return typst.Fonts(include_system_fonts=system, font_paths=[_folder()])


@lru_cache(maxsize=2)
def _widths(weight: str) -> dict[int, int]:
    from fontTools.ttLib import TTFont

    with TTFont(_folder() / f"SourceSansPro-{weight}.ttf", lazy=True) as font:
        metrics, names = font["hmtx"], font.getBestCmap()
        return {code: int(metrics[name][0]) for code, name in names.items()}


def _lacks(text: str) -> bool:
    """Return whether some character is in none of the tool's fonts, such as Chinese."""
    known = _widths("Regular")
    return any(ord(char) not in known for char in set(text) - set("\t\n\r"))
