"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["beside", "write_bytes", "write_text"]


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """Give a path in a new folder beside ``path``; what was written there replaces ``path``.

    If the block raises, ``path`` stays as it was and nothing else is left.
    """
    path = Path(path)
    with tempfile.TemporaryDirectory(prefix=".writing-", dir=path.parent) as folder:
        draft = Path(folder) / path.name
        yield draft
        os.replace(draft, path)


def write_bytes(path: Path, data: bytes) -> None:
    """Write ``data`` to ``path``, whole or not at all."""
    with beside(path) as draft:
        draft.write_bytes(data)


def write_text(path: Path, text: str) -> None:
    """Write ``text`` to ``path`` as UTF-8 with plain line ends, whole or not at all."""
    write_bytes(path, text.encode("utf-8"))
