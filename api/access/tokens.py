"""Secrets that open something: made once, kept only as what a memory-hard function makes of them.

A token is ``id.secret``. The id finds the row, the secret is checked against the row's hash:
scrypt (RFC 7914) with 32 MiB a guess. What was found right once is remembered in memory only, under
a key of this process, so that a request does not pay for it again. Of wrong guesses at one hash a
few are looked at in a while, so that nobody who knows an id can keep the service busy with them.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from datetime import UTC, date, datetime, time
from typing import NamedTuple

from api.access.seldom import Seldom
from routing.errors import InputError

__all__ = ["TOKEN", "Checker", "NewToken", "moment_text", "new_token", "now_text", "time_given"]

TOKEN = re.compile(r"([0-9a-f]{16})\.([A-Za-z0-9_-]{43})")
COST, BLOCK, LANES = 2**15, 8, 1
"""scrypt's N, r and p: 128 N r = 32 MiB and about a tenth of a second for each guess."""
MEMORY = 64 * 2**20
REMEMBERED = 10_000
"""Tokens remembered as right [-]."""
GUESSES, GUESS_SECONDS = 5, 10.0
"""Wrong guesses at one hash that are looked at within so many seconds [-], [s]."""


class NewToken(NamedTuple):
    """A token as it is shown once, its id, and what is kept of it."""

    text: str
    id: str
    hash: str


def new_token() -> NewToken:
    """Return a new token of 256 random bits."""
    identity, secret = secrets.token_hex(8), secrets.token_urlsafe(32)
    salt = secrets.token_bytes(16)
    return NewToken(f"{identity}.{secret}", identity, f"{salt.hex()}${_scrypt(secret, salt).hex()}")


def _scrypt(secret: str, salt: bytes) -> bytes:
    return hashlib.scrypt(
        secret.encode(), salt=salt, n=COST, r=BLOCK, p=LANES, maxmem=MEMORY, dklen=32
    )


class Checker:
    """Compares secrets with hashes; remembers which were right."""

    def __init__(self) -> None:
        self._key = secrets.token_bytes(32)
        self._right: set[bytes] = set()
        self._wrong = Seldom(each=GUESSES, in_all=10 * GUESSES, seconds=GUESS_SECONDS)

    def right(self, secret: str, kept: str) -> bool:
        """Return whether ``kept`` was made from ``secret``."""
        seen = hmac.digest(self._key, f"{secret}${kept}".encode(), "sha256")
        if seen in self._right:
            return True
        if self._wrong.full(kept):
            return False
        salt, _, hashed = kept.partition("$")
        made = _scrypt(secret, bytes.fromhex(salt))
        if not hmac.compare_digest(made, bytes.fromhex(hashed)):
            self._wrong.count(kept)
            return False
        if len(self._right) >= REMEMBERED:
            self._right.clear()
        self._right.add(seen)
        return True


def now_text() -> str:
    """Return the present in the one form in which earlier and later compare as text."""
    return moment_text(datetime.now(UTC))


def time_given(text: str, name: str) -> str:
    """Return a moment to come, given as a date (its end, UTC) or as date and time (ISO 8601).

    >>> time_given("2999-12-31", "expires")
    '2999-12-31T23:59:59.999Z'
    """
    try:
        if len(text) == len("2999-12-31"):
            moment = datetime.combine(date.fromisoformat(text), time.max, UTC)
        else:
            moment = datetime.fromisoformat(text)
        given = moment_text(
            (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC)
        )
    except (ValueError, OverflowError) as exc:
        raise InputError(
            f"{name} = {text[:60]!r} is no date.", "Write it as 2027-01-31 or 2027-01-31T18:00:00Z."
        ) from exc
    if given <= now_text():
        raise InputError(f"{name} = {text[:60]} is over already.", "Give a moment to come.")
    return given


def moment_text(moment: datetime) -> str:
    """Return a moment of UTC in that form."""
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
