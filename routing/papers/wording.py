"""Words for print: a message of the tool may name a setting as the file writes it, a paper not."""

from __future__ import annotations

import re

from routing.papers.document import plain

__all__ = ["true_minus", "typeset", "worded"]

_TABLES = (
    "study|terrain|intake|outlet|trench|flow|pipe|valve|branch|tap|turbine|surge|site|test|energy|"
    "prices|survey|sheet|layer"
)
_SETTING = re.compile(rf"\b({_TABLES})\.([a-z]+(?:_[a-z]+)*)\b")
_TABLE = re.compile(r"\[\[?([a-z]+)(?:\.([a-z]+))?\]\]?")
_JOINED = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")

_POWER = re.compile(r"((?<=\d )(?:k?m|mm|ft|yd|mi)|(?<=/)(?:m|s|ft|km))([23])\b")
_RAISED = str.maketrans("23", "²³")
_MINUS = re.compile(r"(?<![\w.)-])-(?=\d)")
_UNIT = re.compile(
    r"(?<=\d) (?=(?:[kM]?Pa|k?N|k?m|mm|ft|in|yd|psi|lbf|gpm|L/s|s|h|min|kg|kW|kWh|litres)[²³]?"
    r"(?!\w)|[%°])"
)


def worded(text: object) -> str:
    """Return a message with settings and codes in words.

    >>> worded("trench.break_price changes it; give a [[pipe]] table")
    'the setting “break price” (trench) changes it; give a “pipe” table'
    """
    told = _TABLE.sub(lambda match: f"“{' '.join(filter(None, match.groups()))}”", plain(text))
    told = _SETTING.sub(r"the setting “\2” (\1)", told)
    return typeset(_JOINED.sub(lambda match: match[0].replace("_", " "), told))


def true_minus(text: str) -> str:
    """Return text whose negative numbers bear a minus, not a hyphen.

    >>> true_minus("-1.42"), true_minus("ISO 4427-2")
    ('−1.42', 'ISO 4427-2')
    """
    return _MINUS.sub("−", text)


def typeset(text: str) -> str:
    """Return text with raised powers and true minus signs, no number parted from its unit.

    >>> typeset("at -7.8 m over 3 m2").replace("\u00a0", "~")
    'at −7.8~m over 3~m²'
    """
    told = _POWER.sub(lambda match: match[1] + match[2].translate(_RAISED), text)
    told = true_minus(told.replace("degC", "°C").replace("degF", "°F"))
    return _UNIT.sub("\u00a0", told)
