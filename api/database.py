"""The SQLite database of a data folder: its tables, and connections for one piece of work each."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from routing.errors import StudyFileError

__all__ = ["Database"]

CHANGES = (
    """
CREATE TABLE terrains (
    id TEXT PRIMARY KEY, name TEXT NOT NULL, created TEXT NOT NULL, facts BLOB NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE studies (
    id TEXT PRIMARY KEY, name TEXT NOT NULL, created TEXT NOT NULL, updated TEXT NOT NULL,
    revision INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE study_terrains (
    study TEXT NOT NULL REFERENCES studies (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,
    terrain TEXT NOT NULL REFERENCES terrains (id),
    PRIMARY KEY (study, place)
) STRICT, WITHOUT ROWID;
CREATE INDEX study_terrains_by_terrain ON study_terrains (terrain);
CREATE TABLE revisions (
    study TEXT NOT NULL REFERENCES studies (id) ON DELETE CASCADE,
    revision INTEGER NOT NULL,
    etag TEXT NOT NULL, created TEXT NOT NULL, document BLOB NOT NULL,
    PRIMARY KEY (study, revision)
) STRICT
""",
    """
ALTER TABLE revisions ADD COLUMN label TEXT;
CREATE TABLE ticks (
    study TEXT NOT NULL REFERENCES studies (id) ON DELETE CASCADE,
    fitting TEXT NOT NULL, device TEXT NOT NULL, time TEXT NOT NULL, tick BLOB NOT NULL,
    PRIMARY KEY (study, fitting, device)
) STRICT
""",
    """
ALTER TABLE revisions ADD COLUMN who TEXT;
CREATE TABLE links (
    id TEXT PRIMARY KEY, study TEXT NOT NULL REFERENCES studies (id) ON DELETE CASCADE,
    role TEXT NOT NULL, hash TEXT NOT NULL, created TEXT NOT NULL, expires TEXT NOT NULL,
    revoked TEXT, who TEXT NOT NULL
) STRICT;
CREATE INDEX links_by_study ON links (study)
""",
    """
CREATE TABLE records (
    study TEXT NOT NULL REFERENCES studies (id) ON DELETE CASCADE,
    said TEXT NOT NULL, kept TEXT NOT NULL, time TEXT NOT NULL, record BLOB NOT NULL,
    PRIMARY KEY (study, said)
) STRICT;
CREATE INDEX records_as_kept ON records (study, kept)
""",
    """
ALTER TABLE records ADD COLUMN sent_by TEXT
""",
    """
ALTER TABLE studies ADD COLUMN deleted TEXT;
ALTER TABLE studies ADD COLUMN deleted_by TEXT;
ALTER TABLE terrains ADD COLUMN deleted TEXT;
ALTER TABLE terrains ADD COLUMN deleted_by TEXT
""",
)
"""What each version of the database added, the first one first.

What the table ``ticks`` held then becomes records in :mod:`api.records`."""


PAGES_GIVEN_BACK = 4_000
"""Pages of 4 KiB given back in one step: so much room the step itself may need [-]."""
STEPS = 500
"""Steps after something was deleted, at most [-]."""


class Database:
    """One database file; every piece of work opens a connection of its own."""

    def __init__(self, path: Path, lock_seconds: float, changes: tuple[str, ...] = CHANGES) -> None:
        self._path = path
        self._changes = changes
        self._lock_seconds = lock_seconds
        self._held: sqlite3.Connection | None = None
        self._prepare()

    def _connect(self) -> sqlite3.Connection:
        connection = sqlite3.connect(
            self._path,
            check_same_thread=False,  # the one that is held is closed by whoever ends the service
            timeout=self._lock_seconds,
            isolation_level=None,  # transactions are written out below
        )
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        return connection

    def hold(self) -> None:
        """Keep one connection open, so that reading goes on where nothing can be written any more.

        The last connection to close takes the files of the write-ahead log away, and the next one
        would have to make them anew.
        """
        self._held = self._connect()
        self._held.execute("SELECT count(*) FROM sqlite_master").fetchone()

    def let_go(self) -> None:
        """Close the connection that was held, if any."""
        if self._held is not None:
            self._held.close()
            self._held = None

    @contextmanager
    def read(self) -> Iterator[sqlite3.Connection]:
        """Give a connection for reading."""
        connection = self._connect()
        try:
            yield connection
        finally:
            connection.close()

    @contextmanager
    def write(self) -> Iterator[sqlite3.Connection]:
        """Give a connection inside one transaction: all of the block counts, or nothing."""
        with self.read() as connection:
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
            except BaseException:
                if connection.in_transaction:  # a full volume has undone it already
                    connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")

    def shrink(self) -> None:
        """Give back what deleting left, in steps small enough for a full volume."""
        with self.read() as connection:
            for _ in range(STEPS):
                # a script, as a single statement would be stepped through but once
                connection.executescript(f"PRAGMA incremental_vacuum({PAGES_GIVEN_BACK});")
                connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
                (free,) = connection.execute("PRAGMA freelist_count").fetchone()
                if free == 0:
                    return

    def _prepare(self) -> None:
        with self.read() as connection:
            connection.execute("PRAGMA auto_vacuum = INCREMENTAL")  # of a new file only
            connection.execute("PRAGMA journal_mode = WAL")
        with self.write() as connection:
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            if version > len(self._changes):
                raise StudyFileError(
                    f"{self._path} is of a newer version of Leatline.",
                    "Update this installation, or give another folder with --data.",
                )
            for change in self._changes[version:]:
                for statement in change.split(";\n"):
                    connection.execute(statement)
            if version < len(self._changes):  # so that a start writes nothing on a full volume
                connection.execute(f"PRAGMA user_version = {len(self._changes)}")
