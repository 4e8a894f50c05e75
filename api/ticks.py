"""What was ticked off on the hill: kept beside a study, so that no one's work blocks another's.

A device's last word on a fitting counts by its time. Ticks are no revision of the study: somebody
may be editing it meanwhile. Each save of the study takes the ticks of the day along, without the
photographs.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import orjson

from api.database import Database
from api.errors import NotFound, TooLarge
from routing.errors import InputError
from routing.papers.things import things
from routing.record import was_named
from routing.record.names import MOVED_M

__all__ = ["ticks_digest", "ticks_merge", "ticks_of", "with_places"]

MOST_TICKS = 5_000
"""Ticks kept of one study [-]."""

MOST_BYTES = 256 * 2**20
"""Room for the ticks of one study, photographs included [bytes]."""


def ticks_of(database: Database, study: str) -> list[dict[str, Any]]:
    """Return the ticks of a study by time, the newest last."""
    with database.read() as connection:
        _check_study(connection, study)
        rows = connection.execute(
            "SELECT tick FROM ticks WHERE study = ? ORDER BY time, fitting, device", (study,)
        ).fetchall()
    return [orjson.loads(row[0]) for row in rows]


def ticks_merge(database: Database, study: str, ticks: Sequence[dict[str, Any]]) -> int:
    """Take in ticks; return how many were news. Taking the same ones in again changes nothing.

    One tick of a thing that the study never had, and none of them is taken.
    """
    news = 0
    with database.read() as connection:
        _check_study(connection, study)
        _check_things(connection, study, {tick["fitting_id"] for tick in ticks})
    with database.write() as connection:
        _check_study(connection, study)
        for tick in ticks:
            row = (study, tick["fitting_id"], tick["device"], tick["time"], orjson.dumps(tick))
            news += connection.execute(
                "INSERT INTO ticks VALUES (?, ?, ?, ?, ?) ON CONFLICT (study, fitting, device) "
                "DO UPDATE SET time = excluded.time, tick = excluded.tick "
                "WHERE excluded.time > ticks.time",
                row,
            ).rowcount
        count, size = connection.execute(
            "SELECT count(*), coalesce(sum(length(tick)), 0) FROM ticks WHERE study = ?", (study,)
        ).fetchone()
        if count > MOST_TICKS or size > MOST_BYTES:
            raise TooLarge(
                f"The study would hold {count} ticks of {size / 1e6:.0f} MB in all.",
                f"{MOST_TICKS} ticks and {MOST_BYTES / 1e6:.0f} MB are allowed; take smaller "
                "photographs.",
            )
    return news


def ticks_digest(ticks: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return each fitting's newest tick for the study document, photographs left out."""
    newest = {tick["fitting_id"]: tick for tick in ticks}
    return [
        {**{key: value for key, value in tick.items() if key != "photo"}, "has_photo": bool(photo)}
        for tick in newest.values()
        for photo in [tick.get("photo")]
    ]


def with_places(
    ticks: Sequence[dict[str, Any]], document: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """Return ticks with ``was_m`` where the thing stands elsewhere in the document."""
    now = {thing.id: thing.station_m for thing in things(document)}
    found = []
    for tick in ticks:
        was, at = tick.get("station_m"), now.get(tick["fitting_id"])
        moved = was is not None and at is not None and abs(at - was) > MOVED_M
        found.append({**tick, "was_m": was} if moved else dict(tick))
    return found


def _check_things(connection: Any, study: str, names: set[str]) -> None:
    """Refuse names that nothing in the study has or had."""
    row = connection.execute(
        "SELECT r.document FROM revisions r JOIN studies s ON s.id = r.study "
        "AND r.revision = s.revision WHERE s.id = ?",
        (study,),
    ).fetchone()
    document = orjson.loads(row[0])
    here = {thing.id for thing in things(document)}
    # A level is called by its station in decimetres, wherever earlier revisions wanted one.
    end_dm = 10.0 * float(document["summary"]["plan_length_m"])
    here |= {
        name for name in names if re.fullmatch("L[0-9]+", name) and 0 <= int(name[1:]) <= end_dm + 1
    }
    unknown = sorted(name for name in names - here if not was_named(document, name))
    if unknown:
        raise InputError(
            f"The study has nothing called {', '.join(unknown[:5])} to tick off.",
            "Open the field sheet of this study anew, and tick off what it shows.",
        )


def _check_study(connection: Any, study: str) -> None:
    if connection.execute("SELECT 1 FROM studies WHERE id = ?", (study,)).fetchone() is None:
        raise NotFound(f"There is no study {study!r}.", "Look its id up at /api/studies.")
