"""How values leave the code: rounded one way, named one way, so that all faces agree."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np

from routing.arrays import FloatArray

__all__ = ["column", "fields_of", "kpa", "metres", "rounded"]


def rounded(value: float | None, decimals: int) -> float | None:
    """Return a number rounded, without a minus zero; what is not finite is None."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals) + 0.0


def metres(value: float | None) -> float | None:
    """Return a length or head to 0.1 mm [m]."""
    return rounded(value, 4)


def kpa(pascal: float | None) -> float | None:
    """Return a pressure in Pa as kPa, or a force in N as kN."""
    return None if pascal is None else pascal / 1000.0


def column(values: FloatArray, decimals: int) -> FloatArray:
    """Return a column rounded, without minus zeros, (n,)."""
    return np.asarray(np.round(values, decimals) + 0.0)


def fields_of(value: object, names: str) -> dict[str, Any]:
    """Return fields of a value by their names in the document, None each where there is no value.

    ``names`` stand as in the document, blanks between. One in kPa, kN or mm is read from the field
    in Pa, N or m; a tuple becomes a list.

    >>> from types import SimpleNamespace
    >>> fields_of(SimpleNamespace(bore_m=0.2, held_pa=5000.0), "bore_mm held_kpa")
    {'bore_mm': 200.0, 'held_kpa': 5.0}
    """
    return {
        name: None if value is None else told(getattr(value, field))
        for name, field, told in _fields(names)
    }


@cache
def _fields(names: str) -> tuple[tuple[str, str, Callable[[Any], Any]], ...]:
    """Return for each name the field it is read from, and what makes the one of the other."""
    rows = []
    for name in names.split():
        stem, _, unit = name.rpartition("_")
        small, told = _LARGER.get(unit, (unit, _listed))
        rows.append((name, f"{stem}_{small}" if stem else name, told))
    return tuple(rows)


def _listed(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def _thousandfold(value: float | None) -> float | None:
    return None if value is None else value * 1000.0


_LARGER = {"kpa": ("pa", kpa), "kn": ("n", kpa), "mm": ("m", _thousandfold)}
