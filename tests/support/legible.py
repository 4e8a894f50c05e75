"""Reads a PDF as a reviewer: how high letters are, what lies over what, what leaves a page."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import Any

import pdfplumber
from made_study import made_document

NAMES = {
    "long": "Skarn Beck above Otterfell and below the old mill " * 6,
    "unbroken": "L" * 300,
    "chinese": "溪水上游至旧磨坊压力管道线路方案 " * 6,
    "arabic": "خط مياه العين من المأخذ إلى المحطة " * 5,
    "devanagari": "जल रेखा परियोजना ऊपरी घाटी से पुरानी चक्की तक " * 5,
    "face": "Creek 😀 line",
}
"""Names as people give them, longer and of more scripts than any paper has room for."""
LEAST_MM = 1.8
"""Least height of capitals on a paper [mm]: the row of ISO 3098-1 below 2.5 (from memory)."""
MM = 72.0 / 25.4
"""Points of a PDF in a millimetre: a point is 1/72 in."""
CAP_SHARE = {"SourceSansPro": 0.66, "NotoSansCJK": 0.733, "NotoSans": 0.714, "NewCMMath": 0.683}
"""Height of a capital over the size, from each font's own OS/2 table (sCapHeight)."""
CODE_NAME = re.compile(r"\b(?:[a-z]+(?:_[a-z0-9]+)+|[a-z]+\.[a-z]+_[a-z_]+|\w+\(\))\b")
"""What looks like a name of code: joined by underscores, dotted, or called."""
FILE_MARKS = re.compile(r"\[\[?[a-z]+(?:\.[a-z]+)?\]|`[^`]+`|\b[a-z]+\.[a-z_]+ =|\b[a-z_]{3,} = \"")
"""What looks like a settings file: a table in brackets, a name in marks, a key with its value."""


def pages(pdf: bytes) -> Iterator[Any]:
    """Return the pages of a PDF, one at a time."""
    with pdfplumber.open(io.BytesIO(pdf)) as book:
        for page in book.pages:
            yield page
            page.flush_cache()


class Inked:
    """A page as pypdfium2 reads it, letter by letter with the box that its ink fills [pt].

    It has what the checks below take from a page of pdfplumber, which is a hundred times slower.
    """

    def __init__(self, page: Any) -> None:
        import pypdfium2.raw as raw

        self.width, self.height = page.get_size()
        words = page.get_textpage()
        self.text = str(words.get_text_range())
        self.chars: list[dict[str, Any]] = []
        last: tuple[float, ...] = ()
        for index in range(words.count_chars()):
            sign = chr(raw.FPDFText_GetUnicode(words, index))
            if not sign.strip() or raw.FPDFText_IsGenerated(words, index) == 1:
                continue
            x0, low, x1, high = box = words.get_charbox(index)
            if box == last and sign in "fijlt":  # letters that are joined have one box
                continue
            last = box
            turn = raw.FPDFText_GetCharAngle(words, index)
            self.chars.append(
                {
                    "text": sign,
                    "x0": x0,
                    "x1": x1,
                    "top": self.height - high,
                    "bottom": self.height - low,
                    "upright": abs(turn) < 0.1,
                }
            )

    def capitals_mm(self) -> list[float]:
        """Return how high the ink of every capital and figure without a round foot stands [mm]."""
        return [
            (char["bottom"] - char["top"] if char["upright"] else char["x1"] - char["x0"]) / MM
            for char in self.chars
            if char["text"] in "BDEFHIKLMNPRTVXZ1247"
        ]


def inked(pdf: bytes) -> Iterator[Inked]:
    """Return the pages of a PDF by their ink, one at a time."""
    import pypdfium2

    for page in pypdfium2.PdfDocument(pdf):
        yield Inked(page)


def letters(page: Any) -> list[dict[str, Any]]:
    """Return the visible letters of a page; mathematical signs that stretch are left out."""
    return [
        char
        for char in page.chars
        if char["text"].strip() and not (0xE000 <= ord(char["text"][0]) <= 0xF8FF)
    ]


def cap_height_mm(char: dict[str, Any]) -> float:
    """Return how high capitals of a letter's font and size are [mm]."""
    name = str(char["fontname"]).partition("+")[2] or str(char["fontname"])
    share = next((value for key, value in CAP_SHARE.items() if name.startswith(key)), 0.66)
    # Of a letter that stands on its side the height lies across the page.
    a, b = char["matrix"][:2]
    size = char["size"] if abs(a) > abs(b) else char["x1"] - char["x0"]
    return share * float(size) / MM


def outside(page: Any, left: float, top: float, right: float, bottom: float) -> list[str]:
    """Return letters beyond margins given in millimetres."""
    wide, high = float(page.width), float(page.height)
    return [
        char["text"]
        for char in letters(page)
        if char["x0"] < left * MM - 0.5
        or char["x1"] > wide - right * MM + 0.5
        or char["top"] < top * MM - 0.5
        or char["bottom"] > high - bottom * MM + 0.5
    ]


def overprinted(page: Any) -> list[tuple[str, str]]:
    """Return pairs of letters of which one covers more than a third of the other."""
    found, cells = [], dict[tuple[int, int], list[dict[str, Any]]]()
    for char in letters(page):
        if not char["text"][0].isalnum():
            continue
        upright = bool(char["upright"])
        # A box as pdfplumber has it reaches above capitals and below the line: take what is inked.
        high = 0.0 if isinstance(page, Inked) else char["bottom"] - char["top"]
        box = {
            **char,
            "top": char["top"] + 0.3 * high * upright,
            "bottom": char["bottom"] - 0.25 * high * upright,
        }
        place = int(box["x0"] // 12), int(box["top"] // 12)
        for dx in (-1, 0, 1):
            for dy in (-1, 0, 1):
                for other in cells.get((place[0] + dx, place[1] + dy), ()):
                    wide = min(box["x1"], other["x1"]) - max(box["x0"], other["x0"])
                    tall = min(box["bottom"], other["bottom"]) - max(box["top"], other["top"])
                    least = min(
                        (each["x1"] - each["x0"]) * (each["bottom"] - each["top"])
                        for each in (box, other)
                    )
                    if wide > 0.0 and tall > 0.0 and wide * tall > 0.35 * least:
                        found.append((other["text"], box["text"]))
        cells.setdefault(place, []).append(box)
    return found


def check_print(page: Any, left: float, top: float, right: float, bottom: float) -> None:
    """Fail where letters are low, over one another or outside the margins [mm], or tell of code."""
    low = min(page.capitals_mm())
    assert low >= LEAST_MM - 0.005, low
    for wrong in (
        outside(page, left, top, right, bottom),
        overprinted(page),
        CODE_NAME.findall(page.text),
        FILE_MARKS.findall(page.text),
    ):
        assert wrong == [], wrong


def named(name: str, units: str = "metric") -> dict[str, Any]:
    """Return a made study whose every name is the given one."""
    doc = made_document(name=name, units=units)
    cells = dict.fromkeys(("owner", "drawn", "checked", "number"), name)
    revision = {"mark": "A", "date": "2026-11-25", "text": name, "by": name}
    doc["settings"] = {"sheet": {"project": name, **cells, "revision": [revision]}}
    doc["vents"][1]["kind"] = doc["vents"][1]["reason"] = name
    doc["pipes"][0]["label"] = name
    return doc
