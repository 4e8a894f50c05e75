"""A data folder as one file and back, while the service runs.

The database is copied by SQLite's own online backup, one consistent state; copying its file alone
would lose what still lies in the write-ahead log. Files of terrains and photographs never change
once they are in, so they are held by hard links while they are packed. The archive is a plain zip
with ``manifest.json``: size and SHA-256 of each file. Both directions appear whole or not at all.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import secrets
import shutil
import sqlite3
import time
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import IO, Any

from routing import __version__
from routing.errors import InputError, StudyFileError

__all__ = ["Held", "back_up", "restore"]

DATABASE = "leatline.sqlite3"
MANIFEST = "manifest.json"
HELD_FOLDERS = ("terrains", "photos")
MADE_AGAIN = "reduced"
"""Folder within a terrain's that the service makes anew."""
IDENTITY = re.compile(r"[0-9a-f]{16}")
"""What ids look like: they are names of folders, which a backup from elsewhere could misuse."""
CHUNK = 2**20
OLD_SECONDS = 3600.0
"""Age from which a draft of a killed run is swept away [s]."""


_UNSOUND = (
    zipfile.BadZipFile, zlib.error, sqlite3.Error, ValueError, TypeError, LookupError,
    AttributeError, EOFError, RuntimeError,
)  # fmt: skip
"""What is raised where an archive, its list or its database are not as they were packed."""


class Held(dict[str, int]):
    """How much a backup holds: ``studies``, ``terrains``, ``files`` and ``bytes``."""


def back_up(data: Path, file: Path) -> Held:
    """Pack a data folder into one file, as it stands at one moment."""
    database = data / DATABASE
    if not database.is_file():
        raise InputError(f"{data} is no data folder.", "Give the one that serve uses with --data.")
    if file.exists() and not file.is_file():
        raise InputError(f"{file} is no file.", "Name a file to write.")
    try:
        with _draft_beside(file) as draft, _staging(data) as stage:
            held = _stage(data, stage)
            _pack(stage, draft)
            os.replace(draft, file)
            _flush(file.parent)
    except (OSError, sqlite3.Error) as exc:
        raise InputError(
            f"{data} could not be backed up: {exc}.", "Make room, or try again."
        ) from exc
    return held


def restore(file: Path, data: Path) -> Held:
    """Unpack a backup into a data folder that is not there yet, or empty."""
    if data.exists() and (not data.is_dir() or any(data.iterdir())):
        raise InputError(
            f"{data} is not empty; nothing is written over it.",
            "Name a new folder with --data, or move the old one away.",
        )
    if file.is_dir():
        raise InputError(f"{file} is a folder, not a backup.", "Name the file that backup wrote.")
    if not file.exists():
        raise InputError(f"There is no backup {file}.", "Check its name and place.")
    if not zipfile.is_zipfile(file):
        raise _damaged(file, "it is not an archive")
    data.parent.mkdir(parents=True, exist_ok=True)
    try:
        with _draft_beside(data) as draft, zipfile.ZipFile(file) as archive:
            draft.mkdir()
            _unpack(archive, file, draft)
            held = _checked(draft, file)
            os.replace(draft, data)  # over an empty folder this is one step
            _flush(data.parent)
    except _UNSOUND as exc:
        raise _damaged(file, str(exc)) from exc
    except OSError as exc:
        raise InputError(
            f"{file} could not be restored to {data}: {exc}.", "Make room, or try again."
        ) from exc
    return held


@contextmanager
def _draft_beside(place: Path) -> Iterator[Path]:
    """Give a name beside a place; what is left there goes, as do drafts of killed runs."""
    if not place.parent.is_dir():
        raise InputError(f"The folder {place.parent} does not exist.", "Make it first.")
    for old in place.parent.glob(f".{place.name}-draft-*"):
        if time.time() - old.stat().st_mtime > OLD_SECONDS:
            _remove(old)
    draft = place.parent / f".{place.name}-draft-{secrets.token_hex(6)}"
    try:
        yield draft
    finally:
        _remove(draft)


def _remove(path: Path) -> None:
    if path.is_dir():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)


@contextmanager
def _staging(data: Path) -> Iterator[Path]:
    stage = data / "incoming" / f"backup-{secrets.token_hex(6)}"
    stage.mkdir(parents=True)
    try:
        yield stage
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def _stage(data: Path, stage: Path) -> Held:
    """Hold files and database of one moment in ``stage``."""
    for _ in range(10):
        _hold_files(data, stage)  # before: what is deleted from now on is kept all the same
        copy = stage / DATABASE
        copy.unlink(missing_ok=True)
        with closing(sqlite3.connect(data / DATABASE, timeout=30.0)) as live:
            with closing(sqlite3.connect(copy)) as copied:
                live.backup(copied)
                copied.execute("PRAGMA journal_mode = DELETE")
        _hold_files(data, stage)  # after: what came in between the two
        terrains = _identities(copy, "terrains")
        if all((stage / "terrains" / name).is_dir() for name in terrains):
            _drop_others(stage / "terrains", terrains)
            _drop_others(stage / "photos", _identities(copy, "studies"))
            return _held(stage)
    raise StudyFileError("Terrains come and go too fast to be backed up.", "Try again in a while.")


def _hold_files(data: Path, stage: Path) -> None:
    for folder in HELD_FOLDERS:
        for path in sorted((data / folder).rglob("*")):
            within = path.relative_to(data)
            hidden = MADE_AGAIN in within.parts or path.name.startswith(".")
            if hidden or path.is_symlink() or not path.is_file() or (stage / within).exists():
                continue
            (stage / within).parent.mkdir(parents=True, exist_ok=True)
            try:
                os.link(path, stage / within)
            except FileNotFoundError:
                continue  # deleted meanwhile
            except OSError:
                shutil.copyfile(path, stage / within)  # a file system without links


def _drop_others(folder: Path, names: frozenset[str]) -> None:
    """Let go of what the database of this moment does not know."""
    for path in folder.iterdir() if folder.is_dir() else ():
        if path.name not in names:
            _remove(path)


def _identities(database: Path, table: str) -> frozenset[str]:
    with closing(sqlite3.connect(database)) as connection:
        return frozenset(row[0] for row in connection.execute(f"SELECT id FROM {table}"))


def _held(folder: Path) -> Held:
    files = [path for path in folder.rglob("*") if path.is_file()]
    database = folder / DATABASE
    return Held(
        studies=len(_identities(database, "studies")),
        terrains=len(_identities(database, "terrains")),
        files=len(files),
        bytes=sum(path.stat().st_size for path in files),
    )


def _pack(stage: Path, draft: Path) -> None:
    files: dict[str, dict[str, Any]] = {}
    with draft.open("xb") as stream:
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            for path in sorted(path for path in stage.rglob("*") if path.is_file()):
                name = path.relative_to(stage).as_posix()
                with path.open("rb") as source, archive.open(name, "w", force_zip64=True) as packed:
                    files[name] = _copied(source, packed)
            about = {
                "leatline": __version__,
                "made": datetime.now(UTC).isoformat(timespec="seconds"),
                "files": files,
            }
            archive.writestr(MANIFEST, json.dumps(about, indent=1))
        stream.flush()
        os.fsync(stream.fileno())


def _copied(source: IO[bytes], place: IO[bytes]) -> dict[str, Any]:
    """Copy a stream; return size and hash of what went through."""
    size, digest = 0, hashlib.sha256()
    while chunk := source.read(CHUNK):
        place.write(chunk)
        digest.update(chunk)
        size += len(chunk)
    return {"bytes": size, "sha256": digest.hexdigest()}


def _unpack(archive: zipfile.ZipFile, file: Path, draft: Path) -> None:
    listed = json.loads(archive.read(MANIFEST))["files"]
    if set(archive.namelist()) != {*listed, MANIFEST} or DATABASE not in listed:
        raise _damaged(file, "its list of files is not of what it holds")
    needed = sum(int(entry["bytes"]) for entry in listed.values())
    free = shutil.disk_usage(draft).free
    if needed > free:
        raise InputError(
            f"{file} needs {needed / 1e6:.0f} MB, and {free / 1e6:.0f} MB are free.", "Make room."
        )
    for name, entry in listed.items():
        parts = PurePosixPath(name).parts
        if name != DATABASE and (parts[0] not in HELD_FOLDERS or ".." in parts or "\\" in name):
            raise _damaged(file, f"it holds {name!r}, which belongs to no data folder")
        if archive.getinfo(name).file_size != entry["bytes"]:  # before it is unpacked
            raise _damaged(file, f"{name} is not what was packed")
        place = draft / name
        place.parent.mkdir(parents=True, exist_ok=True)
        with archive.open(name) as packed, place.open("xb") as out:
            if _copied(packed, out) != entry:
                raise _damaged(file, f"{name} is not what was packed")
            os.fsync(out.fileno())


def _checked(draft: Path, file: Path) -> Held:
    """Return how much a restored folder holds, once its database is found whole."""
    with closing(sqlite3.connect(draft / DATABASE)) as connection:
        (sound,) = connection.execute("PRAGMA integrity_check").fetchone()
        loose = connection.execute("PRAGMA foreign_key_check").fetchone()
    terrains = _identities(draft / DATABASE, "terrains")
    missing = [name for name in terrains if not (draft / "terrains" / name).is_dir()]
    names = terrains | _identities(draft / DATABASE, "studies")
    odd = [name for name in names if not IDENTITY.fullmatch(name)]
    if sound != "ok" or loose is not None or missing or odd:
        raise _damaged(file, "its database does not fit itself or its files")
    return _held(draft)


def _damaged(file: Path, why: str) -> StudyFileError:
    return StudyFileError(f"{file} is no whole backup: {why}.", "Take an earlier one.")


def _flush(folder: Path) -> None:
    """Make the names in a folder last."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
