"""What kind of volume a folder lies on: a network share cannot hold the database."""

from __future__ import annotations

import os
from pathlib import Path

from routing.errors import InputError

__all__ = ["check_local", "volume_kind"]

MOUNTS = Path("/proc/self/mounts")
"""The table of mounted volumes, on Linux."""
SHARES = frozenset(
    {
        "afs", "beegfs", "ceph", "cifs", "fuse.ceph", "fuse.glusterfs", "fuse.sshfs", "gfs2",
        "glusterfs", "lustre", "ncpfs", "nfs", "nfs4", "smb3", "smbfs",
    }
)  # fmt: skip
"""Kinds of volumes that several machines may use at a time."""


def check_local(folder: Path, mounts: Path = MOUNTS) -> None:
    """Refuse a data folder on a network share, where the system tells.

    SQLite's write-ahead log is read through the memory of one machine; with two writing, what
    either saved could be lost (sqlite.org, Write-Ahead Logging, "All processes using a database
    must be on the same host computer").
    """
    try:
        table = mounts.read_text(encoding="utf-8", errors="replace")
    except OSError:  # a system without that table
        return
    kind = volume_kind(os.path.realpath(folder), table)
    if kind in SHARES:
        raise InputError(
            f"The data folder {folder} is on a network share ({kind}), where the database loses "
            "what is saved once a second machine writes too.",
            "Give a folder on a local disk with --data; its folders terrains and incoming may be "
            "links to folders of a share.",
        )


def volume_kind(folder: str, table: str) -> str:
    r"""Return the kind of the volume that holds a folder, by a table as in /proc/self/mounts.

    >>> volume_kind("/srv/plans", "disk / ext4 rw 0 0\nbox:/a /srv nfs4 rw 0 0")
    'nfs4'
    """
    found = ("", "")
    for row in table.splitlines():
        place, kind = _plain(row.split()[1]), row.split()[2]
        inside = place == "/" or folder == place or folder.startswith(f"{place}/")
        if inside and len(place) >= len(found[0]):  # of two at one place the later one covers
            found = place, kind
    return found[1]


def _plain(place: str) -> str:
    r"""Return a place whose blanks are written as in the table, such as ``\040``."""
    return place.encode("latin-1", "replace").decode("unicode_escape")
