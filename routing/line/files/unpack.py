"""Packed files (zip, KMZ): the few members that a reader wants, in memory, within stated limits."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from io import BytesIO
from pathlib import PurePosixPath
from typing import Final

from routing.errors import RouteError

__all__ = ["MAX_BYTES", "unpacked"]

MAX_BYTES: Final = 64 * 1024 * 1024
"""Largest file that is read, packed or not, all its wanted members together [bytes]."""

MAX_MEMBERS: Final = 1000
"""Most members that a packed file may list [-]."""

WANTED: Final = frozenset(
    {".kml", ".gpx", ".geojson", ".json", ".csv", ".txt", ".wkt", ".gpkg"}
    | {".shp", ".shx", ".dbf", ".prj", ".cpg"}
)
"""Endings of the members that are read; the others, such as pictures in a KMZ, stay packed."""


def unpacked(data: bytes, *, source: str) -> Mapping[str, bytes]:
    """Return the wanted members of a packed file by name, read in memory and never laid on disk.

    Names serve to tell formats and in messages only, so it does not matter where one points to.
    A member is read up to what is left of the limit, whatever size its header claims.
    """
    members: dict[str, bytes] = {}
    left = MAX_BYTES
    try:
        with zipfile.ZipFile(BytesIO(data)) as pack:
            entries = pack.infolist()
            if len(entries) > MAX_MEMBERS:
                raise _refused(source, f"lists {len(entries)} files, more than {MAX_MEMBERS}")
            for entry in entries:
                path = PurePosixPath(entry.filename.replace("\\", "/"))
                hidden = any(part.startswith((".", "__MACOSX")) for part in path.parts)
                if entry.is_dir() or hidden or path.suffix.lower() not in WANTED:
                    continue
                if entry.flag_bits & 0x1:
                    raise _refused(source, "is locked with a password")
                with pack.open(entry) as stream:
                    content = stream.read(left + 1)
                left -= len(content)
                if left < 0:
                    limit = MAX_BYTES // (1024 * 1024)
                    raise _refused(source, f"unpacks to more than {limit} MiB")
                members[str(path)] = content
    except RouteError:
        raise
    # The library lets a dozen kinds of error through for damaged files, index errors among them.
    except Exception as error:
        raise RouteError(
            f"{source} cannot be unpacked: {error}.", "Pack it again, or give the file inside."
        ) from error
    return members


def _refused(source: str, why: str) -> RouteError:
    """Return the error for a packed file beyond the limits."""
    return RouteError(
        f"{source} {why}.", "Unpack it, and give the one file that holds the line or the points."
    )
