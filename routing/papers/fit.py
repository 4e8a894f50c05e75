"""Columns of a table that fit the page whatever their words: widths measured, never guessed."""

from __future__ import annotations

from collections.abc import Sequence

from routing.papers.typeset import text_width
from routing.words import Said

__all__ = ["LEAST_PT", "LONGEST_WORD", "broken", "fitted_mm", "size_for"]

LEAST_PT = 7.9
"""Smallest lettering [pt]: its capitals are 1.8 mm high."""
SIZES_PT = (8.6, 8.2, LEAST_PT)
"""Sizes of tables, the first that fits is taken [pt]."""
LONGEST_WORD = 24
"""Letters after which the page breaks a word that has no other place to break [-]."""
MM = 25.4 / 72.0


def size_for(
    heads: Sequence[str], rows: Sequence[Sequence[str]], room_mm: float
) -> tuple[float, list[float]]:
    """Return the size of lettering [pt] and the widths of the columns of a table [mm]."""
    size, widths = LEAST_PT, list[float]()
    for size in SIZES_PT:
        widths, fits = fitted_mm(heads, rows, size, room_mm)
        if fits:
            break
    return size, widths


def fitted_mm(
    heads: Sequence[str], rows: Sequence[Sequence[str]], size_pt: float, room_mm: float
) -> tuple[list[float], bool]:
    """Return the widths of columns that fill at most ``room_mm``, and whether no word is cut.

    Every column has room for its longest word; what is left goes to those that would break lines,
    by how much they lack. Where even the words do not fit, columns shrink in proportion.

    >>> fitted_mm(["no.", "why"], [["V1", "a summit"]], 8.6, 170.0)
    ([6.9, 14.5], True)
    """
    pad = _pad(len(heads))
    least, full = [], []
    for number, head in enumerate(heads):
        cells = {row[number] for row in rows}
        words = {part for cell in cells for part in _words(cell)}
        head_words = max((_mm(part, size_pt, bold=True) for part in _words(head)), default=0.0)
        # A head stands in two lines, or in three where it is of many words.
        head_words = max(head_words, 0.58 * _mm(Said(head[:40]), size_pt, bold=True))
        widest = max((_mm(part, size_pt) for part in words), default=0.0)
        long = max((_mm(cell, size_pt) for cell in cells), default=0.0)
        least.append(max(head_words, widest) + pad)
        full.append(max(head_words, widest, long) + pad)
    if sum(full) <= room_mm:
        return [_up(width) for width in full], True
    spare = room_mm - sum(least)
    if spare < 0.0:
        share = room_mm / sum(least)
        return [width * share for width in least], False
    lack = [a - b for a, b in zip(full, least, strict=True)]
    # Columns that lack little are satisfied first, so that figures never break over lines.
    given = [0.0] * len(lack)
    left = len(lack)
    for number in sorted(range(len(lack)), key=lambda index: lack[index]):
        given[number] = min(lack[number], spare / left)
        spare -= given[number]
        left -= 1
    return [a + b for a, b in zip(least, given, strict=True)], True


def broken(text: str, size_pt: float, width_mm: float, columns: int) -> str:
    """Return a cell's text with places to break in each word that is wider than its column.

    >>> broken("a watermain", 8.6, 12.0, 3).replace("\u200b", "|")
    'a w|a|t|e|r|m|a|i|n'
    """
    room = width_mm - _pad(columns)
    if _mm(text, size_pt) <= room:
        return text
    return " ".join(
        word if _mm(word, size_pt) <= room else "\u200b".join(word) for word in text.split(" ")
    )


def _pad(columns: int) -> float:
    """Return the room beside the words of a cell, as the page sets it [mm]."""
    return 2.6 if columns <= 9 else 1.8


def _words(text: str) -> list[str]:
    return [Said(word[:LONGEST_WORD]) for word in text.split()]


def _mm(text: str, size_pt: float, *, bold: bool = False) -> float:
    return text_width(text, size_pt, bold=bold) * MM


def _up(width: float) -> float:
    return round(width + 0.06, 1)
