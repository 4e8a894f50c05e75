"""Links that open one study to somebody without a token: to look at, or to bring records home.

A link ends by its time, when it is revoked, or with its study. Its secret is shown once.
"""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta

from api.access.person import LINK_ROLES, Person, acting
from api.access.tokens import TOKEN, Checker, new_token, now_text, time_given
from api.database import Database
from api.errors import NotFound
from routing.errors import InputError
from routing.value import dataclass

__all__ = ["LinkRow", "Links"]

DAYS = 30
"""How long a link lasts where nothing is said [d]."""
MOST = 200
"""Links of one study that are open at a time [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkRow:
    """A link as lists show it."""

    id: str
    role: str
    created: str
    expires: str
    revoked: str | None
    who: str

    @property
    def state(self) -> str:
        """Whether it opens anything."""
        if self.revoked is not None:
            return "revoked"
        return "expired" if self.expires <= now_text() else "valid"


class Links:
    """The links of all studies of a data folder."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._checker = Checker()

    def add(self, study: str, role: str, expires: str | None) -> tuple[LinkRow, str]:
        """Return a new link to a study, and its secret."""
        moment = (datetime.now(UTC) + timedelta(days=DAYS)).isoformat()
        ends = time_given(expires or moment, "expires")
        token, made, who = new_token(), now_text(), acting().name
        with self._database.write() as connection:
            _check_study(connection, study)
            (count,) = connection.execute(
                "SELECT count(*) FROM links WHERE study = ? AND revoked IS NULL AND expires > ?",
                (study, made),
            ).fetchone()
            if count >= MOST:
                raise InputError(f"The study has {count} open links.", "Revoke some of them first.")
            connection.execute(
                "INSERT INTO links VALUES (?, ?, ?, ?, ?, ?, NULL, ?)",
                (token.id, study, role, token.hash, made, ends, who),
            )
        row = LinkRow(id=token.id, role=role, created=made, expires=ends, revoked=None, who=who)
        return row, token.text

    def of_study(self, study: str) -> list[LinkRow]:
        """Return the links of a study, the newest first."""
        with self._database.read() as connection:
            _check_study(connection, study)
            rows = connection.execute(
                "SELECT id, role, created, expires, revoked, who FROM links WHERE study = ? "
                "ORDER BY created DESC, id",
                (study,),
            ).fetchall()
        names = ("id", "role", "created", "expires", "revoked", "who")
        return [LinkRow(**dict(zip(names, row, strict=True))) for row in rows]

    def revoke(self, study: str, identity: str) -> None:
        """End a link; it opens nothing from now on."""
        with self._database.write() as connection:
            done = connection.execute(
                "UPDATE links SET revoked = ? WHERE study = ? AND id = ? AND revoked IS NULL "
                "AND study IN (SELECT id FROM studies WHERE deleted IS NULL)",
                (now_text(), study, identity),
            ).rowcount
        if not done:
            raise NotFound(
                f"The study {study!r} has no open link {identity!r}.",
                f"Look at /api/studies/{study}/links.",
            )

    def holder(self, text: str) -> Person | None:
        """Return who holds a link, None if it opens nothing (any more)."""
        match = TOKEN.fullmatch(text)
        if match is None:
            return None
        with self._database.read() as connection:
            row = connection.execute(
                "SELECT l.study, l.role, l.hash, l.id FROM links l JOIN studies s "
                "ON s.id = l.study WHERE l.id = ? AND l.revoked IS NULL AND l.expires > ? "
                "AND s.deleted IS NULL",
                (match[1], now_text()),
            ).fetchone()
        if row is None or not self._checker.right(match[2], row[2]):
            return None
        return Person(name=f"link {row[3]}", role=LINK_ROLES[row[1]], token=row[3], study=row[0])


def _check_study(connection: sqlite3.Connection, study: str) -> None:
    found = connection.execute("SELECT 1 FROM studies WHERE id = ? AND deleted IS NULL", (study,))
    if found.fetchone() is None:
        raise NotFound(f"There is no study {study!r}.", "Look its id up at /api/studies.")
