"""Words for print: a message of the tool may name a setting as the file writes it, a paper not."""

from __future__ import annotations

import re

from routing.papers.document import plain

__all__ = ["worded"]

_TABLES = (
    "study|terrain|intake|outlet|trench|flow|pipe|valve|branch|tap|turbine|surge|site|test|energy|"
    "prices|survey|sheet|layer"
)
_SETTING = re.compile(rf"\b({_TABLES})\.([a-z]+(?:_[a-z]+)*)\b")
_TABLE = re.compile(r"\[\[?([a-z]+)(?:\.([a-z]+))?\]\]?")
_JOINED = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")


def worded(text: object) -> str:
    """Return a message with settings and codes in words.

    >>> worded("trench.break_price changes it; give a [[pipe]] table")
    'the setting “break price” (trench) changes it; give a “pipe” table'
    """
    told = _TABLE.sub(lambda match: f"“{' '.join(filter(None, match.groups()))}”", plain(text))
    told = _SETTING.sub(r"the setting “\2” (\1)", told)
    return _JOINED.sub(lambda match: match[0].replace("_", " "), told)
