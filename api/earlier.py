"""What a study takes from the one before it: names that last, and what crews recorded."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

from routing.crew import PHOTO_NAME
from routing.errors import StudyFileError
from routing.record import keep_names, keep_names_if_any, read_document, with_records

__all__ = ["after", "take_photos"]


def after(document: dict[str, Any], found: Path | None, named: Path | None) -> dict[str, Any]:
    """Return a study with the names and records of the one before it.

    ``named`` is the file that the user gave, ``found`` the one that happens to lie in the folder:
    that counts only if something of it lasts.
    """
    if named is not None:
        earlier = read_document(named)
        return with_records(keep_names(document, earlier), list(earlier.get("records") or ()))
    if found is None or not found.is_file():
        return document
    try:
        earlier = read_document(found)
        kept = keep_names_if_any(document, earlier)
    except StudyFileError:  # of another version: there is nothing to go on from
        return document
    records = list(earlier.get("records") or ()) if "changes" in kept else []
    return with_records(kept, records)


def take_photos(document: dict[str, Any], source: Path, folder: Path) -> None:
    """Copy the photographs that a study's records name from beside one study to beside another.

    One that lies there already, or that nobody has, is left.
    """
    for record in document.get("records") or ():
        name = str(record.get("photo") or "")
        if not PHOTO_NAME.fullmatch(name) or not name.startswith("photos/"):
            continue
        found, kept = source / name, folder / name
        if found.is_file() and not kept.exists():
            kept.parent.mkdir(exist_ok=True)
            shutil.copyfile(found, kept)
