"""What the user put on the papers: the [sheet] table as the study's settings echo it."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any

from routing.papers.document import Document, plain

__all__ = ["sheet_date", "sheet_features", "sheet_revisions", "sheet_text", "signed"]


def _table(doc: Document) -> Mapping[str, Any]:
    settings = doc.get("settings")
    table = settings.get("sheet") if isinstance(settings, Mapping) else None
    return table if isinstance(table, Mapping) else {}


def sheet_text(doc: Document, key: str) -> str:
    """Return a text of the title block; empty where it was not given."""
    return plain(_table(doc).get(key) or "")


def signed(doc: Document) -> bool:
    """Return whether somebody put their name to the papers."""
    return bool(sheet_text(doc, "signed"))


def sheet_date(doc: Document) -> datetime.date | None:
    """Return the date of issue; a study has no other date."""
    try:
        return datetime.date.fromisoformat(str(_table(doc).get("date")))
    except ValueError:
        return None


def sheet_revisions(doc: Document) -> list[dict[str, str]]:
    """Return the rows of the revision block."""
    rows = _table(doc).get("revision") or ()
    return [
        {key: plain(row.get(key) or "") for key in ("mark", "date", "text", "by")}
        for row in rows
        if isinstance(row, Mapping)
    ]


def sheet_features(doc: Document) -> list[Mapping[str, Any]]:
    """Return the GeoJSON features that the plan shows beside the line."""
    features = (_table(doc).get("features") or {}).get("features") or ()
    return [item for item in features if isinstance(item, Mapping) and item.get("geometry")]
