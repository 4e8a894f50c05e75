"""What ``--help`` says of the commands, in the reader's language."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

from routing.words import said, speaking

__all__ = ["OF_HELP", "help_sentences", "speak_help"]

OF_HELP = (
    "Usage:", "Arguments", "Options", "Commands", "Show this message and exit.", "required",
    "default: {1}",
)  # fmt: skip
"""What the command line's own library says about the commands."""
_TAIL = re.compile(r"^(.*?)(?:\s*\[([^\]]*)\])?$", re.DOTALL)
"""A help text, and what the library adds behind it in brackets."""


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
    for each in _commands(command):
        each.context_class = type("SpokenContext", (each.context_class,), {})
        each.context_class.formatter_class = _formatter(each.context_class.formatter_class, code)
        with speaking(code):
            for told in (each, *each.params):
                if getattr(told, "help", None):
                    told.help = said(" ".join(told.help.split()))


def _formatter(plain: type[Any], code: str) -> type[Any]:
    """Return the library's way to set a help text, with its own words in a language."""

    class Formatter(plain):  # type: ignore[misc]  # the library brings its class
        def write_usage(self, prog: str, args: str = "", prefix: str | None = None) -> None:
            with speaking(code):
                super().write_usage(prog, args, prefix or f"{said('Usage:')} ")

        def write_heading(self, heading: str) -> None:
            with speaking(code):
                super().write_heading(said(heading))

        def write_dl(self, rows: Sequence[tuple[str, str]], *args: Any, **how: Any) -> None:
            with speaking(code):
                super().write_dl([(term, _told(text)) for term, text in rows], *args, **how)

    return Formatter


def _told(text: str) -> str:
    """Return what stands beside an option: its help, which is in the language, and its tail."""
    parted = _TAIL.match(text)
    if parted is None or parted[2] is None:
        return said(text)
    tail = "; ".join(said(piece) for piece in parted[2].split("; "))
    return f"{said(parted[1])}  [{tail}]"
