"""The language of the terminal: the one asked for, else that of the machine, if it can be shown."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TextIO

from routing.words import language, languages

__all__ = ["machine_language", "shown_in"]


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
