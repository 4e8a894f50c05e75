"""The access file: named tokens with a role, sessions of browsers, and the log of who did what."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from api.access.person import ROLES, Person
from api.access.tokens import TOKEN, Checker, moment_text, new_token, now_text
from api.database import Database
from routing.errors import InputError
from routing.value import dataclass

__all__ = ["AccessFile", "LogRow", "TokenRow"]

CHANGES = (
    """
CREATE TABLE tokens (
    id TEXT PRIMARY KEY, name TEXT NOT NULL, role TEXT NOT NULL, hash TEXT NOT NULL,
    created TEXT NOT NULL, expires TEXT, revoked TEXT
) STRICT;
CREATE UNIQUE INDEX one_token_a_name ON tokens (name) WHERE revoked IS NULL;
CREATE TABLE sessions (
    id TEXT PRIMARY KEY, token TEXT NOT NULL REFERENCES tokens (id) ON DELETE CASCADE,
    hash TEXT NOT NULL, expires TEXT NOT NULL
) STRICT;
CREATE TABLE log (
    time TEXT NOT NULL, name TEXT NOT NULL, role TEXT NOT NULL, method TEXT NOT NULL,
    path TEXT NOT NULL, status INTEGER NOT NULL, address TEXT NOT NULL
) STRICT
""",
)
SESSION_HOURS = 12.0
"""How long a browser stays signed in [h]."""
LOCK_SECONDS = 10.0
LOG_ROWS = 200_000
"""Newest rows of the log that are kept [-]."""
NAME_LENGTH = 80
SESSIONS = 50
"""Newest sessions of one token that are kept [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TokenRow:
    """A named token as lists show it."""

    name: str
    role: str
    created: str
    expires: str | None
    revoked: str | None

    @property
    def state(self) -> str:
        """Whether it opens anything."""
        if self.revoked is not None:
            return "revoked"
        return "expired" if self.expires is not None and self.expires <= now_text() else "valid"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow:
    """One thing that was done or tried."""

    time: str
    name: str
    role: str
    method: str
    path: str
    status: int
    address: str


class AccessFile:
    """One access file; a new one is readable by its owner alone."""

    def __init__(self, path: Path, *, make: bool = False) -> None:
        self.path = path
        if not make and not path.is_file():
            raise InputError(
                f"There is no access file {path}.",
                f"Make it with: leatline access add NAME --role planner --access {path}",
            )
        with self._readable():
            if make and not path.exists():
                os.close(os.open(path, os.O_CREAT | os.O_WRONLY, 0o600))
            self._database = Database(path, LOCK_SECONDS, CHANGES)
        self._checker = Checker()

    @contextmanager
    def _readable(self) -> Iterator[None]:
        try:
            yield
        except (OSError, sqlite3.Error) as exc:
            raise InputError(
                f"The access file {self.path} cannot be used: {exc}.",
                "Give the file that leatline access add wrote, and a folder that can be written.",
            ) from exc

    # --- tokens ------------------------------------------------------------------------------

    def add(self, name: str, role: str, expires: str | None = None) -> str:
        """Return a new token for a person, the only time that it is seen."""
        if role not in ROLES:
            raise InputError(f"--role {role} is no role.", f"Choose one of: {', '.join(ROLES)}.")
        if not name.strip() or not name.isprintable() or len(name) > NAME_LENGTH:
            raise InputError(
                f"{name[:NAME_LENGTH]!r} cannot be a name.",
                f"Give one of 1 to {NAME_LENGTH} printable characters.",
            )
        token = new_token()
        try:
            with self._database.write() as connection:
                connection.execute(
                    "INSERT INTO tokens VALUES (?, ?, ?, ?, ?, ?, NULL)",
                    (token.id, name, role, token.hash, now_text(), expires),
                )
        except sqlite3.IntegrityError as exc:
            raise InputError(
                f"{name} has a token already.", "Revoke it first, or take another name."
            ) from exc
        return token.text

    def tokens(self) -> list[TokenRow]:
        """Return all tokens, the oldest first."""
        with self._database.read() as connection:
            rows = connection.execute(
                "SELECT name, role, created, expires, revoked FROM tokens ORDER BY created, name"
            ).fetchall()
        names = ("name", "role", "created", "expires", "revoked")
        return [TokenRow(**dict(zip(names, row, strict=True))) for row in rows]

    def revoke(self, name: str) -> None:
        """End a person's token and all sessions that were opened with it."""
        with self._database.write() as connection:
            row = connection.execute(
                "UPDATE tokens SET revoked = ? WHERE name = ? AND revoked IS NULL RETURNING id",
                (now_text(), name),
            ).fetchone()
            if row is None:
                raise InputError(
                    f"{name} has no token that could be revoked.",
                    "See who has one: leatline access list",
                )
            connection.execute("DELETE FROM sessions WHERE token = ?", row)

    def person_of_token(self, text: str) -> Person | None:
        """Return whose token a text is, None if it opens nothing (any more)."""
        match = TOKEN.fullmatch(text)
        if match is None:
            return None
        with self._database.read() as connection:
            row = connection.execute(
                "SELECT id, name, role, hash FROM tokens WHERE id = ? AND revoked IS NULL "
                "AND (expires IS NULL OR expires > ?)",
                (match[1], now_text()),
            ).fetchone()
        if row is None or not self._checker.right(match[2], row[3]):
            return None
        return Person(name=row[1], role=row[2], token=row[0])

    # --- sessions ----------------------------------------------------------------------------

    def open_session(self, person: Person) -> str:
        """Return the secret of a new session."""
        token = new_token()
        ends = datetime.now(UTC) + timedelta(hours=SESSION_HOURS)
        expires = moment_text(ends)
        with self._database.write() as connection:
            connection.execute("DELETE FROM sessions WHERE expires <= ?", (now_text(),))
            connection.execute(
                "INSERT INTO sessions VALUES (?, ?, ?, ?)",
                (token.id, person.token, token.hash, expires),
            )
            connection.execute(
                "DELETE FROM sessions WHERE token = :token AND id NOT IN (SELECT id FROM sessions "
                "WHERE token = :token ORDER BY expires DESC LIMIT :most)",
                {"token": person.token, "most": SESSIONS},
            )
        return token.text

    def person_of_session(self, text: str) -> Person | None:
        """Return whose session a secret opens, None if it has ended or never was."""
        match = TOKEN.fullmatch(text)
        if match is None:
            return None
        with self._database.read() as connection:
            row = connection.execute(
                "SELECT t.id, t.name, t.role, s.hash FROM sessions s JOIN tokens t "
                "ON t.id = s.token WHERE s.id = :id AND s.expires > :now AND t.revoked IS NULL "
                "AND (t.expires IS NULL OR t.expires > :now)",
                {"id": match[1], "now": now_text()},
            ).fetchone()
        if row is None or not self._checker.right(match[2], row[3]):
            return None
        return Person(name=row[1], role=row[2], token=row[0])

    def close_session(self, text: str) -> None:
        """End a session."""
        match = TOKEN.fullmatch(text)
        if match is not None and self.person_of_session(text) is not None:
            with self._database.write() as connection:
                connection.execute("DELETE FROM sessions WHERE id = ?", (match[1],))

    # --- log ---------------------------------------------------------------------------------

    def log(self, row: LogRow) -> None:
        """Write down what was done or tried; the oldest rows go when there are too many."""
        values = (row.time, row.name, row.role, row.method, row.path, row.status, row.address)
        with self._database.write() as connection:
            last = connection.execute("INSERT INTO log VALUES (?, ?, ?, ?, ?, ?, ?)", values)
            oldest = (last.lastrowid or 0) - LOG_ROWS
            connection.execute("DELETE FROM log WHERE rowid <= ?", (oldest,))

    def logged(self, most: int = LOG_ROWS) -> list[LogRow]:
        """Return the newest rows of the log, the oldest of them first."""
        with self._database.read() as connection:
            rows = connection.execute(
                "SELECT time, name, role, method, path, status, address FROM log "
                "ORDER BY rowid DESC LIMIT ?",
                (most,),
            ).fetchall()
        names = ("time", "name", "role", "method", "path", "status", "address")
        return [LogRow(**dict(zip(names, row, strict=True))) for row in reversed(rows)]
