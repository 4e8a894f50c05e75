"""Output folders that appear whole or not at all."""

from __future__ import annotations

import itertools
import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from routing.errors import InputError

__all__ = ["OutputFolder", "output_folder"]


class OutputFolder:
    """A draft folder to write into, and after the block the place where its files went."""

    def __init__(self, draft: Path) -> None:
        self.draft = draft
        self.place = draft


@contextmanager
def output_folder(wanted: Path, *, new: bool = False) -> Iterator[OutputFolder]:
    """Give a draft beside ``wanted``; its files move there when the block ends without an error.

    With ``new`` an existing folder is left alone and ``wanted-2`` (and so on) is taken. Without it,
    files of the same name are replaced, one by one, each whole. If the block raises, nothing is
    left, not even the parent folders made for it.
    """
    if wanted.exists() and not wanted.is_dir():
        raise InputError(f"{wanted} is a file, not a folder.", "Name another folder with --out.")
    # Names are fixed before anything is made, so that a signal at any moment finds what to undo.
    missing = [path for path in (wanted.parent, *wanted.parent.parents) if not path.exists()]
    draft = wanted.parent / f".{wanted.name}-draft-{secrets.token_hex(6)}"
    done = False
    try:
        try:
            draft.mkdir(parents=True)
        except OSError as exc:
            raise _unwritable(wanted, exc) from exc
        output = OutputFolder(draft)
        yield output
        try:
            output.place = _take_new(draft, wanted) if new else _take(draft, wanted)
        except OSError as exc:
            raise _unwritable(wanted, exc) from exc
        done = True
    finally:
        shutil.rmtree(draft, ignore_errors=True)
        if not done:
            _remove(missing)


def _remove(folders: list[Path]) -> None:
    """Remove empty folders, the innermost first."""
    for path in folders:
        try:
            path.rmdir()
        except FileNotFoundError:
            continue
        except OSError:
            return


def _take(draft: Path, wanted: Path) -> Path:
    """Move the draft's files to ``wanted``: in one step where it does not exist yet."""
    if not wanted.exists():
        draft.rename(wanted)
        return wanted
    for path in sorted(draft.iterdir()):
        os.replace(path, wanted / path.name)
    return wanted


def _take_new(draft: Path, wanted: Path) -> Path:
    """Move the draft to the first free name."""
    for number in itertools.count(1):
        place = wanted if number == 1 else wanted.with_name(f"{wanted.name}-{number}")
        try:
            place.mkdir()  # claims the name: of two commands only one can make it
        except FileExistsError:
            continue
        draft.rename(place)  # over an empty folder this is one step
        return place
    raise AssertionError("itertools.count ends never")


def _unwritable(place: Path, error: OSError) -> InputError:
    return InputError(
        f"Nothing can be written to {place}: {error.strerror or error}.",
        "Name another folder with --out, or make room.",
    )
