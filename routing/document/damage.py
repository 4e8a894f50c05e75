"""What is wrong with a study document that was changed or cut since a study wrote it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import numpy as np

from routing.document.row import Row, inside, members
from routing.errors import LeatlineError, StudyFileError

__all__ = ["damage_named", "first_fault"]


@contextmanager
def damage_named(document: Mapping[str, Any]) -> Iterator[None]:
    """Let what fails in the block be the document's fault where the document is not sound.

    A sound document is not looked at, so that it costs nothing, and one that an older version wrote
    serves for whatever it still holds.
    """
    try:
        yield
    except LeatlineError:
        raise
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as exc:
        why = first_fault(document)
        if why is None:
            raise
        raise StudyFileError(
            f"The study is damaged: {why}.",
            "Give the study.json that a study wrote, or run the study again.",
        ) from exc


def first_fault(document: object) -> str | None:
    """Return what is first found wrong with a document, None if nothing is.

    >>> first_fault({"schema": 1})
    'name is missing'
    """
    return _in_object(document, "", "") or _lengths(document)


def _in_object(value: object, parent: str, where: str) -> str | None:
    if not isinstance(value, Mapping):
        return f"{where or 'it'} is no object"
    for key, row in members(parent).items():
        place = f"{where}.{key}" if where else key
        if key in value:
            fault = _in_value(value[key], row, place)
        else:
            fault = f"{place} is missing" if row.required else None
        if fault is not None:
            return fault
    return None


def _in_value(value: object, row: Row, where: str) -> str | None:
    if value is None:
        return None if row.nullable or row.item == "any" else f"{where} is null"
    if not row.several:
        return _in_one(value, row, where)
    if isinstance(value, np.ndarray):  # a document that was not in a file yet
        value = value.tolist()
    if not isinstance(value, list | tuple):
        return f"{where} is no list"
    holes = row.type.removesuffix("?").removesuffix("[]").endswith("?")
    for number, one in enumerate(value):
        place = f"{where}[{number}]"
        fault = None if one is None and holes else _in_one(one, row, place)
        if fault is not None:
            return fault
    return None


def _in_one(value: object, row: Row, where: str) -> str | None:
    item = row.item
    if item == "object" or item[:1].isupper():
        return _in_object(value, inside(row), where)
    if item == "any":
        return None
    if item.startswith("="):
        sound = value == json.loads(item[1:])
    elif "|" in item:
        sound = str(value) in item.split("|")
    else:
        sound = any(_is(value, kind) for kind in item.split("/"))
    return None if sound else f"{where} = {str(value)[:40]!r} is no {item}"


def _is(value: object, kind: str) -> bool:
    if kind == "truth":
        return isinstance(value, bool)
    if kind == "text":
        return isinstance(value, str)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return math.isfinite(value) and (kind == "number" or value == int(value))


def _lengths(document: object) -> str | None:
    """Return which column of the stations is not as long as the others."""
    stations = document["stations"] if isinstance(document, Mapping) else {}
    lengths = {key: len(column) for key, column in stations.items() if column is not None}
    for key, length in lengths.items():
        if length != lengths["station_m"]:
            return f"stations.{key} has {length} values for {lengths['station_m']} stations"
    return None
