"""The kinds of land that a layer may hold, as rows of data."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from routing.trade_table import rows_of
from routing.value import dataclass

__all__ = ["KINDS", "LandKind"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LandKind:
    """One kind: what it is called, and how near a line of it the pipe lies "along" it [m].

    ``angle`` is whether the angle of the crossing matters.
    """

    name: str
    words: str
    plural: str
    beside_m: float
    angle: bool


KINDS: Mapping[str, LandKind] = MappingProxyType(
    {
        each.name: each
        for each in rows_of(LandKind, __file__, "kinds.csv", name=lambda row: row["kind"])
    }
)
"""Kinds of layers by the word that the settings take."""
