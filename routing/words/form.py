"""A sentence without what varies from line to line: the key of the catalogues."""

from __future__ import annotations

import re
from typing import NamedTuple

__all__ = ["UNITS", "Form", "filled", "normal_form"]

UNITS = (
    "kWh|kW|MWh|MW|W|km²|km2|km|mm|cm|m³/s|m3/s|m/s²|m/s2|m/s|m³|m3|m²|m2|m|L/s/km²|L/s|L/min"
    "|litres|L|kPa|MPa|Pa|bar|kN|N|kg/m³|kg/m|kg|ft³/min|ft³/s|ft/s²|ft/s|ft²|ft2|ft³|ft3|ft|yd³"
    "|gpm|gallons|US gal|gal|in|psi|lbf|lb|°C|°F|°|degC|degF|%|min|mi|h|s|ms"
)
PIPE = (
    r"(?<![^\W_])(?:PE\d+|PVC|DI|STEEL)(?: (?:Sch )?[A-Za-z]*[\d.A-Z]+){1,2} "
    r"(?:DN/OD [\d.]+|[\d./ ]+ in)"
    r"(?:, [A-Z]+ [A-Z]?[\d.A-Z-]+(?: / (?:[A-Z]+ )?[A-Z]?[\d.-]+)?(?: \("
    r"(?:ex [A-Z]\d+, )?[A-Z/ -]+\))?)?"
)
"""The name of a pipe of the catalogue: material, series, size; the standard too."""
DATE = r"(?<![\w.-])\d{4}-\d{2}-\d{2}(?: \d{2}:\d{2})?(?![\d-])"
"""A date, with the time of day or without (ISO 8601)."""
NAMED = r"[^\W\d_][^\s\d,;:·()]*"
"""The name of a currency, or a part of it: it stands behind its amount, after a no-break space."""
VARIES = re.compile(
    rf"“[^”]*”|{PIPE}|{DATE}"
    r"|(?<![^\W_])[A-Z]{1,2}\d+(?!\w)"
    rf"|(?<![\w.])[-−+]?\d+(?:[.,]\d+)*(?:[ \u00a0]?(?:{UNITS})(?!\w)|(?:\u00a0{NAMED})+)?(?!\d)"
)
"""Quoted words, pipes, names of fittings (V3, MH2), numbers and units that are alike anywhere."""
HOLE = re.compile(r"\{(\d+)\}")
AMOUNT = re.compile(r"[-−+]?\d")
"""How a number begins; the name of a pipe or a quoted word begins otherwise."""
TOGETHER = re.compile(r"(?:[A-Za-z]+(?:[ :]| = ))*\{\d+\}(?:(?: ?[×x±] ?|[:+/-])\{\d+\})*")
"""Parts that are read from left to right as one, with the Latin letters before them."""
LATIN = re.compile(r"[A-Za-z]")
LEFTWARD = re.compile("[\u0590-\u08ff]")
"""Letters of scripts that run to the left (Hebrew, Arabic and their neighbours)."""
THOUSANDS = re.compile(r"[-−+]?\d{1,3}(?:,\d{3})+(?![\d,])")


class Form(NamedTuple):
    """A sentence with ``{1}``, ``{2}``, ... where ``parts`` stood."""

    key: str
    parts: tuple[str, ...]


def normal_form(text: str) -> Form:
    """Return a sentence as the catalogues know it, and what was taken out of it.

    >>> normal_form("From V3 the trench is 1.30 m deep.")
    Form(key='From {1} the trench is {2} deep.', parts=('V3', '1.30 m'))
    >>> normal_form("4200\u00a0soles a year").key
    '{1} a year'
    """
    parts: list[str] = []

    def out(match: re.Match[str]) -> str:
        parts.append(match[0])
        return f"{{{len(parts)}}}"

    return Form(VARIES.sub(out, text), tuple(parts))


def filled(
    sentence: str,
    parts: tuple[str, ...],
    decimal_mark: str,
    date_form: str = "{y}-{m}-{d}",
    *,
    rightward: bool = True,
) -> str:
    r"""Return a sentence with the parts put back, numbers and dates as the language writes them.

    >>> filled("{2} de profundidad en {1}", ("V3", "1.30 m"), ",")
    '1,30 m de profundidad en V3'

    Thousands part with a no-break space where the mark is a comma (ISO 80000-1, 7.3.1):

    >>> filled("{1} en total", ("85,971 kg",), ",")
    '85\xa0971 kg en total'

    The number of a release is no decimal: ``0.1.0`` stays. Dates have the order of the language:

    >>> filled("impreso el {1}", ("2026-11-25",), ",", "{d}/{m}/{y}")
    'impreso el 25/11/2026'

    Where a language runs to the left, not ``rightward``, a number stays before its unit: each part
    is isolated (Unicode Standard Annex 9, LRI and PDI).

    >>> filled("{1} · {2}", ("65.2 m", "8.59 kW"), ".", rightward=False)
    '\u206665.2 m\u2069 · \u20668.59 kW\u2069'

    A scale, a chainage or a code is one part, so that it is not turned round:

    >>> filled("{1}:{2} · EPSG:{3}", ("1", "500", "32628"), ".", rightward=False)
    '\u20661:500\u2069 · \u2066EPSG:32628\u2069'

    Words in Latin letters alone, such as a place, keep their order as a whole:

    >>> filled("{1} N, {2} W", ("47.3°", "16.1°"), ".", rightward=False)
    '\u206647.3° N, 16.1° W\u2069'
    """

    def back(match: re.Match[str]) -> str:
        return put(parts[int(match[1]) - 1])

    def isolated(match: re.Match[str]) -> str:
        return f"\u2066{HOLE.sub(back, match[0])}\u2069"

    def put(part: str) -> str:
        if re.match(DATE, part):
            year, month, day = part[:10].split("-")
            return date_form.format(y=year, m=month, d=day) + part[10:]
        plain = decimal_mark == "." or not AMOUNT.match(part) or part.count(".") > 1
        if plain:
            return part
        if THOUSANDS.match(part):
            part = part.replace(",", "\u00a0")
        return re.sub(r"(?<=\d)\.(?=\d)", decimal_mark, part)

    if rightward:
        return HOLE.sub(back, sentence)
    apart = " · " in sentence or LEFTWARD.search(sentence)
    if LATIN.search(HOLE.sub("", sentence)) and not apart:
        return f"\u2066{HOLE.sub(back, sentence)}\u2069"
    return TOGETHER.sub(isolated, sentence)
