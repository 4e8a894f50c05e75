"""What the user put on the papers: the [sheet] table as the study's settings echo it."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any

from routing.finding import FINDING_CODES
from routing.papers.document import Document, plain
from routing.words import Said, said

__all__ = [
    "MARK",
    "answered",
    "code_words",
    "preliminary",
    "sheet_date",
    "sheet_features",
    "sheet_revisions",
    "sheet_rows",
    "sheet_text",
    "signed",
    "standing",
    "standing_lines",
    "status",
]


MARK = "PRELIMINARY – NOT FOR CONSTRUCTION"
"""Stands on every paper until somebody signs and nothing is open."""

BUILT = "AS BUILT."
"""Stands before it on every paper of levels as built."""


def _table(doc: Document) -> Mapping[str, Any]:
    settings = doc.get("settings")
    table = settings.get("sheet") if isinstance(settings, Mapping) else None
    return table if isinstance(table, Mapping) else {}


def sheet_text(doc: Document, key: str) -> str:
    """Return a text of the title block; empty where it was not given."""
    return _own(key, _table(doc).get(key))


def _own(key: str, text: object) -> str:
    """Return what the user wrote as it is, but for a date."""
    told = plain(text or "")
    return said(told) if key == "date" else Said(told)


def preliminary(doc: Document) -> bool:
    """Return whether a fault or failed check is open: then no name takes the mark off a paper."""
    return bool(doc["verdict"]["preliminary"])


def signed(doc: Document) -> bool:
    """Return whether somebody put their name to papers that leave nothing open."""
    return bool(sheet_text(doc, "signed")) and not preliminary(doc)


def status(doc: Document) -> str:
    """Return what stands where a reviewer looks first: who signed, or that nobody may build."""
    built = f"{said(BUILT)} " if doc.get("as_built") else ""
    if signed(doc):
        return Said(f"{built}{said('Signed')}: {sheet_text(doc, 'signed')}")
    counts = [
        said(f"{count} {word if count == 1 else plural}")
        for count, word, plural in (
            (_left(doc, "faults", "warnings", "fault"), "fault", "faults"),
            (_left(doc, "failed_checks", "checks", "fault"), "failed check", "failed checks"),
            (
                _left(doc, "unsettled_checks", "checks", "warning"),
                "check to settle",
                "checks to settle",
            ),
        )
        if count
    ]
    told = f": {', '.join(counts)}" if preliminary(doc) else ""
    return Said(built + said(MARK) + told)


def _left(doc: Document, counted: str, listed: str, severity: str) -> int:
    """Return how many of what the verdict counts nobody answers for."""
    total: int = doc["verdict"][counted]
    rows = doc.get(listed) or ()
    return total - len([row for row in rows if row.get("waived") and row["severity"] == severity])


def standing_lines(doc: Document) -> list[str]:
    """Return what papers without a title block say of themselves: the mark, and who answers."""
    return [each for each in (status(doc), standing(doc)) if each]


def code_words(code: object) -> str:
    """Return what a finding's code says, as a clause.

    >>> code_words("bend_sharp")
    'the line turns more sharply than one fitting makes'
    """
    told = FINDING_CODES.get(plain(code), plain(code).replace("_", " ")).removesuffix(".")
    return told[:1].lower() + told[1:]


def standing(doc: Document) -> str:
    """Return in words what stands open, or who answers for what; empty where neither."""
    verdict = doc["verdict"]
    parts = []
    if verdict["open"]:
        told = "; ".join(said(code_words(code)) for code in verdict["open"])
        parts.append(f"{said('Left open')}: {told}")
    if doc["waivers"]:
        told = "; ".join(f"{what}, {who}" for what, who in answered(doc))
        parts.append(f"{said('Answered for')}: {told}")
    return Said(". ".join(parts))


def answered(doc: Document) -> list[tuple[str, str]]:
    """Return of each fault or failed check that somebody answers for what it is, and who, why."""
    return [
        (
            said(code_words(each["code"])),
            Said(f"{said('by')} {plain(each['name'])}: {plain(each['reason']).rstrip('. ')}"),
        )
        for each in doc["waivers"]
    ]


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
        {key: _own(key, row.get(key)) for key in ("mark", "date", "text", "by")}
        for row in rows
        if isinstance(row, Mapping)
    ]


def sheet_rows(doc: Document) -> list[tuple[str, str]]:
    """Return the rows of one's own in the title block, label and text."""
    rows = _table(doc).get("entry") or ()
    return [(plain(row.get("label") or ""), plain(row.get("text") or "")) for row in rows]


def sheet_features(doc: Document) -> list[Mapping[str, Any]]:
    """Return the GeoJSON features that the plan shows beside the line."""
    features = [*((_table(doc).get("features") or {}).get("features") or ())]
    for layer in (doc.get("settings") or {}).get("layer") or ():
        for item in layer["features"]["features"]:
            known = item.get("properties") or {}
            label = str(layer.get("label") or "name").lower()
            name = next((each for key, each in known.items() if key.lower() == label), None)
            told = {**known, "name": name, "kind": layer["kind"]}
            features.append({**item, "properties": told})
    return [item for item in features if isinstance(item, Mapping) and item.get("geometry")]
