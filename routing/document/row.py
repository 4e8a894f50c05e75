"""The rows of ``data/document.csv``: what every member of the study document is."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from routing.trade_table import trade_table
from routing.value import dataclass

__all__ = ["Row", "find_row", "load_rows", "members"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One member of the document.

    ``path`` names it from the top (``summary.plan_length_m``) or from a named part (``Vent.id``);
    members of an object in a list follow ``[]``. ``type`` is number, integer, text, truth, object,
    the name of a part, ``a|b`` for one of several words, or ``=value``; then ``+`` for an object
    that may hold more, ``[]`` for a list of such, ``?`` where it may be null. ``kind`` is the kind
    of quantity (:data:`routing.units.Kind`) or a unit that is the same for every reader.
    """

    path: str
    type: str
    required: bool
    kind: str
    decimals: int | None
    least: str
    most: str
    meaning: str

    @property
    def key(self) -> str:
        """Return the member's own name."""
        return self.path.rpartition(".")[2]

    @property
    def item(self) -> str:
        """Return the type of the value, or of each value of a list, without marks."""
        return self.type.removesuffix("?").removesuffix("[]").removesuffix("?").removesuffix("+")

    @property
    def several(self) -> bool:
        """Return whether it is a list."""
        return self.type.removesuffix("?").endswith("[]")

    @property
    def nullable(self) -> bool:
        """Return whether the member itself may be null."""
        return self.type.endswith("?")


_NO_ROWS: Mapping[str, Row] = MappingProxyType({})


@cache
def load_rows() -> Mapping[str, Row]:
    """Return all rows by their path, in the order of the document."""
    rows = [
        Row(
            path=row["path"],
            type=row["type"],
            required=row["presence"] == "must",
            kind=row["kind"],
            decimals=int(row["decimals"]) if row["decimals"] else None,
            least=row["least"],
            most=row["most"],
            meaning=row["meaning"],
        )
        for row in trade_table(__file__, "document.csv")
    ]
    found = {row.path: row for row in rows}
    if len(found) != len(rows):
        raise ValueError("document.csv names a member twice")
    return MappingProxyType(found)


def members(parent: str) -> Mapping[str, Row]:
    """Return the rows of an object's members by key; ``""`` is the document itself."""
    return _members().get(parent, _NO_ROWS)


@cache
def _members() -> Mapping[str, Mapping[str, Row]]:
    """Return the rows by the object that they belong to; a name without one is no member."""
    found: dict[str, dict[str, Row]] = {}
    for path, row in load_rows().items():
        parent, _, key = path.rpartition(".")
        if parent or path[:1].islower():
            found.setdefault(parent, {})[key] = row
    return MappingProxyType({parent: MappingProxyType(rows) for parent, rows in found.items()})


def find_row(path: str) -> Row | None:
    """Return the row of a path such as ``vents.station_m``, through lists and named parts.

    >>> find_row("vents.station_m").path, find_row("summary.power_kw").decimals
    ('Vent.station_m', 4)
    """
    row: Row | None = None
    parent = ""
    for key in path.replace("[]", "").split("."):
        row = members(parent).get(key)
        if row is None:
            return None
        parent = inside(row)
    return row


def inside(row: Row) -> str:
    """Return the path under which the members of a row's object stand."""
    if row.item[:1].isupper():
        return row.item
    return f"{row.path}[]" if row.several else row.path
