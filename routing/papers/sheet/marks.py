"""What is marked on a plan: ends, fittings, bends, blocks, valves, levels, crossings, legs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from routing.papers.document import Document, column, plain, units_of
from routing.papers.plane import LocalPlane
from routing.papers.schedule import to_set
from routing.papers.set_facts import item_place
from routing.papers.sheet.split import Piece
from routing.papers.sheet.view import PlanView
from routing.papers.signs import LOOKS, Look, SignKind
from routing.papers.station import station_text
from routing.units import show

__all__ = ["PlanMark", "leg_words", "plan_marks"]

PLAN_BEND_DEG = 5.0
"""Least deflection in plan that is lettered [deg]; all stand in the schedule."""
LEG_MM = 26.0
"""Least length on the sheet of a leg whose bearing and length are lettered [mm]."""
_SET: tuple[tuple[SignKind, str], ...] = (
    ("crossing", "crossings"),
    ("valve", "valves"),
    ("block", "blocks"),
    ("tap", "taps"),
    ("relief", "relief_valves"),
    ("anchor", "anchors"),
    ("support", "supports"),
)


class PlanMark(NamedTuple):
    """A sign on the plan: its place [mm], its lettering, and how it is drawn."""

    kind: SignKind
    x: float
    y: float
    words: str
    bold: bool
    look: Look
    id: str


def plan_marks(
    doc: Document, piece: Piece, plane: LocalPlane, view: PlanView
) -> Iterator[PlanMark]:
    """Return what is marked on one sheet, the weightiest first."""
    for kind, item, words, bold, look in _told(doc):
        if piece.from_m - 1e-6 <= float(item["station_m"]) <= piece.to_m + 1e-6:
            lon, lat = item_place(doc, item)
            x, y = view.at(*plane.forward(np.array([lon]), np.array([lat])))
            name = plain(item.get("id") or "")
            yield PlanMark(kind, float(x[0]), float(y[0]), words, bold, look, name)


Told = tuple[SignKind, Mapping[str, Any], str, bool, Look]


def _told(doc: Document) -> Iterator[Told]:
    """Return kind, item, lettering, weight and look of everything that is marked on the line."""
    length = float(column(doc, "station_m")[-1])
    yield "intake", {"station_m": 0.0}, "Intake", True, "solid"
    yield "powerhouse", {"station_m": length}, "Powerhouse", True, "solid"
    fittings: tuple[tuple[SignKind, str], ...] = (("vent", "vents"), ("drain", "drains"))
    for kind, name in fittings:
        for item in doc[name]:
            words = f"{plain(item['id'])} · {station_text(doc, item['station_m'])}"
            yield kind, item, words, True, LOOKS[item["need"]]
    for item in doc.get("bends") or ():
        turn = float(item["plan_deg"])
        if abs(turn) >= PLAN_BEND_DEG:
            words = f"{plain(item['id'])} · {abs(turn):.1f}° {'R' if turn > 0 else 'L'}"
            yield "bend", item, words, False, "solid"
    for kind, name in _SET:
        for item in to_set(doc, name):
            yield kind, item, _set_words(doc, kind, item), False, "solid"
    for number, item in enumerate(doc.get("levels_to_shoot") or (), start=1):
        yield "level", item, f"L{number}", False, "solid"


def _set_words(doc: Document, kind: SignKind, item: Mapping[str, Any]) -> str:
    """Return an item's name; a crossing has its station and the owner's consent beside it."""
    if kind != "crossing":
        return plain(item["id"])
    words = f"{plain(item['id'])} · {station_text(doc, item['station_m'])}"
    return f"{words} · {plain(item['consent'])}" if item.get("consent") else words


def leg_words(
    doc: Document, piece: Piece, plane: LocalPlane, view: PlanView
) -> Iterator[tuple[float, float, str]]:
    """Return where bearing and length of each long leg of the drawn line may stand [mm]."""
    route, units = doc["route"], units_of(doc)
    at = np.asarray(route["station_m"], dtype=np.float64)
    lon, lat = (np.asarray(route[key], dtype=np.float64) for key in ("lon", "lat"))
    px, py = plane.forward(lon, lat)
    x, y = view.at(px, py)
    for first in range(len(at) - 1):
        if at[first] < piece.from_m - 1e-6 or at[first + 1] > piece.to_m + 1e-6:
            continue
        if math.hypot(float(x[first + 1] - x[first]), float(y[first + 1] - y[first])) < LEG_MM:
            continue
        east, north = float(px[first + 1] - px[first]), float(py[first + 1] - py[first])
        bearing = math.degrees(math.atan2(east, north)) % 360.0
        length = show(float(at[first + 1] - at[first]), "length", units)
        middle = (float(x[first] + x[first + 1]) / 2.0, float(y[first] + y[first + 1]) / 2.0)
        yield *middle, f"{bearing:.1f}° {length}"
