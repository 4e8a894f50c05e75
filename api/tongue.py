"""The language of the terminal: the one asked for, else that of the machine, if it can be shown."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from typing import TextIO

from routing.words import language, languages

__all__ = ["machine_language", "requested_language", "shown_in"]

LONGEST_HEADER = 200
"""Characters of a header in which a language is looked for [-]."""


def machine_language(variables: Mapping[str, str] = os.environ) -> str:
    """Return the language of the messages of this machine (POSIX.1-2017, 8.2); English if unknown.

    >>> machine_language({"LANG": "es_PE.UTF-8"}), machine_language({"LC_ALL": "C", "LANG": "fr"})
    ('es', 'en')
    """
    names = ("LC_ALL", "LC_MESSAGES", "LANG")
    told = next((variables[name] for name in names if variables.get(name)), "")
    code = told.partition(".")[0].partition("_")[0].lower()
    return code if code in languages() else "en"


def shown_in(asked: str | None, stream: TextIO) -> str:
    """Return the language for a stream; English where its characters lack the language's own.

    Raises InputError for a language that is asked for and not spoken here.
    """
    code = machine_language() if asked is None else language(asked).code
    try:
        languages()[code].own_name.encode(stream.encoding or "ascii", "strict")
    except UnicodeEncodeError:
        return "en"
    return code


def requested_language(header: str) -> str:
    """Return the language that a request would rather have (RFC 9110, 12.5.4); English if none.

    >>> requested_language("es-PE,es;q=0.9,en;q=0.8"), requested_language("ja, de;q=0.5")
    ('es', 'de')
    >>> requested_language("fr;q=0, *")
    'en'
    """
    wished: dict[str, float] = {}
    for part in header[:LONGEST_HEADER].split(","):
        code, _, weight = part.partition(";")
        number = weight.strip().removeprefix("q=")
        value = float(number) if re.fullmatch(r"[01](\.\d{0,3})?", number) else 1.0
        wished.setdefault(code.strip().lower().partition("-")[0], value)
    spoken = {code: value for code, value in wished.items() if value and code in languages()}
    return max(spoken, key=lambda code: spoken[code], default="en")
