"""What a signer should hold against the current edition: values seen second-hand or remembered."""

from __future__ import annotations

import re
from collections.abc import Iterator

from routing.papers.document import Document, plain
from routing.papers.report.basis import basis

__all__ = ["confirm_rows", "with_edition"]

_DOUBT = {"source seen": "seen second-hand", "from memory": "from memory"}
"""How sure a value is, in the words of the list; other statuses need no confirming."""


_YEAR = re.compile(r"\b(?:1[89]|20)\d\d\b|\d-\d\d\b")
"""A year, or the two figures of one behind a standard's number."""
_NUMBERED = re.compile(r"\b[A-Z]*\d{3,}|\b[A-Z]+\d{2,}|\d\.\d+-")
"""What names a publication by its number."""


def with_edition(source: str, status: str) -> str:
    """Return a source with its edition, or that it was not stated where this was taken from.

    What no publication is needed for has none.

    >>> with_edition("AWWA Manual M51", "from memory")
    'AWWA Manual M51; edition not stated in the source'
    >>> with_edition("EN 805:2000", "source seen"), with_edition("beam theory", "published")
    ('EN 805:2000', 'beam theory')
    """
    told = any(words in status.lower() for words in _DOUBT) or _NUMBERED.search(source) is not None
    dated = _YEAR.search(source) is not None
    return f"{source}; edition not stated in the source" if told and not dated else source


def confirm_rows(doc: Document) -> list[list[str]]:
    """Return each source to confirm with what was taken from it, in order of the sources."""
    taken: dict[str, dict[str, None]] = {}
    for source, what, status in _taken(doc):
        doubt = next((words for key, words in _DOUBT.items() if key in status.lower()), None)
        if source and doubt is not None:
            taken.setdefault(with_edition(source, status), {})[f"{what} ({doubt})"] = None
    return [[source, "; ".join(words)] for source, words in sorted(taken.items())]


def _taken(doc: Document) -> Iterator[tuple[str, str, str]]:
    """Return source, what was taken from it, and status, of every value that says so."""
    for check in doc.get("checks") or ():
        yield plain(check["source"]), plain(check["subject"]), plain(check.get("status") or "")
    for formula in basis(doc):
        yield formula.source, formula.title, formula.status
    for pipe in doc.get("pipes") or ():
        for part in ("dimension", "rating"):
            yield (
                plain(pipe.get(f"{part}_source") or ""),
                f"{part} of {plain(pipe['label'])}",
                plain(pipe.get(f"{part}_status") or ""),
            )
