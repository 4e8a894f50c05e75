"""The files a terrain is made of: single rasters, folders of tiles, zip archives of tiles.

A member of an archive gets a path of its own, ``/vsizip/{archive}/member``, which the raster
library reads in place; nothing is unpacked to disk. A path from outside never has that form:
whatever is given must first exist as a file or a folder.
"""

from __future__ import annotations

import os
import re
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import IO

from routing.errors import RasterTooLarge, UnreadableRaster

__all__ = [
    "HEAD_BYTES",
    "archives_kept",
    "beside",
    "check_new_file",
    "count_tiles",
    "find_sources",
    "head_of",
    "in_short",
    "open_bytes",
    "shown",
    "size_of",
]

HEAD_BYTES = 1024
"""Bytes from which a file's format is told."""

MOST_FILES = 10_000
"""Most files of one folder or archive that are looked at [-]."""

MOST_MEMBER_BYTES = 2 * 2**30
"""Largest unpacked member of an archive [bytes]: it is unpacked in memory, piece by piece."""

MAX_SIDECAR_BYTES = 1_000_000

MOST_CHECKED_BYTES = 256 * 2**20
"""Size of all members together up to which their check sums are computed [bytes]: about 1 s."""

MOST_DIRECTORY_BYTES = 8 * 2**20
"""Longest directory of an archive that is read [bytes]: so many files with names of 700 letters."""
END_BYTES = 66_000
"""Where an archive's end is looked for: it may have a comment of 65 535 bytes behind it [bytes]."""

ZIP_MAGIC = b"PK\x03\x04"
COMPANIONS = (
    ".aux", ".aux.xml", ".cpg", ".csv", ".dbf", ".gpkg", ".htm", ".html", ".json", ".jpg", ".md",
    ".msk", ".ovr", ".pdf", ".png", ".prj", ".qml", ".rrd", ".shp", ".shx", ".tfw", ".txt",
    ".vrt", ".xml",
)  # fmt: skip
"""Ends of names that stand beside rasters in a folder or an archive and are passed over there."""

_UNPACKING = (RuntimeError, EOFError, KeyError, ValueError, OverflowError, struct.error)
"""What Python's own reader of archives raises where their directory is damaged."""

_MEMBER = re.compile(r"/vsizip/\{(?P<archive>[^{}]+)\}/(?P<member>[^{}]+)", re.S)


_kept: ContextVar[dict[str, zipfile.ZipFile] | None] = ContextVar("leatline_kept", default=None)


@contextmanager
def archives_kept() -> Iterator[None]:
    """Keep archives open within the block, so that the directory of each is read once."""
    kept: dict[str, zipfile.ZipFile] = {}
    before = _kept.set(kept)
    try:
        yield
    finally:
        _kept.reset(before)
        for archive in kept.values():
            archive.close()


@contextmanager
def _archive(path: str) -> Iterator[zipfile.ZipFile]:
    """Give an archive for reading: the one that is kept open, else its own."""
    kept = _kept.get()
    if kept is None:
        with zipfile.ZipFile(path) as archive:
            yield archive
        return
    if path not in kept:
        kept[path] = zipfile.ZipFile(path)
    yield kept[path]


def find_sources(paths: Sequence[Path]) -> tuple[Path, ...]:
    """Return the rasters that files, folders and archives hold, in order of name within each."""
    found: list[Path] = []
    for path in paths:
        if path.is_dir():
            found += _in_folder(path)
        elif _starts_as_zip(path):
            found += _in_archive(path)
        else:
            check_new_file(path)
            found.append(path)
    return tuple(dict.fromkeys(found))


def check_new_file(path: Path) -> None:
    """Refuse a path that is no ordinary file, before anything tries to read it."""
    if not path.is_file():
        there = "it is no ordinary file" if path.exists() else "there is no such file"
        raise UnreadableRaster(
            f"The raster {path} cannot be opened: {there}.", "Check the path, or give a folder."
        )


def shown(path: Path) -> str:
    """Return how messages call a file.

    >>> shown(Path("/vsizip/{/maps/north.zip}/tiles/a.tif"))
    'tiles/a.tif in /maps/north.zip'
    """
    at = _MEMBER.fullmatch(str(path))
    return f"{at['member']} in {at['archive']}" if at else str(path)


def in_short(exc: BaseException) -> str:
    """Return a library's first words on what went wrong, on one line and not endless."""
    while exc.__cause__ is not None:
        exc = exc.__cause__
    return " ".join(str(exc).split())[:300].rstrip(".")


def head_of(path: Path) -> bytes:
    """Return the first bytes of a file or member."""
    with open_bytes(path) as file:
        return file.read(HEAD_BYTES)


def size_of(path: Path) -> int:
    """Return the size of a file or member [bytes]."""
    at = _MEMBER.fullmatch(str(path))
    if at is None:
        return path.stat().st_size
    with _archive(at["archive"]) as archive:
        return archive.getinfo(at["member"]).file_size


@contextmanager
def open_bytes(path: Path) -> Iterator[IO[bytes]]:
    """Open a file or member for reading its bytes."""
    at = _MEMBER.fullmatch(str(path))
    try:
        if at is None:
            with open(path, "rb") as file:
                yield file
        else:
            with _archive(at["archive"]) as archive, archive.open(at["member"]) as member:
                yield member
    except (zipfile.BadZipFile, zlib.error, *_UNPACKING) as exc:
        raise UnreadableRaster(
            f"The raster {shown(path)} cannot be unpacked: {in_short(exc)}.",
            "The archive may be damaged, encrypted or packed in a rare way; unpack it yourself.",
        ) from exc
    except OSError as exc:
        raise UnreadableRaster(
            f"The raster {shown(path)} cannot be opened: {exc.strerror or exc}.",
            "Check the path and that the file may be read.",
        ) from exc


def beside(path: Path, suffixes: Iterable[str]) -> str | None:
    """Return the text of the small file of the same name with one of ``suffixes``, if any."""
    for suffix in suffixes:
        sidecar = path.with_suffix(suffix)
        at = _MEMBER.fullmatch(str(sidecar))
        if at is None:
            there = sidecar.is_file() and sidecar.stat().st_size <= MAX_SIDECAR_BYTES
        else:
            with _archive(at["archive"]) as archive:
                try:
                    there = archive.getinfo(at["member"]).file_size <= MAX_SIDECAR_BYTES
                except KeyError:
                    there = False
        if there:
            with open_bytes(sidecar) as file:
                text = file.read(MAX_SIDECAR_BYTES).decode("utf-8", "replace")
            return text.strip("\ufeff \r\n\t\0") or None
    return None


def _starts_as_zip(path: Path) -> bool:
    """Return whether a file begins as a zip archive does."""
    if not path.is_file():
        return False
    try:
        with open(path, "rb") as file:
            return file.read(4) == ZIP_MAGIC
    except OSError:
        return False  # the reader that follows says why


def _is_companion(name: str) -> bool:
    """Return whether a file of that name is passed over among tiles."""
    base = name.rsplit("/", 1)[-1].lower()
    return base.startswith(".") or base.endswith(COMPANIONS)


def _in_folder(folder: Path) -> list[Path]:
    """Return the tiles in a folder, those in folders below it left out."""
    names: list[str] = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.is_file() and not _is_companion(entry.name):
                    names.append(entry.name)
                if len(names) > MOST_FILES:
                    raise _too_many(folder)
    except OSError as exc:
        raise UnreadableRaster(
            f"The folder {folder} cannot be opened: {exc.strerror or exc}.",
            "Check its permissions.",
        ) from exc
    found: list[Path] = []
    for path in (folder / name for name in sorted(names)):
        found += _in_archive(path) if _starts_as_zip(path) else [path]
    if not found:
        raise UnreadableRaster(
            f"The folder {folder} holds no raster.", "Give the folder that holds the tiles."
        )
    if len(found) > MOST_FILES:
        raise _too_many(folder)
    return found


def count_tiles(path: Path) -> int:
    """Return how many rasters a file holds: the tiles of an archive, else one."""
    return len(_members(path)) if _starts_as_zip(path) else 1


def _members(path: Path) -> list[zipfile.ZipInfo]:
    """Return what an archive holds beside companions."""
    place = path.absolute()
    _check_directory(path)
    try:
        with _archive(str(place)) as archive:
            members = [
                info
                for info in archive.infolist()
                if not info.is_dir() and not info.filename.startswith("__MACOSX/")
            ]
    except (zipfile.BadZipFile, OSError, *_UNPACKING) as exc:
        raise UnreadableRaster(
            f"The archive {path} cannot be read: {in_short(exc)}.",
            "It may be cut short or damaged; copy or download it again.",
        ) from exc
    if len(members) > MOST_FILES:
        raise _too_many(path)
    return [info for info in members if not _is_companion(info.filename)]


def _check_directory(path: Path) -> None:
    """Refuse an archive whose directory is so long that listing it would take minutes.

    The form of its end is that of the ZIP format (APPNOTE.TXT, 4.3.14 to 4.3.16).
    """
    size = 0
    with open(path, "rb") as file:
        length = file.seek(0, os.SEEK_END)
        file.seek(max(0, length - END_BYTES))
        end = file.read()
    at = end.rfind(b"PK\x05\x06", 0, max(0, len(end) - 18))
    if at >= 0:
        (size,) = struct.unpack_from("<L", end, at + 12)
    if at >= 76 and end[at - 20 : at - 16] == b"PK\x06\x07":  # the long form wins
        (size,) = struct.unpack_from("<Q", end, at - 76 + 40)
    if size > MOST_DIRECTORY_BYTES:
        raise _too_many(path)


def _in_archive(path: Path) -> list[Path]:
    """Return the tiles in a zip archive, in whatever folder of it they lie."""
    place = path.absolute()
    if "{" in str(place) or "}" in str(place):
        raise UnreadableRaster(
            f"The archive {path} has a brace in its name or its folder's.", "Rename it."
        )
    wanted = _members(path)
    for info in wanted:
        _check_member(path, info)
    tiles = [Path(f"/vsizip/{{{place}}}/{info.filename}") for info in wanted]
    if sum(info.file_size for info in wanted) <= MOST_CHECKED_BYTES:
        for tile in tiles:  # cells read in place pass no check of their own
            with open_bytes(tile) as member:
                while member.read(2**20):
                    pass
    if not tiles:
        raise UnreadableRaster(
            f"The archive {path} holds no raster.", "Give the archive that holds the tiles."
        )
    return sorted(tiles)


def _check_member(path: Path, info: zipfile.ZipInfo) -> None:
    """Refuse a member that cannot be read in place."""
    name, problem = info.filename[:200], None
    if info.flag_bits & 0x1:
        problem = "is encrypted"
    elif info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        problem = "is packed in a way that is not read"
    elif re.search(r"[{}\x00-\x1f]|^/|\\|(^|/)\.\.?(/|$)|//", info.filename):
        problem = "has a name that is not followed"
    if problem is not None:
        raise UnreadableRaster(
            f"The file {name!r} in {path} {problem}.", "Unpack the archive and give its folder."
        )
    if info.file_size > MOST_MEMBER_BYTES:
        raise RasterTooLarge(
            f"The file {name!r} in {path} is {info.file_size / 2**30:.1f} GB unpacked; the limit "
            f"within an archive is {MOST_MEMBER_BYTES // 2**30} GB.",
            "Unpack the archive and give its folder.",
        )


def _too_many(path: Path) -> RasterTooLarge:
    """Return the error for a folder or an archive with too many files."""
    return RasterTooLarge(
        f"{path} holds more than {MOST_FILES} files.", "Give only the tiles around the line."
    )
