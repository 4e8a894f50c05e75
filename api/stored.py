"""What the data folder holds, as values: terrains, studies, revisions."""

from __future__ import annotations

import hashlib
from typing import Any

from routing.value import dataclass

__all__ = ["Revision", "RevisionRow", "StoredTerrain", "StudyRow", "etag_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredTerrain:
    """A terrain in the data folder; ``facts`` is the JSON that describes it."""

    id: str
    name: str
    created: str
    facts: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """One saved state of a study, exactly as it goes out."""

    study: str
    revision: int
    etag: str
    document: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionRow:
    """A saved state as lists show it."""

    revision: int
    created: str
    etag: str
    label: str | None
    who: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRow:
    """A study as lists show it."""

    id: str
    name: str
    created: str
    updated: str
    revision: int
    etag: str
    terrains: tuple[str, ...]


def etag_of(document: bytes) -> str:
    """Return the entity tag of a document, with its quotes."""
    return f'"{hashlib.sha256(document).hexdigest()[:32]}"'
