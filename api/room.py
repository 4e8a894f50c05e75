"""Room on the volume of the data folder: kept free, and a reserve to delete with when full.

What keeps data is refused before the volume is full, so that reading, deleting and a restart still
have the little room that the database needs to write down what it does. Should others fill the
volume all the same, the reserve, a file of no use, gives way.
"""

from __future__ import annotations

import contextlib
import errno
import math
import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from time import monotonic
from typing import TypeVar

from api.errors import NoRoom

__all__ = ["Room", "is_full"]

Result = TypeVar("Result")
SQLITE_FULL = (
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_IOERR_WRITE,
    sqlite3.SQLITE_IOERR_SHMOPEN,
    sqlite3.SQLITE_IOERR_SHMSIZE,
    sqlite3.SQLITE_IOERR_SHMMAP,
)
"""What SQLite says where a file cannot grow or be made."""
COUNTED_SECONDS = 20.0
"""How long a count of the folder serves [s]."""
RESERVE_NAME = "reserve"
RESERVE_BYTES = 4 * 2**20
RESERVE_SHARE = 50
KEPT_SHARE = 20
"""Of a small volume a fiftieth is reserved and a twentieth is kept free [-]."""


def is_full(error: BaseException) -> bool:
    """Return whether an error means that nothing more can be written."""
    if isinstance(error, OSError):
        return error.errno in (errno.ENOSPC, errno.EDQUOT)
    return getattr(error, "sqlite_errorcode", None) in SQLITE_FULL


class Room:
    """The room that a data folder's volume has."""

    def __init__(self, folder: Path, least_free_bytes: int, most_bytes: int = 2**62) -> None:
        self._folder = folder
        self._least = least_free_bytes
        self._most = most_bytes
        self._held: tuple[float, int] = (-math.inf, 0)
        self._reserve = folder / RESERVE_NAME

    def check(self, coming_bytes: int = 0) -> None:
        """Refuse what would leave too little room."""
        usage = shutil.disk_usage(self._folder)
        kept = min(self._least, usage.total // KEPT_SHARE)
        if usage.free - coming_bytes < kept:
            raise NoRoom(
                f"The volume of the data folder has {usage.free / 1e6:.1f} MB left; "
                f"{kept / 1e6:.1f} MB of them are kept free.",
                "Delete studies or terrains that nobody needs and empty the trash, or have the "
                "operator make room.",
            )
        held = self._held_bytes()
        if held + coming_bytes > self._most:
            raise NoRoom(
                f"The data folder holds {held / 1e6:.1f} MB of the {self._most / 1e6:.1f} MB "
                "allowed.",
                "Delete studies or terrains that nobody needs and empty the trash, or have the "
                "operator raise LEATLINE_MAX_DATA_BYTES.",
            )
        self._make_reserve(usage.total, usage.free - kept)

    def even_if_full(self, function: Callable[[], Result]) -> Result:
        """Do something; where the volume is full the reserve gives way first."""
        try:
            return function()
        except sqlite3.OperationalError as exc:
            if not (is_full(exc) and self.give_way()):
                raise
            return function()

    def give_way(self) -> bool:
        """Let the reserve go; return whether there was one."""
        try:
            self._reserve.unlink()
        except FileNotFoundError:
            return False
        return True

    def _held_bytes(self) -> int:
        """Return how much the folder holds, counted anew every so often."""
        counted, held = self._held
        if monotonic() - counted > COUNTED_SECONDS:
            held = 0
            for place, _, names in os.walk(self._folder):
                for name in names:
                    with contextlib.suppress(OSError):  # gone meanwhile
                        held += os.stat(os.path.join(place, name)).st_size
            self._held = (monotonic(), held)
        return held

    def _make_reserve(self, total: int, spare: int) -> None:
        size = min(RESERVE_BYTES, total // RESERVE_SHARE)
        if self._reserve.exists() or spare < 2 * size:
            return
        draft = self._reserve.with_suffix(f".{os.getpid()}")
        with contextlib.suppress(OSError):
            try:
                draft.write_bytes(bytes(size))
                draft.rename(self._reserve)
            finally:
                draft.unlink(missing_ok=True)
