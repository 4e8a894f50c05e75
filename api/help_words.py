"""What ``--help`` says of the commands, in the reader's language."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from routing.words import said, speaking

__all__ = ["LEFT_ENGLISH", "help_sentences", "speak_help"]

LEFT_ENGLISH = "What stands in English here is not translated."
"""Below the help in any other language: headings are those of the command line's own library."""


def _commands(command: Any) -> Iterator[Any]:
    yield command
    for under in getattr(command, "commands", {}).values():
        yield from _commands(under)


def help_sentences(command: Any) -> Iterator[str]:
    """Yield what is said of a command, of those below it and of what they take."""
    for each in _commands(command):
        for told in (each, *each.params):
            if getattr(told, "help", None):
                yield " ".join(told.help.split())


def speak_help(command: Any, code: str) -> None:
    """Put the help of a command and of those below it into a language."""
    if code == "en":
        return
    with speaking(code):
        for each in _commands(command):
            each.epilog = said(LEFT_ENGLISH)
            for told in (each, *each.params):
                if getattr(told, "help", None):
                    told.help = said(" ".join(told.help.split()))
