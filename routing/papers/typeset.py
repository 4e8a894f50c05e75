"""Typesetting: typst with fonts that travel with the tool, so that a page is the same anywhere."""

from __future__ import annotations

import datetime
import importlib.util
import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from routing.errors import StudyFileError
from routing.papers.joined import joined_widths
from routing.words import Said, said
from routing.words.form import UNITS

__all__ = [
    "DESCENT",
    "FAMILIES",
    "cap_height",
    "compile_pdf",
    "font_files",
    "line_height",
    "shortened",
    "text_width",
    "wrapped",
]

FAMILIES = ("Source Sans Pro", "Noto Sans CJK SC", "Noto Sans Arabic", "Noto Sans Devanagari")
"""Lettering of all typeset papers; figures of the first all have one width, the others take over
where it has no sign: Chinese, Japanese and Korean, Arabic, Devanagari."""

_PACKAGES = (
    "font_source_sans_pro",
    "noto_cjk_sans_otc",
    "fontpkg_noto_sans_arabic",
    "fontpkg_noto_sans_devanagari",
)
"""Packages that bring the families, in the same order."""

CAP_SHARE = 0.66
"""Height of a capital over the size of the letters, from the font's own table [-]."""

DESCENT = 0.22
"""Depth of g and y beneath the line over the size of the letters [-]."""

_UNDATED = datetime.date(2000, 1, 1)
"""Date in the properties of a paper whose study has none, which PDF/A asks for."""

_WIDE = 1000
"""Width of a sign that stands in no table, such as a Chinese one [thousandths of its size]."""

_UNSEEN = "\u2066\u2069"
"""Signs that keep what is between them in its own direction and are not drawn (UAX 9)."""
_APART = re.compile(
    rf"(?!(?<=°) [^\W\d_](?!\w))(?: (?!(?:{UNITS})(?!\w))|(?<!\d) )",
)
"""Where a line may end: not between a number and its unit (SI Brochure, 5.4.3), nor between degrees
and their quarter of the compass."""
_JOINS = re.compile("[\u0600-\u08ff]")
"""Letters whose width is another where they join (Arabic)."""
_UNKNOWN = "?"
"""Stands for a sign that no font of the tool has."""


def compile_pdf(
    main: str,
    files: Mapping[str, bytes],
    *,
    date: datetime.date | None = None,
) -> bytes:
    """Return the PDF/A-2b of a typst page description with the files it names.

    It has the structure that readers aloud follow: headings, lists, tables with their heads. Not
    PDF/A-2a: that wants a code point for every sign, which joined signs of Arabic and Devanagari
    do not have.

    The same input gives the same bytes on any machine: the fonts are the tool's own, and the only
    date is ``date``. A sign that none of them has is printed as a question mark.
    """
    import typst

    # Relief pictures are no text; every other file is.
    told = {
        name: _known(data) if name.endswith((".json", ".svg")) else data
        for name, data in files.items()
    }
    source = {"main.typ": main.encode(), **told}
    day = date or _UNDATED
    stamp = datetime.datetime(day.year, day.month, day.day, tzinfo=datetime.UTC)
    try:
        # Typst follows addresses in no file; what it reads is what it is given here.
        pdf = typst.compile(
            source,
            format="pdf",
            font_paths=_fonts(),
            timestamp=stamp,
            pdf_standards=["a-2b"],
            pdf_tags=True,
        )
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
    return round(_thousandths(said(text), bold) * size / 1000.0, 4)


def shortened(text: str, size: float, room: float, *, lines: int = 1, bold: bool = False) -> str:
    """Return text that fits into a number of lines of a width, cut with an ellipsis if need be.

    >>> shortened("a name that is far too long", 10.0, 60.0)
    'a name that…'
    """
    text = said(text)
    # A line may end short of its room where the next word does not fit.
    most = room * (1.0 + 0.8 * (lines - 1))
    if text_width(text, size, bold=bold) <= most:
        return text
    kept, used = 0, text_width("…", size, bold=bold)
    while kept < len(text):
        used += text_width(Said(text[kept]), size, bold=bold)
        if used > most:
            break
        kept += 1
    return Said(text[:kept] + "…")


def wrapped(text: str, size: float, room: float, *, bold: bool = False) -> list[str]:
    """Return text as lines that fit a width; a word that is too long for a line is cut.

    A number and its unit stay together, as does what runs in a direction of its own.

    >>> wrapped("a name that is far too long", 10.0, 60.0)
    ['a name that is', 'far too long']
    >>> wrapped("it is 0.2 m deep", 10.0, 32.0)
    ['it is', '0.2 m', 'deep']
    >>> wrapped("at 47.3° N in it", 10.0, 36.0)
    ['at', '47.3° N', 'in it']
    """
    lines, line, used = [], "", 0.0
    blank = text_width(" ", size, bold=bold)
    for word in _words(said(text), size, room, bold=bold):
        width = text_width(word, size, bold=bold)
        if line and used + blank + width > room:
            lines.append(line)
            line, used = "", 0.0
        if width <= room:
            line, used = (f"{line} {word}", used + blank + width) if line else (word, width)
            continue
        if line:
            line, used = line + " ", used + blank
        for char in word:
            step = text_width(Said(char), size, bold=bold)
            if line.strip() and used + step > room:
                lines.append(line.rstrip())
                line, used = "", 0.0
            line, used = line + char, used + step
    return [Said(each) for each in ([*lines, line] if line else lines or [""])]


def _words(text: str, size: float, room: float, *, bold: bool) -> Iterator[Said]:
    """Yield what is not parted between lines, in pieces that fit one where it can be."""
    part = ""
    for piece in _APART.split(" ".join(text.split())):
        part = f"{part} {piece}" if part else piece
        if part.count(_UNSEEN[0]) == part.count(_UNSEEN[1]):
            whole = text_width(Said(part), size, bold=bold) <= room
            yield from map(Said, [part] if whole else part.split())
            part = ""
    yield from map(Said, part.split())


def cap_height(size: float) -> float:
    """Return the height of capitals and figures of letters of a size, in the unit of ``size``."""
    return CAP_SHARE * size


def line_height(size: float) -> float:
    """Return the height of a line of text from the foot of g to the top of capitals."""
    return (CAP_SHARE + DESCENT) * size


@lru_cache(maxsize=4)
def _folder(package: str) -> Path:
    found = importlib.util.find_spec(package)
    if found is None or found.origin is None:
        raise ModuleNotFoundError(f"{package} holds lettering of sheets and reports")
    return Path(found.origin).parent


@lru_cache(maxsize=1)
def _fonts() -> Any:
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[_folder(name) for name in _PACKAGES])


@lru_cache(maxsize=16384)
def _thousandths(text: str, bold: bool) -> float:
    """Return the width of a text over the size of its letters; many stand on several papers."""
    widths = _widths("Semibold" if bold else "Regular")
    joined = joined_widths(text, tuple(font_files())) if _JOINS.search(text) else {}
    return sum(joined[at] if at in joined else _width(widths, char) for at, char in enumerate(text))


def _width(widths: Mapping[int, int], char: str) -> int:
    found = widths.get(ord(char))
    return _other_width(char) if found is None else found


@lru_cache(maxsize=2)
def _widths(weight: str) -> dict[int, int]:
    from fontTools.ttLib import TTFont

    with TTFont(_folder(_PACKAGES[0]) / "files" / f"SourceSansPro-{weight}.ttf", lazy=True) as font:
        metrics, names = font["hmtx"], font.getBestCmap()
        return {code: int(metrics[name][0]) for code, name in names.items()}


def _other_width(char: str) -> int:
    """Return the width of a sign that the first family lacks; joined signs count one by one."""
    if char in _UNSEEN:
        return 0
    return _WIDE if ord(char) in range(0x2E80, 0xA000) else _other_widths().get(ord(char), _WIDE)


@lru_cache(maxsize=1)
def _other_widths() -> dict[int, int]:
    """Return the widths of Arabic and Devanagari; those of Chinese are all alike."""
    from fontTools.ttLib import TTFont

    found: dict[int, int] = {}
    for path in font_files():
        with TTFont(path, lazy=True) as font:
            share = 1000.0 / font["head"].unitsPerEm
            metrics, names = font["hmtx"], font.getBestCmap()
            found |= {code: round(share * metrics[name][0]) for code, name in names.items()}
    return found


def font_files() -> list[Path]:
    """Return the files of the fonts of Arabic and Devanagari."""
    return [path for name in _PACKAGES[2:] for path in sorted(_folder(name).rglob("*.ttf"))]


@lru_cache(maxsize=1)
def _signs() -> frozenset[int]:
    """Return every sign that some font of the tool has."""
    from fontTools.ttLib import TTFont

    found: set[int] = set()
    for package in _PACKAGES:
        for path in sorted(_folder(package).rglob("*.tt[fc]")):
            with TTFont(path, lazy=True, fontNumber=0) as font:
                found.update(font.getBestCmap())
    return frozenset(found)


def _known(data: bytes) -> bytes:
    """Return text with every sign that no font has replaced, such as a picture of a face."""
    text = data.decode("utf-8", "replace")
    strange = {ord(char) for char in set(text) - set("\t\n\r" + _UNSEEN)}
    strange -= _widths("Regular").keys()
    lacking = strange - _signs() if strange else strange
    return text.translate(dict.fromkeys(lacking, _UNKNOWN)).encode() if lacking else data
