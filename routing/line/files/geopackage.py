"""Rows of a GeoPackage, read as the plain database that it is.

A GeoPackage from a stranger may carry views that never end, triggers, and virtual tables that open
other files. So it is opened read-only by SQLite alone, with every action but reading plain tables
denied, a limit on work, and only the geometries and plain columns taken out.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from routing.errors import RouteError
from routing.line.files.wkb import BrokenGeometry, geopackage_geometry
from routing.value import dataclass

__all__ = ["PackageRow", "package_rows"]

MAX_ROWS: Final = 200_000
MAX_SECONDS: Final = 10.0
MAX_CELL_BYTES: Final = 64 * 1024 * 1024
STEPS_BETWEEN_LOOKS: Final = 20_000
ALLOWED: Final = frozenset(
    {sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_FUNCTION, sqlite3.SQLITE_PRAGMA}
)
FUNCTIONS: Final = frozenset({"lower", "length", "substr"})
PRAGMAS: Final = frozenset({"table_info", "trusted_schema", "cell_size_check"})


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageRow:
    """One row: its layer, well-known binary, other columns, and the system of its numbers."""

    layer: str
    wkb: bytes
    properties: dict[str, Any]
    crs: str | None


def package_rows(path: Path, *, source: str) -> Iterator[PackageRow]:
    """Yield the rows of every feature table of a GeoPackage, in order.

    Tables without geometry, views and virtual tables are left aside. Raises RouteError where the
    file is damaged or asks for more work than a line can.
    """
    try:
        # immutable: no lock, journal or other file beside it is looked for.
        address = f"file:{quote(str(path.resolve()))}?mode=ro&immutable=1"
        database = sqlite3.connect(address, uri=True)
    except sqlite3.Error as error:
        raise _broken(source, str(error)) from error
    try:
        _restrict(database)
        yield from _rows(database, source)
    except (sqlite3.Error, sqlite3.Warning, OverflowError, UnicodeDecodeError) as error:
        why = "it asks for too much work" if "interrupted" in str(error) else str(error)
        raise _broken(source, why) from error
    except BrokenGeometry as error:
        raise _broken(source, f"a geometry is not sound: {error}") from error
    finally:
        database.close()


def _restrict(database: sqlite3.Connection) -> None:
    """Deny the connection all that reading plain tables does not need, and bound its work."""
    database.text_factory = lambda raw: raw.decode("utf-8", "replace")
    database.execute("pragma trusted_schema = off")
    database.execute("pragma cell_size_check = on")
    database.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, MAX_CELL_BYTES)
    database.setlimit(sqlite3.SQLITE_LIMIT_EXPR_DEPTH, 20)
    database.setlimit(sqlite3.SQLITE_LIMIT_ATTACHED, 0)
    database.set_authorizer(_authorize)
    database.set_progress_handler(_deadline(time.monotonic() + MAX_SECONDS), STEPS_BETWEEN_LOOKS)


def _authorize(
    action: int, first: str | None, second: str | None, where: str | None, trigger: str | None
) -> int:
    """Let a statement read; deny the rest, and all that a view or trigger would do."""
    if action not in ALLOWED or trigger is not None:
        return sqlite3.SQLITE_DENY
    if action == sqlite3.SQLITE_FUNCTION and str(second).lower() not in FUNCTIONS:
        return sqlite3.SQLITE_DENY
    if action == sqlite3.SQLITE_PRAGMA and first not in PRAGMAS:
        return sqlite3.SQLITE_DENY
    return sqlite3.SQLITE_OK


def _deadline(end: float) -> Callable[[], bool]:
    """Return what tells SQLite to stop once the time is over."""
    return lambda: time.monotonic() > end


def _rows(database: sqlite3.Connection, source: str) -> Iterator[PackageRow]:
    """Yield the rows of the feature tables."""
    plain = {
        name: str(sql or "")
        for name, sql in database.execute(
            "select name, sql from sqlite_master where type = 'table' limit 10000"
        )
    }
    tables = database.execute(
        "select table_name, column_name, srs_id from gpkg_geometry_columns limit 1000"
    ).fetchall()
    read = 0
    for table, column, srs_id in tables:
        sql = plain.get(table)
        if sql is None or sql.lstrip().lower().startswith("create virtual"):
            continue
        crs = _system(database, srs_id)
        cursor = database.execute(f"select * from {_quoted(table)} limit {MAX_ROWS + 1}")
        names = [str(entry[0]) for entry in cursor.description]
        lowered = [name.lower() for name in names]
        if str(column).lower() not in lowered:
            raise _broken(source, f"the table {str(table)[:60]!r} has no geometry column")
        at = lowered.index(str(column).lower())
        for row in cursor:
            read += 1
            if read > MAX_ROWS:
                raise _broken(source, f"it holds more than {MAX_ROWS} rows")
            blob = row[at]
            if blob is not None and not isinstance(blob, bytes):
                raise BrokenGeometry("it is no binary")
            others = {name: row[i] for i, name in enumerate(names) if i != at}
            wkb = b"" if blob is None else geopackage_geometry(blob)
            yield PackageRow(layer=str(table), wkb=wkb, properties=others, crs=crs)


def _system(database: sqlite3.Connection, srs_id: object) -> str | None:
    """Return the coordinate system of that number: its authority's code, else its definition."""
    row = database.execute(
        "select organization, organization_coordsys_id, definition from gpkg_spatial_ref_sys"
        " where srs_id = ? limit 1",
        (srs_id,),
    ).fetchone()
    if row is None:
        return None
    organization, code, definition = row
    if str(organization).upper() == "EPSG" and isinstance(code, int) and code > 0:
        return f"EPSG:{code}"
    return None if str(definition).lower() in ("undefined", "none", "") else str(definition)


def _quoted(name: str) -> str:
    """Return a name as SQL takes it whatever letters it has."""
    return '"' + str(name).replace('"', '""') + '"'


def _broken(source: str, why: str) -> RouteError:
    """Return the error for a GeoPackage that cannot be read."""
    return RouteError(
        f"{source} cannot be read: {why}.", "Save it again as a GeoPackage or as GeoJSON."
    )
