"""Output folders that appear whole or not at all, and keep apart what is the user's own.

A list in the folder, ``.leatline.json``, says what runs wrote there and the hash of each file. The
next run replaces exactly that: it removes what it does not write itself any more, and refuses to
write over anything else.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import os
import secrets
import shutil
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path, PurePosixPath

from routing.errors import InputError

__all__ = ["MANIFEST", "OutputFolder", "output_file", "output_folder", "still_ours"]

MANIFEST = ".leatline.json"
"""Name of the list of what runs wrote into a folder."""
ALONE = "alone"
"""Member of the list that holds files which were asked for one by one; runs leave them alone."""
Manifest = dict[str, list[str]]
"""File names from the folder on, each with the hashes under which it is ours."""


class OutputFolder:
    """A draft folder to write into, and after the block the place where its files went."""

    def __init__(self, draft: Path) -> None:
        self.draft = draft
        self.place = draft
        self.left: tuple[str, ...] = ()
        """What lies in the folder and is not ours."""

    def told(self, first: str) -> list[str]:
        """Return what to tell of the folder: where it is, what to open, what was left alone."""
        files = f"Files are in {self.place}{os.sep}; open {first} first."
        if not self.left:
            return [files]
        others = ", ".join(self.left[:10]) + (" and more" if len(self.left) > 10 else "")
        return [f"Left alone, as Leatline did not write it: {others}.", files]


@contextmanager
def output_folder(wanted: Path, *, new: bool = False) -> Iterator[OutputFolder]:
    """Give a draft beside ``wanted``; its files move there when the block ends without an error.

    With ``new`` an existing folder is left alone and ``wanted-2`` (and so on) is taken. Without it,
    what earlier runs wrote is replaced, file by file, each whole; a file in the way that is not of
    them is an error. If the block raises, nothing is left, not even the parent folders made for it.
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
            output.place = _take_new(output, wanted) if new else _take(output, wanted)
        except OSError as exc:
            raise _unwritable(wanted, exc) from exc
        done = True
    finally:
        shutil.rmtree(draft, ignore_errors=True)
        if not done:
            _remove(missing)


@contextmanager
def still_ours(path: Path) -> Iterator[None]:
    """Let the block change a file of a folder; one that a run wrote there stays one of those."""
    before = _manifest(path.parent)
    ours = _is_ours(path, before.get(path.name, []))
    yield
    if ours:
        _write_manifest(path.parent, {**before, path.name: [_hash(path)]})


@contextmanager
def output_file(wanted: Path) -> Iterator[None]:
    """Let the block write one file: over nothing but an empty one, or what an earlier run wrote."""
    folder, name = wanted.parent, wanted.name
    runs, alone = _manifest(folder), _manifest(folder, ALONE)
    known = [*runs.get(name, []), *alone.get(name, [])]
    empty = wanted.is_file() and not wanted.is_symlink() and wanted.stat().st_size == 0
    if os.path.lexists(wanted) and not empty and not _is_ours(wanted, known):
        raise InputError(
            f"{wanted} is there; Leatline did not write it, or it was changed since.",
            "Move it away, or name another file with --out.",
        )
    yield
    written = {name: [_hash(wanted)]}
    with suppress(OSError):  # a folder in which only this file can be written
        if name in runs:
            _write_manifest(folder, {**runs, **written})
        else:
            _write_manifest(folder, runs, {**alone, **written})


def _remove(folders: list[Path]) -> None:
    """Remove empty folders, the innermost first."""
    for path in folders:
        try:
            path.rmdir()
        except FileNotFoundError:
            continue
        except OSError:
            return


def _take(output: OutputFolder, wanted: Path) -> Path:
    """Move the draft's files to ``wanted``: in one step where it does not exist yet."""
    draft, made = output.draft, _hashes(output.draft)
    if not wanted.exists():
        _write_manifest(draft, {name: [made[name]] for name in made})
        draft.rename(wanted)
        return wanted
    before, alone = _manifest(wanted), _manifest(wanted, ALONE)
    _check_way(wanted, made, {key: [*before.get(key, []), *alone.get(key, [])] for key in made})
    # Until all is done both what was and what comes counts as ours, so that a run which is killed
    # on the way leaves nothing that the next one would not replace.
    both = {name: [*before.get(name, []), made[name]] for name in made}
    _write_manifest(wanted, {**before, **both})
    for name in made:
        (wanted / name).parent.mkdir(parents=True, exist_ok=True)
        os.replace(draft / name, wanted / name)
    for name in before.keys() - made.keys():
        if _is_ours(wanted / name, before[name]):
            (wanted / name).unlink()
            _remove([path for path in (wanted / name).parents if path.is_relative_to(wanted)])
    _write_manifest(wanted, {name: [made[name]] for name in made})
    output.left = _others(wanted, {*made, *alone})
    return wanted


def _check_way(wanted: Path, made: Mapping[str, str], before: Manifest) -> None:
    """Refuse to write over what no earlier run wrote, or what was changed since."""
    foreign = []
    for name in made:
        for path in (wanted / name, *(wanted / name).parents):
            if path == wanted:
                break
            ours = path.is_dir() and not path.is_symlink() and path != wanted / name
            if not ours and os.path.lexists(path):
                known = [*before.get(name, []), made[name]]
                if path != wanted / name or not _is_ours(path, known):
                    foreign.append(path.relative_to(wanted).as_posix())
    if foreign:
        some = ", ".join(sorted(set(foreign))[:10])
        raise InputError(
            f"{wanted} holds {some}, which Leatline did not write or which was changed since.",
            "Move it away, or name another folder with --out.",
        )


def _is_ours(path: Path, known: Sequence[str]) -> bool:
    return path.is_file() and not path.is_symlink() and _hash(path) in known


def _hash(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _hashes(folder: Path) -> dict[str, str]:
    """Return every file below a folder by its name from there, with the hash of its contents."""
    found = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): _hash(path) for path in found}


def _others(folder: Path, made: Iterable[str]) -> tuple[str, ...]:
    """Return the names in a folder that no run wrote."""
    own = {MANIFEST, *(name.partition("/")[0] for name in made)}
    return tuple(sorted(path.name for path in folder.iterdir() if path.name not in own))


def _manifest(folder: Path, part: str = "files") -> Manifest:
    """Return what earlier runs wrote into a folder; what cannot be read claims nothing."""
    try:
        files = json.loads((folder / MANIFEST).read_bytes()).get(part, {})
        return {str(name): [str(one) for one in files[name]] for name in files if _inside(name)}
    except (OSError, ValueError, AttributeError, TypeError, RecursionError):
        return {}


def _inside(name: object) -> bool:
    """Return whether a name leads to a file below the folder itself."""
    parts = PurePosixPath(str(name)).parts
    return bool(parts) and ".." not in parts and not PurePosixPath(str(name)).is_absolute()


def _write_manifest(folder: Path, files: Manifest, alone: Manifest | None = None) -> None:
    """Write the list of a folder; files asked for one by one stay as they are unless given."""
    if alone is None:
        alone = _manifest(folder, ALONE)
    draft = folder / f"{MANIFEST}-{secrets.token_hex(6)}"
    try:
        text = {"about": "What Leatline wrote here, so that the next run replaces just that."}
        draft.write_text(
            json.dumps({**text, "files": files, ALONE: alone}, indent=0), encoding="utf-8"
        )
        draft.replace(folder / MANIFEST)
    finally:
        draft.unlink(missing_ok=True)


def _take_new(output: OutputFolder, wanted: Path) -> Path:
    """Move the draft to the first free name."""
    made = _hashes(output.draft)
    _write_manifest(output.draft, {name: [made[name]] for name in made})
    for number in itertools.count(1):
        place = wanted if number == 1 else wanted.with_name(f"{wanted.name}-{number}")
        try:
            place.mkdir()  # claims the name: of two commands only one can make it
        except FileExistsError:
            continue
        output.draft.rename(place)  # over an empty folder this is one step
        return place
    raise AssertionError("itertools.count ends never")


def _unwritable(place: Path, error: OSError) -> InputError:
    return InputError(
        f"Nothing can be written to {place}: {error.strerror or error}.",
        "Name another folder with --out, or make room.",
    )
