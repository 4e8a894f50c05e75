"""The data folder: terrains as files, studies as rows of one SQLite database.

A study is a chain of revisions, each the whole study document as it went out. Every change is one
transaction, so a crash leaves either the state before or the state after. A terrain's files are
gathered in a folder of their own under ``incoming`` and moved in with one rename; their names are
the service's, never the client's. Each call opens its own connection, so threads and processes
may share the folder.
"""

from __future__ import annotations

import filecmp
import secrets
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

import orjson

from api.access.person import acting
from api.access.tokens import now_text
from api.database import Database
from api.errors import NotFound, StaleRevision, TerrainInUse, TooLarge
from api.records import RecordStore
from api.room import Room
from api.settings import ServiceSettings
from api.stored import Revision, RevisionRow, StoredTerrain, StudyRow, etag_of
from api.trash import Kind, Trash, check_count

__all__ = ["Revision", "RevisionRow", "Storage", "StoredTerrain", "etag_of"]

STALE_SECONDS = 24 * 3600.0
"""Age from which a leftover of an interrupted upload is swept away [s]."""

RASTERS = (".tif", ".asc", ".dem", ".img", ".hgt", ".gpkg", ".zip", ".raster")
"""Endings of the service's own names for a terrain's raster."""

Encode = Callable[[str, int], bytes]
"""Makes the document of a study from its id and revision number."""


class Storage:
    """Terrains and studies under one folder."""

    def __init__(self, settings: ServiceSettings) -> None:
        self.settings = settings
        self.folder = settings.data
        self.incoming = self.folder / "incoming"
        self.terrain_folder = self.folder / "terrains"
        for folder in (self.folder, self.incoming, self.terrain_folder):
            folder.mkdir(parents=True, exist_ok=True)
        self.room = Room(self.folder, settings.min_free_bytes, settings.max_data_bytes)
        path = self.folder / "leatline.sqlite3"
        self.database = self.room.even_if_full(lambda: Database(path, settings.lock_seconds))
        self.records = RecordStore(self.database, settings)
        places: dict[Kind, Path] = {"terrain": self.terrain_folder, "study": self.records.folder}
        self.trash = Trash(self.database, settings, self.room, places)
        self._sweep()

    def __reduce__(self) -> tuple[type[Storage], tuple[ServiceSettings]]:
        """Cross to another process as what opens the same folder there."""
        return Storage, (self.settings,)

    def hold(self) -> None:
        """Keep the database open, so that reading goes on where the volume is full."""
        self.room.even_if_full(self.database.hold)
        self.trash.expire()

    def _sweep(self) -> None:
        """Remove what was cut short; young folders may be another process's."""
        with self.database.read() as connection:
            terrains = connection.execute("SELECT id FROM terrains").fetchall()
            studies = connection.execute("SELECT id FROM studies").fetchall()
        photos = self.records.folder
        kept = {self.terrain_folder / row[0] for row in terrains}
        kept |= {photos / row[0] for row in studies}
        folders = (self.incoming, self.terrain_folder, photos)
        for path in (path for folder in folders if folder.is_dir() for path in folder.iterdir()):
            if path not in kept and time.time() - path.stat().st_mtime > STALE_SECONDS:
                shutil.rmtree(path, ignore_errors=True)

    def count(self, table: Literal["terrains", "studies"]) -> int:
        """Return how many there are."""
        with self.database.read() as connection:
            (count,) = connection.execute(
                f"SELECT count(*) FROM {table} WHERE deleted IS NULL"
            ).fetchone()
        return int(count)

    # --- terrains ----------------------------------------------------------------------------

    @contextmanager
    def incoming_folder(self) -> Iterator[Path]:
        """Give a new folder for an upload; what is left in it afterwards is removed."""
        folder = self.incoming / secrets.token_hex(12)
        folder.mkdir()
        try:
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    def add_terrain(self, files: Path, name: str, facts: dict[str, Any]) -> StoredTerrain:
        """Take in the folder ``files`` as a new terrain."""
        terrain = StoredTerrain(id=secrets.token_hex(8), name=name, created=now_text(), facts=facts)
        place = self.terrain_folder / terrain.id
        with self.database.write() as connection:
            check_count(connection, "terrains", self.settings.max_terrains)
            connection.execute(
                "INSERT INTO terrains VALUES (?, ?, ?, ?, NULL, NULL)",
                (terrain.id, name, terrain.created, orjson.dumps(facts)),
            )
            files.rename(place)  # last before the commit: a failure takes the row back
        return terrain

    def same_terrain(self, raster: Path) -> StoredTerrain | None:
        """Return the terrain of the very same files, if there is one."""

        def files(folder: Path) -> list[Path]:
            return sorted(path for path in folder.iterdir() if path.is_file())

        given = files(raster.parent)
        for terrain in self.terrains():
            folder = self.terrain_folder / terrain.id
            kept = files(folder) if folder.is_dir() else []
            if [path.name for path in kept] == [path.name for path in given] and all(
                filecmp.cmp(one, other, shallow=False)
                for one, other in zip(kept, given, strict=True)
            ):
                return terrain
        return None

    def terrains(self, limit: int = -1, offset: int = 0) -> list[StoredTerrain]:
        """Return terrains, the newest first; all of them unless ``limit`` is given."""
        with self.database.read() as connection:
            rows = connection.execute(
                "SELECT id, name, created, facts FROM terrains WHERE deleted IS NULL "
                "ORDER BY created DESC, id "
                "LIMIT ? OFFSET ?",
                (limit, offset),
            ).fetchall()
        return [_terrain(row) for row in rows]

    def terrain(self, identity: str) -> StoredTerrain:
        """Return one terrain."""
        with self.database.read() as connection:
            row = connection.execute(
                "SELECT id, name, created, facts FROM terrains WHERE id = ? AND deleted IS NULL",
                (identity,),
            ).fetchone()
        if row is None:
            raise _no_terrain(identity)
        return _terrain(row)

    def terrain_path(self, identity: str) -> Path:
        """Return the raster file of a terrain."""
        return self.raster_path(self.terrain(identity))

    def raster_path(self, terrain: StoredTerrain) -> Path:
        """Return the raster file of a terrain that was just looked up."""
        folder = self.terrain_folder / terrain.id
        try:
            return next(path for path in sorted(folder.iterdir()) if path.suffix in RASTERS)
        except (OSError, StopIteration) as exc:  # deleted while the request ran
            raise _no_terrain(terrain.id) from exc

    def relief_folder(self, identity: str) -> Path:
        """Return where the reduced copies of a terrain are kept; they go when the terrain goes."""
        return self.terrain_folder / identity / "reduced"

    def delete_terrain(self, identity: str) -> None:
        """Put a terrain that no study needs into the trash."""

        def put() -> None:
            with self.database.write() as connection:
                user = connection.execute(
                    "SELECT t.study FROM study_terrains t JOIN studies s ON s.id = t.study "
                    "WHERE t.terrain = ? AND s.deleted IS NULL LIMIT 1",
                    (identity,),
                ).fetchone()
                if user is not None:
                    raise TerrainInUse(
                        f"The study {user[0]} still needs the terrain {identity}.",
                        "Delete the studies on it first.",
                    )
                if not self.trash.put(connection, "terrain", identity):
                    raise _no_terrain(identity)

        self.room.even_if_full(put)
        self.trash.expire()

    def add_study(
        self, name: str, terrains: tuple[str, ...], encode: Encode, label: str | None = None
    ) -> Revision:
        """Save a new study as its first revision, which may be given a label."""
        identity = secrets.token_hex(8)
        document = encode(identity, 1)
        with self.database.write() as connection:
            check_count(connection, "studies", self.settings.max_studies)
            self._room_each(connection)
            now = now_text()
            connection.execute(
                "INSERT INTO studies VALUES (?, ?, ?, ?, 1, NULL, NULL)", (identity, name, now, now)
            )
            return self._revise(connection, identity, 1, terrains, document, now, label)

    def replace_study(
        self,
        identity: str,
        if_match: str,
        name: str,
        terrains: tuple[str, ...],
        encode: Encode,
        label: str | None = None,
    ) -> Revision:
        """Save the next revision of a study, if ``if_match`` is still its newest one."""
        seen = self.check_match(identity, if_match)
        document = encode(identity, seen.revision + 1)
        with self.database.write() as connection:
            row = connection.execute(
                "SELECT revision FROM studies WHERE id = ? AND deleted IS NULL", (identity,)
            ).fetchone()
            if row is None:
                raise _no_study(identity)
            if row[0] != seen.revision:
                raise _stale(identity)
            now = now_text()
            connection.execute(
                "UPDATE studies SET name = ?, updated = ?, revision = ? WHERE id = ?",
                (name, now, seen.revision + 1, identity),
            )
            connection.execute("DELETE FROM study_terrains WHERE study = ?", (identity,))
            return self._revise(
                connection, identity, seen.revision + 1, terrains, document, now, label
            )

    def check_match(self, identity: str, if_match: str) -> Revision:
        """Return the newest revision of a study, if it is among those that ``if_match`` names."""
        newest = self.study(identity)
        named = [tag.strip() for tag in if_match.split(",")]
        if "*" not in named and newest.etag not in named:
            raise _stale(identity)
        return newest

    def study(self, identity: str, revision: int | None = None) -> Revision:
        """Return one revision of a study, the newest one unless another is asked for."""
        with self.database.read() as connection:
            row = connection.execute(
                "SELECT r.study, r.revision, r.etag, r.document FROM revisions r JOIN studies s "
                "ON s.id = r.study AND r.revision = coalesce(?, s.revision) WHERE s.id = ? "
                "AND s.deleted IS NULL",
                (revision, identity),
            ).fetchone()
        if row is None:
            if revision is not None:
                self.study(identity)
                raise NotFound(
                    f"The study {identity} has no revision {revision}, or not any more.",
                    f"Look at /api/studies/{identity}/revisions.",
                )
            raise _no_study(identity)
        return Revision(study=row[0], revision=row[1], etag=row[2], document=row[3])

    def revisions(self, identity: str) -> list[RevisionRow]:
        """Return the revisions of a study that are kept, the newest first."""
        with self.database.read() as connection:
            rows = connection.execute(
                "SELECT r.revision, r.created, r.etag, r.label, r.who FROM revisions r "
                "JOIN studies s ON s.id = r.study WHERE s.id = ? AND s.deleted IS NULL "
                "ORDER BY r.revision DESC",
                (identity,),
            ).fetchall()
        if not rows:
            raise _no_study(identity)
        names = ("revision", "created", "etag", "label", "who")
        return [RevisionRow(**dict(zip(names, row, strict=True))) for row in rows]

    def studies(self, limit: int = -1, offset: int = 0) -> list[StudyRow]:
        """Return studies, the one changed last first; all of them unless ``limit`` is given."""
        with self.database.read() as connection:
            rows = connection.execute(
                "SELECT s.id, s.name, s.created, s.updated, s.revision, r.etag, "
                "(SELECT group_concat(terrain) FROM (SELECT terrain FROM study_terrains "
                "WHERE study = s.id ORDER BY place)) FROM studies s JOIN revisions r "
                "ON r.study = s.id AND r.revision = s.revision WHERE s.deleted IS NULL "
                "ORDER BY s.updated DESC, s.id LIMIT ? OFFSET ?",
                (limit, offset),
            ).fetchall()
        return [
            StudyRow(
                id=row[0],
                name=row[1],
                created=row[2],
                updated=row[3],
                revision=row[4],
                etag=row[5],
                terrains=tuple(row[6].split(",")),
            )
            for row in rows
        ]

    def delete_study(self, identity: str, if_match: str | None = None) -> None:
        """Put a study into the trash; with ``if_match`` only if it is the newest revision."""

        def put() -> None:
            with self.database.write() as connection:
                row = connection.execute(
                    "SELECT etag FROM revisions r JOIN studies s ON s.id = r.study "
                    "AND s.revision = r.revision WHERE s.id = ? AND s.deleted IS NULL",
                    (identity,),
                ).fetchone()
                if row is None:
                    raise _no_study(identity)
                named = [tag.strip() for tag in (if_match or "*").split(",")]
                if "*" not in named and row[0] not in named:
                    raise _stale(identity)
                self.trash.put(connection, "study", identity)

        self.room.even_if_full(put)
        self.trash.expire()

    def _revise(
        self,
        connection: sqlite3.Connection,
        identity: str,
        revision: int,
        terrains: tuple[str, ...],
        document: bytes,
        now: str,
        label: str | None,
    ) -> Revision:
        tag = etag_of(document)
        for place, terrain in enumerate(terrains):
            added = connection.execute(
                "INSERT INTO study_terrains SELECT ?, ?, id FROM terrains WHERE id = ? "
                "AND deleted IS NULL",
                (identity, place, terrain),
            )
            if not added.rowcount:  # deleted while the study was computed
                raise _no_terrain(terrain)
        connection.execute(
            "INSERT INTO revisions VALUES (?, ?, ?, ?, ?, ?, ?)",
            (identity, revision, tag, now, document, label, acting().name or None),
        )
        # The oldest go first; of those with a label as many are kept besides.
        for kind in ("IS NULL", "IS NOT NULL"):
            connection.execute(
                f"DELETE FROM revisions WHERE study = :study AND label {kind} AND revision NOT IN ("
                f"SELECT revision FROM revisions WHERE study = :study AND label {kind} "
                "ORDER BY revision DESC LIMIT :most)",
                {"study": identity, "most": self.settings.max_revisions},
            )
        return Revision(study=identity, revision=revision, etag=tag, document=document)

    def _room_each(self, connection: sqlite3.Connection) -> None:
        """Refuse one more study of a person who has as many as may be."""
        name = acting().name
        (count,) = connection.execute(
            "SELECT count(*) FROM studies s JOIN revisions r ON r.study = s.id "
            "AND r.revision = s.revision WHERE r.who = ? AND s.deleted IS NULL",
            (name,),
        ).fetchone()
        if name and count >= self.settings.max_studies_each:
            raise TooLarge(
                f"{name} has {count} studies, as many as one person may.",
                "Delete some, or have the operator raise LEATLINE_MAX_STUDIES_EACH.",
            )


def _terrain(row: tuple[str, str, str, bytes]) -> StoredTerrain:
    return StoredTerrain(id=row[0], name=row[1], created=row[2], facts=orjson.loads(row[3]))


def _no_terrain(identity: str) -> NotFound:
    return NotFound(
        f"There is no terrain {identity!r}.", "Upload it, or look its id up at /api/terrains."
    )


def _no_study(identity: str) -> NotFound:
    return NotFound(f"There is no study {identity!r}.", "Look its id up at /api/studies.")


def _stale(identity: str) -> StaleRevision:
    return StaleRevision(
        f"The study {identity} was saved by somebody else in between.",
        "Fetch it again, make the change on that, and send the new ETag in If-Match.",
    )
