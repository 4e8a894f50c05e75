"""What the user gave for the plan: streams, boundaries, no-go areas, roads, reference points."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from routing.arrays import FloatArray
from routing.land import GROUND
from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_features
from routing.papers.plane import LocalPlane
from routing.papers.sheet.ink import Box, Drawing
from routing.units import show

if TYPE_CHECKING:
    from routing.papers.sheet.view import PlanView

__all__ = ["draw_features", "draw_shot", "draw_survey", "feature_style", "parts"]

GRID = (14, 10)
"""Columns and rows of places that are tried for the name of an area [-]."""
SAMPLES = 400
"""Places along a line that are tried for its name [-]."""


def draw_features(
    ink: Drawing, doc: Document, plane: LocalPlane, view: PlanView
) -> list[tuple[float, float, str]]:
    """Draw the user's features and return where their names may stand."""
    names: list[tuple[float, float, str]] = []
    units, box = units_of(doc), view.box
    for feature in sheet_features(doc):
        properties = feature.get("properties") or {}
        kind, name = str(properties.get("kind")), plain(properties.get("name") or "")
        spot: tuple[float, float] | None = None
        for shape, places in parts(feature["geometry"]):
            x, y = view.at(*plane.forward(places[:, 0], places[:, 1]))
            if not _meets(x, y, box):
                continue
            if shape == "Point":
                at_x, at_y = float(x[0]), float(y[0])
                ink.circle(at_x, at_y, 1.2, "reference")
                ink.line(at_x - 1.2, at_y, at_x + 1.2, at_y, "fine")
                ink.line(at_x, at_y - 1.2, at_x, at_y + 1.2, "fine")
                level = properties.get("level_m")
                if isinstance(level, int | float):
                    name = f"{name} {show(float(level), 'elevation', units)}".strip()
                names.append((at_x, at_y, name or "reference point"))
                continue
            ink.path(x, y, feature_style(kind), close=shape == "Polygon")
            spot = spot or _spot(x, y, box, area=shape == "Polygon")
        if name and spot is not None:
            names.append((*spot, name))
    return names


def feature_style(kind: str) -> str:
    """Return the class of the drawing that a kind of feature is drawn in.

    The ground itself is a line of the profile, so that its classes have another.

    >>> feature_style("right of way"), feature_style("ground")
    ('rightofway', 'groundclass')
    """
    return "groundclass" if kind == GROUND else re.sub("[- ]", "", kind)


def draw_survey(
    ink: Drawing, doc: Document, plane: LocalPlane, view: PlanView
) -> list[tuple[float, float, str]]:
    """Draw the points whose levels were taken and return where their levels may stand."""
    points = (doc.get("survey") or {}).get("points") or ()
    if not points:
        return []
    lon, lat = (np.array([point[key] for point in points], float) for key in ("lon", "lat"))
    x, y = view.at(*plane.forward(lon, lat))
    box, units = view.box, units_of(doc)
    told = []
    for point, px, py in zip(points, x.tolist(), y.tolist(), strict=True):
        if box.left < px < box.right and box.top < py < box.bottom:
            draw_shot(ink, px, py)
            level = show(float(point["survey_m"]), "elevation", units, unit=False)
            told.append((px, py, f"{plain(point.get('name') or '')} {level}".strip()))
    return told


def draw_shot(ink: Drawing, x: float, y: float) -> None:
    """Draw a surveyed point: a small upright cross in a ring."""
    ink.circle(x, y, 0.5, "reference")
    ink.line(x - 0.9, y, x + 0.9, y, "fine")
    ink.line(x, y - 0.9, x, y + 0.9, "fine")


def _meets(x: FloatArray, y: FloatArray, box: Box) -> bool:
    """Return whether the extent of a shape meets a box: land far off is not drawn at all."""
    across = x.max() >= box.left and x.min() <= box.right
    return bool(across and y.max() >= box.top and y.min() <= box.bottom)


def _spot(x: FloatArray, y: FloatArray, box: Box, *, area: bool) -> tuple[float, float] | None:
    """Return where the name of a line or area stands: in the middle of what the sheet shows of it.

    An area whose edges all lie beyond the sheet has its name too.
    """
    if area:
        gx, gy = (
            grid.ravel()
            for grid in np.meshgrid(
                np.linspace(box.left, box.right, GRID[0])[1:-1],
                np.linspace(box.top, box.bottom, GRID[1])[1:-1],
            )
        )
        held = _within(gx, gy, x, y)
        if held.any():
            gx, gy = gx[held], gy[held]
            near = int(np.argmin(np.hypot(gx - gx.mean(), gy - gy.mean())))
            return float(gx[near]), float(gy[near])
        x, y = np.append(x, x[0]), np.append(y, y[0])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    at = np.linspace(0.0, float(along[-1]), SAMPLES)
    px, py = np.interp(at, along, x), np.interp(at, along, y)
    inside = (px > box.left) & (px < box.right) & (py > box.top) & (py < box.bottom)
    shown = np.flatnonzero(inside)
    if not len(shown):
        return None
    middle = int(shown[len(shown) // 2])
    return float(px[middle]), float(py[middle])


def _within(px: FloatArray, py: FloatArray, x: FloatArray, y: FloatArray) -> np.ndarray:
    """Return which points lie in a ring: a ray to the right crosses its edges an odd time.

    >>> ring = np.array([0.0, 4.0, 4.0, 0.0]), np.array([0.0, 0.0, 4.0, 4.0])
    >>> _within(np.array([1.0, 5.0]), np.array([1.0, 1.0]), *ring).tolist()
    [True, False]
    """
    x2, y2 = np.roll(x, -1), np.roll(y, -1)
    rises = (y > py[:, None]) != (y2 > py[:, None])
    with np.errstate(divide="ignore", invalid="ignore"):
        cut = x + (py[:, None] - y) * (x2 - x) / (y2 - y)
    return np.asarray((rises & (px[:, None] < cut)).sum(axis=1) % 2 == 1)


def parts(geometry: Mapping[str, Any]) -> Iterable[tuple[str, FloatArray]]:
    """Return a GeoJSON geometry as points, lines and rings, (n, 2) lon, lat; malformed ones not."""
    kind, places = str(geometry.get("type")), geometry.get("coordinates")
    if kind == "GeometryCollection":
        for item in geometry.get("geometries") or ():
            yield from parts(item)
        return
    deep = {"Point": 0, "LineString": 1, "MultiPoint": 1, "Polygon": 2, "MultiLineString": 2}
    level = deep.get(kind, 3)
    plain_kind = kind.removeprefix("Multi")
    if plain_kind == "Point":
        level += 1
        places = [places]
        if kind == "MultiPoint":
            places = [[item] for item in places[0] or ()]
    stack: list[Any] = [places]
    for _ in range(level - 1):
        stack = [item for group in stack for item in group or ()]
    for item in stack:
        try:
            array = np.array([[float(p[0]), float(p[1])] for p in item], dtype=np.float64)
        except (TypeError, ValueError, IndexError):
            continue
        if array.ndim == 2 and len(array) >= (1 if plain_kind == "Point" else 2):
            yield plain_kind, array
