"""Words for print: a message of the tool may name a setting as the file writes it, a paper not."""

from __future__ import annotations

import re

from routing.papers.document import plain
from routing.trade_table import trade_table
from routing.us_units import raised

__all__ = ["plainly", "true_minus", "typeset", "worded"]

_VALUE = r"(?P<value>\"[^\"]*\"(?:(?:, | or |, or )\"[^\"]*\")*|true|false)"
_UNDER = re.compile(
    rf"\b(?:the )?(?P<key>[a-z]+(?:_[a-z]+)*)(?: = {_VALUE})? under \[\[?(?P<table>\w+)\]\]?"
)
_DOTTED = re.compile(rf"\b(?P<table>[a-z]+)\.(?P<key>[a-z]+(?:_[a-z]+)*)\b(?:(?: =| to) {_VALUE})?")
_TABLE = re.compile(r"(?:\ba )?\[\[?([a-z]+(?:\.[a-z]+)?)\]\]?(?: table)?")
_GIVEN = re.compile(rf"\b([a-z]+(?:_[a-z]+)*) = {_VALUE}")
_JOINED = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")

_MINUS = re.compile(r"(?<![\w.)-])-(?=\d)")
_UNIT = re.compile(
    r"(?<=\d) (?=(?:[kM]?Pa|k?N|k?m|mm|ft|in|yd|psi|lbf|gpm|L/s|s|h|min|kg|kW|kWh|litres)[²³]?"
    r"(?!\w)|[%°])"
)


def plainly(text: object) -> str:
    """Return a message with settings in the words of the trade, as no reader knows their file.

    >>> plainly("Set clean = true under [study], or raise trench.max_depth.")
    'Set the cleaning of the track to yes, or raise the greatest depth of the trench.'
    >>> plainly('Give a [[pipe]] table: from = "5 m"')
    'Give a pipe: from 5 m'
    """
    words = {row["setting"]: row["words"] for row in trade_table(__file__, "plain_settings.csv")}

    def named(found: re.Match[str]) -> str:
        setting, value = f"{found['table']}.{found['key']}", found["value"]
        if setting not in words:
            return found[0].partition(" under ")[0]
        asked = value is not None and found.string[: found.start()].lower().endswith("set ")
        return f"{words[setting]} to {_said(value)}" if asked else words[setting]

    told = _UNDER.sub(named, plain(text))
    told = _TABLE.sub(lambda found: words.get(found[1], found[1]), told)
    told = _DOTTED.sub(named, told)
    told = _GIVEN.sub(lambda found: f"{found[1]} {_said(found['value'])}", told)
    return _JOINED.sub(lambda found: found[0].replace("_", " "), told)


def _said(value: str) -> str:
    return {"true": "yes", "false": "no"}.get(value, value.replace('"', ""))


def worded(text: object) -> str:
    """Return a message as it is printed: settings in words, powers, signs and units set.

    >>> worded("trench.break_price changes it over 3 m2").replace("\u00a0", "~")
    'the worth of a break of grade changes it over 3~m²'
    """
    return typeset(plainly(text))


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
    told = true_minus(raised(text))
    return _UNIT.sub("\u00a0", told)
