"""The language that a paper is being made in: set by who makes it, asked where words are drawn."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from routing.words.catalogue import catalogue, language
from routing.words.translate import Translator

__all__ = [
    "Said",
    "caution_lines",
    "said",
    "said_caution",
    "said_message",
    "speaking",
    "spoken",
]

_NOW: ContextVar[Translator | None] = ContextVar("language of the paper", default=None)


class Said(str):
    """Text as it is shown: already in the language, or a name that a person gave."""

    __slots__ = ()


@contextmanager
def speaking(to: str | Translator) -> Iterator[Translator]:
    """Put what is drawn within into a language, given by its code or as a translator.

    >>> with speaking("es"):
    ...     said("12.5 kPa")
    '12,5 kPa'
    """
    if isinstance(to, str):
        to = Translator(language(to), catalogue(language(to).code))
    mark = _NOW.set(to)
    try:
        yield to
    finally:
        _NOW.reset(mark)


def said(text: str) -> str:
    """Return a text in the language of the paper being made; said once, it stays as it is."""
    to = _NOW.get()
    return text if to is None or isinstance(text, Said) else Said(to(text))


def said_caution(text: str) -> str:
    """Return a caution: English stands beside it until a speaker has confirmed the language."""
    to = _NOW.get()
    return text if to is None or isinstance(text, Said) else Said(to.caution(text))


def caution_lines(text: str) -> list[str]:
    """Return a caution as :func:`said_caution` does, the English in a line of its own."""
    told = said(text)
    return [told] if said_caution(text) == told else [told, Said(f"[{text}]")]


def said_message(kind: str, problem: str, remedy: str = "") -> tuple[str, str]:
    """Return problem and remedy of a message, as :meth:`Translator.message` does."""
    to = _NOW.get()
    return (problem, remedy) if to is None else to.message(kind, problem, remedy)


def spoken() -> tuple[str, str]:
    """Return code and direction of the language of the paper being made: en and ltr if of none."""
    to = _NOW.get()
    return ("en", "ltr") if to is None else (to.to.code, to.to.direction)
