"""What crews bring home, kept beside a study, so that no one's work blocks another's.

Records are no revision of the study: somebody may be editing it meanwhile. Each is kept once, as it
was said; photographs are files of their own in the folder ``photos``, named by their contents, and
the records hold only their names. Each save of the study takes the records of the day along.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import orjson

from api.access.person import acting
from api.database import Database
from api.errors import NotFound, TooLarge
from api.settings import ServiceSettings
from routing.crew import (
    PHOTO_NAME,
    Photo,
    Record,
    clamped,
    photo_of,
    record_key,
    records_from,
    records_of_ticks,
)
from routing.errors import InputError
from routing.record import check_records

__all__ = ["RecordStore"]


class RecordStore:
    """The records and photographs of all studies of a data folder."""

    def __init__(self, database: Database, settings: ServiceSettings) -> None:
        self.database = database
        self.settings = settings
        self.folder = settings.data / "photos"
        self._take_old_ticks()

    def records(self, study: str) -> list[Record]:
        """Return the records of a study by time, each with the name of its photograph."""
        with self.database.read() as connection:
            _check_study(connection, study)
            rows = connection.execute(
                "SELECT record FROM records WHERE study = ? ORDER BY time, rowid", (study,)
            ).fetchall()
        return [orjson.loads(row[0]) for row in rows]

    def take(self, study: str, given: Sequence[Mapping[str, Any]], document: Any) -> int:
        """Take in records; return how many were news. The same ones again change nothing.

        All of them are taken or none; ``document`` is the study's newest revision. The service's
        clock bounds their times.
        """
        now = datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        said = records_from(given, now=now)
        check_records(document, said)
        photos: dict[str, Photo] = {}
        for i, record in enumerate(said):
            if record["photo"] is not None:
                record["photo"] = self._named(study, record["photo"], f"records[{i}]", photos)
        self._check_room(study, photos)
        for photo in photos.values():
            self._keep(study, photo)
        kept = clamped(said, now)
        with self.database.write() as connection:
            _check_study(connection, study)
            news = sum(_insert(connection, study, *pair) for pair in zip(said, kept, strict=True))
            (count,) = connection.execute(
                "SELECT count(*) FROM records WHERE study = ?", (study,)
            ).fetchone()
            if count > self.settings.max_records:
                raise TooLarge(
                    f"The study would hold {count} records; {self.settings.max_records} are "
                    "allowed.",
                    "Have the operator raise LEATLINE_MAX_RECORDS.",
                )
        return news

    def photo(self, study: str, name: str) -> Path:
        """Return the file of a photograph."""
        with self.database.read() as connection:
            _check_study(connection, study)
        path = self.folder / study / name
        if not (PHOTO_NAME.fullmatch(name) and study.isalnum() and path.is_file()):
            raise NotFound(f"There is no photograph {name!r}.", "Look it up among the records.")
        return path

    def _named(self, study: str, text: str, where: str, photos: dict[str, Photo]) -> str:
        """Return the address of a photograph beside the records; new ones go into ``photos``."""
        photo = photo_of(text, where, self.settings.max_photo_bytes)
        if photo is not None:
            photos[photo.name] = photo
            return f"photos/{photo.name}"
        match = PHOTO_NAME.fullmatch(text)
        if match is None or not (self.folder / study / match[1]).is_file():
            raise InputError(f"{where}: there is no photograph {text}.", "Send the picture itself.")
        return f"photos/{match[1]}"

    def _check_room(self, study: str, photos: Mapping[str, Photo]) -> None:
        folder = self.folder / study
        held = _sizes(folder) if photos else {}
        size = sum({**held, **{each.name: len(each.data) for each in photos.values()}}.values())
        if size > self.settings.max_photos_bytes:
            raise TooLarge(
                f"The photographs of the study would have {size / 1e6:.0f} MB; "
                f"{self.settings.max_photos_bytes / 1e6:.0f} MB are allowed.",
                "Take smaller ones, or have the operator raise LEATLINE_MAX_PHOTOS_BYTES.",
            )

    def _keep(self, study: str, photo: Photo) -> None:
        """Write a photograph whole or not at all; the same one again changes nothing."""
        folder = self.folder / study
        path = folder / photo.name
        if path.exists():
            return
        folder.mkdir(parents=True, exist_ok=True)
        draft = folder / f".{secrets.token_hex(6)}"
        try:
            with draft.open("wb") as stream:
                stream.write(photo.data)
                stream.flush()
                os.fsync(stream.fileno())  # before the record of it is kept
            draft.rename(path)
        finally:
            draft.unlink(missing_ok=True)

    def _take_old_ticks(self) -> None:
        """Turn what an older version kept in the table ``ticks`` into records."""
        with self.database.write() as connection:
            there = "SELECT 1 FROM sqlite_master WHERE name = 'ticks'"
            if connection.execute(there).fetchone() is None:
                return
            rows = connection.execute("SELECT study, tick FROM ticks").fetchall()
            for study, tick in rows:
                for record in records_from(records_of_ticks([orjson.loads(tick)])):
                    if record["photo"] is not None:
                        photo = photo_of(record["photo"], "an old tick", 2**31)
                        if photo is not None:
                            self._keep(study, photo)
                            record["photo"] = f"photos/{photo.name}"
                    _insert(connection, study, record, record)
            connection.execute("DROP TABLE ticks")


def _insert(connection: sqlite3.Connection, study: str, said: Record, kept: Record) -> int:
    """Keep a record unless it is known, as it was said or as it was given out; return how many."""
    row = {
        "study": study,
        "said": record_key(said),
        "kept": record_key(kept),
        "time": kept["time"],
        "record": orjson.dumps(kept),
        "who": acting().name or None,
    }
    return connection.execute(
        "INSERT INTO records SELECT :study, :said, :kept, :time, :record, :who WHERE NOT EXISTS "
        "(SELECT 1 FROM records WHERE study = :study AND (said = :said OR kept = :said))",
        row,
    ).rowcount


def _check_study(connection: sqlite3.Connection, study: str) -> None:
    found = connection.execute(
        "SELECT 1 FROM studies WHERE id = ? AND deleted IS NULL", (study,)
    ).fetchone()
    if found is None:
        raise NotFound(f"There is no study {study!r}.", "Look its id up at /api/studies.")


def _sizes(folder: Path) -> dict[str, int]:
    """Return the size of each photograph in a folder, drafts of others at work left out [bytes]."""
    try:
        entries = os.scandir(folder)
    except FileNotFoundError:  # no photograph was kept yet
        return {}
    found = {}
    with entries:
        for entry in entries:
            if not entry.name.startswith("."):
                with suppress(FileNotFoundError):  # deleted meanwhile
                    found[entry.name] = entry.stat().st_size
    return found
