"""What is said where an input is refused: what each error is, and its words, values taken out."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import routing
from api import ending, errors
from routing.errors import LeatlineError
from routing.words import normal_form
from routing.words.translate import HOLE

__all__ = ["error_kinds", "error_sentences", "told_errors"]

API, ROUTING = Path(__file__).resolve().parent, Path(routing.__file__).resolve().parent
MET = (API, *(ROUTING / room for room in ("units.py", "words", "settings", "line", "terrain")))
"""Where what people give is read: command, request, quantity, language, settings, line, raster."""


def error_kinds() -> dict[str, str]:
    """Return what each error is whatever its values, by its code; how else a command ends too."""
    found = {kind.code: kind.kind() for kind in _kinds(LeatlineError)}
    found |= {f"an end by {name}": told for name, told in ending.KINDS.items()}
    return found | {f"status {status}": told for status, told in errors.KINDS.items()}


def _kinds(kind: type[LeatlineError]) -> Iterator[type[LeatlineError]]:
    yield kind
    for below in kind.__subclasses__():
        yield from _kinds(below)


def error_sentences() -> Iterator[str]:
    """Yield what is said in the rooms where what people give is read."""
    names = frozenset(kind.__name__ for kind in _kinds(LeatlineError))
    for room in MET:
        for path in sorted(room.rglob("*.py")) if room.is_dir() else [room]:
            yield from told_errors(path.read_text(encoding="utf-8"), names)


def told_errors(source: str, names: frozenset[str]) -> Iterator[str]:
    """Yield problem and remedy of the errors that a module makes, ``{1}`` where a value stands.

    >>> made = 'raise InputError(f"{key} = {value!r} is no length.", "Write 3 m.")'
    >>> list(told_errors(made, frozenset({"InputError"})))
    ['{1} = {2} is no length.', 'Write {1}.']
    """
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        if (node.func.id if isinstance(node.func, ast.Name) else called) in names:
            for text in map(_form_of, node.args[:2]):
                if re.search(r"[^\W\d_]{2}", HOLE.sub("", text)):
                    yield text


def _form_of(node: ast.expr) -> str:
    """Return the form of a text in a module; empty where it is none."""
    parts = node.values if isinstance(node, ast.JoinedStr) else [node]
    if not all(isinstance(part, ast.FormattedValue) or _words(part) for part in parts):
        return ""
    return normal_form("".join(_words(part) or "“”" for part in parts)).key


def _words(node: ast.expr) -> str:
    return str(node.value) if isinstance(node, ast.Constant) else ""
