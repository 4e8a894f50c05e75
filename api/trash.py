"""What was deleted and can be brought back for a while: studies with their photographs, terrains.

Deleting marks a row; what is marked is seen by nothing else. After ``LEATLINE_TRASH_DAYS``, or by
hand, rows go, then their files, then the room in the database. Numbers of studies and terrains do
not count what is deleted; bytes do, as they still lie on the disk.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal

from api.access.person import acting
from api.access.tokens import moment_text, now_text
from api.database import Database
from api.errors import NotFound, TerrainInUse, TooLarge
from api.room import Room
from api.settings import ServiceSettings
from routing.value import dataclass

__all__ = ["Kind", "Trash", "TrashRow", "check_count"]

Kind = Literal["study", "terrain"]
TABLES: dict[Kind, str] = {"study": "studies", "terrain": "terrains"}
LISTED = " UNION ALL ".join(
    f"SELECT '{kind}' AS kind, id, name, deleted, deleted_by FROM {table} WHERE deleted IS NOT NULL"
    for kind, table in TABLES.items()
)

LONGEST_DAYS = 36_500.0
"""What any longer time comes to: a hundred years [d]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrashRow:
    """Something that was deleted, by whom, and when it goes for good."""

    kind: Kind
    id: str
    name: str
    deleted: str
    who: str | None
    until: str


class Trash:
    """What was deleted of one data folder."""

    def __init__(
        self, database: Database, settings: ServiceSettings, room: Room, folders: dict[Kind, Path]
    ) -> None:
        self._database = database
        self._settings = settings
        self._kept = timedelta(days=min(settings.trash_days, LONGEST_DAYS))
        self._room = room
        self._folders = folders

    def put(self, connection: sqlite3.Connection, kind: Kind, identity: str) -> bool:
        """Delete something; return whether it was there."""
        done = connection.execute(
            f"UPDATE {TABLES[kind]} SET deleted = ?, deleted_by = ? WHERE id = ? "
            "AND deleted IS NULL",
            (now_text(), acting().name or None, identity),
        )
        return done.rowcount > 0

    def rows(self, limit: int = -1, offset: int = 0) -> list[TrashRow]:
        """Return what can be brought back, the newest first."""
        with self._database.read() as connection:
            found = connection.execute(
                f"SELECT * FROM ({LISTED}) ORDER BY deleted DESC, kind, id LIMIT ? OFFSET ?",
                (limit, offset),
            ).fetchall()
        return [self._row(values) for values in found]

    def restore(self, identity: str) -> list[TrashRow]:
        """Bring something back, a study with the terrains under it; return what came back."""
        with self._database.write() as connection:
            found = [self._one(connection, identity)]
            if found[0].kind == "study":
                under = connection.execute(
                    f"SELECT * FROM ({LISTED}) WHERE kind = 'terrain' AND id IN "
                    "(SELECT terrain FROM study_terrains WHERE study = ?)",
                    (identity,),
                )
                found += map(self._row, under.fetchall())
            for row in found:
                most = getattr(self._settings, f"max_{TABLES[row.kind]}")
                check_count(connection, TABLES[row.kind], most)
                connection.execute(
                    f"UPDATE {TABLES[row.kind]} SET deleted = NULL, deleted_by = NULL WHERE id = ?",
                    (row.id,),
                )
        return found

    def remove(self, identity: str) -> None:
        """Delete one thing for good; a terrain only where nothing in the trash needs it."""

        def take(connection: sqlite3.Connection) -> list[TrashRow]:
            row = self._one(connection, identity)
            user = connection.execute(
                "SELECT study FROM study_terrains WHERE terrain = ?", (identity,)
            ).fetchone()
            if user is not None:
                raise TerrainInUse(
                    f"The deleted study {user[0]} could not be brought back without the terrain "
                    f"{identity}.",
                    "Remove that study from the trash first, or empty the trash.",
                )
            return [row]

        self._take(take)

    def empty(self) -> int:
        """Delete for good all that is in the trash; return how much that was."""
        return self._take(lambda connection: self._older(connection, now_text()))

    def expire(self) -> int:
        """Delete for good what has been in the trash as long as it may; return how much."""
        earliest = moment_text(datetime.now(UTC) - self._kept)
        return self._take(lambda connection: self._older(connection, earliest))

    def _take(self, found: Callable[[sqlite3.Connection], Iterable[TrashRow]]) -> int:
        """Remove rows, then files, then the room they took; studies first, as they need terrains.

        Who was killed in between leaves files that no row names; the next start sweeps them away.
        """

        def rows() -> list[TrashRow]:
            with self._database.write() as connection:
                gone = []
                for row in found(connection):
                    if row.kind == "terrain" and _needed(connection, row.id):
                        continue
                    connection.execute(f"DELETE FROM {TABLES[row.kind]} WHERE id = ?", (row.id,))
                    gone.append(row)
                return gone

        gone = self._room.even_if_full(rows)
        for row in gone:
            shutil.rmtree(self._folders[row.kind] / row.id, ignore_errors=True)
        if gone:
            with suppress(sqlite3.Error):  # what is left goes with the next
                self._database.shrink()
        return len(gone)

    def _older(self, connection: sqlite3.Connection, moment: str) -> list[TrashRow]:
        found = connection.execute(
            f"SELECT * FROM ({LISTED}) WHERE deleted <= ? ORDER BY kind = 'terrain'", (moment,)
        )
        return [self._row(values) for values in found.fetchall()]

    def _one(self, connection: sqlite3.Connection, identity: str) -> TrashRow:
        values = connection.execute(
            f"SELECT * FROM ({LISTED}) WHERE id = ?", (identity,)
        ).fetchone()
        if values is None:
            raise NotFound(
                f"There is no {identity!r} in the trash, or not any more.",
                "Look at /api/trash, or leatline trash list.",
            )
        return self._row(values)

    def _row(self, values: tuple[Kind, str, str, str, str | None]) -> TrashRow:
        kind, identity, name, deleted, who = values
        until = moment_text(datetime.fromisoformat(deleted) + self._kept)
        return TrashRow(kind=kind, id=identity, name=name, deleted=deleted, who=who, until=until)


def _needed(connection: sqlite3.Connection, terrain: str) -> bool:
    found = connection.execute("SELECT 1 FROM study_terrains WHERE terrain = ?", (terrain,))
    return found.fetchone() is not None


def check_count(connection: sqlite3.Connection, table: str, most: int) -> None:
    """Refuse one more of a kind where there are as many as may be; the trash does not count."""
    (count,) = connection.execute(f"SELECT count(*) FROM {table} WHERE deleted IS NULL").fetchone()
    if count >= most:
        raise TooLarge(
            f"The data folder holds as many as LEATLINE_MAX_{table.upper()} allows: {count}.",
            "Delete some, or have the operator allow more.",
        )
