"""Labels that find a free place: near their point if they can, else on a leader line."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from routing.arrays import FloatArray
from routing.papers.sheet.ink import Box
from routing.value import dataclass

__all__ = ["Free", "Place"]

DIRECTIONS = 24
"""Directions tried around a point [-]."""
LEADER_POINTS = 9
"""Points of a leader line that are kept clear of text [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a label went: its box, and the end of its leader line if it needs one."""

    box: Box
    leader: tuple[float, float] | None


class Free:
    """The free room of a drawing: boxes taken so far, and points that no label may cover."""

    def __init__(self, bounds: Box) -> None:
        self.bounds = bounds
        self._boxes = np.empty((0, 4))
        self._points = np.empty((0, 2))

    def take(self, *boxes: Box) -> None:
        """Mark boxes as taken."""
        rows = [(box.left, box.top, box.right, box.bottom) for box in boxes]
        self._boxes = np.vstack([self._boxes, np.array(rows).reshape(-1, 4)])

    def keep_clear(self, points: FloatArray) -> None:
        """Mark points, (n, 2) [mm], that no label may cover; those out of bounds are left out."""
        box = self.bounds
        x, y = points[:, 0], points[:, 1]
        near = (x >= box.left) & (x <= box.right) & (y >= box.top) & (y <= box.bottom)
        self._points = np.vstack([self._points, points[near]])

    def is_free(self, box: Box) -> bool:
        """Return whether a box lies inside the bounds and covers nothing."""
        return bool(self._free(np.array([[box.left, box.top, box.right, box.bottom]]))[0])

    def place(
        self, x: float, y: float, width: float, height: float, gap: float, reach: Iterable[float]
    ) -> Place | None:
        """Take a free place for a label of a point, the nearest one; None where there is none.

        ``gap`` is the clearance from the point, ``reach`` the distances to try [mm]; a label
        further than ``gap`` has a leader line, which crosses no earlier label.
        """
        angle = 2.0 * np.pi * (np.arange(DIRECTIONS) + 0.5) / DIRECTIONS - np.pi / 2.0
        cos, sin = np.cos(angle), np.sin(angle)
        for far in reach:
            # The box touches a circle of the given radius from outside, on the side it lies.
            centre_x = x + cos * (far + width / 2.0)
            centre_y = y + sin * (far + height / 2.0)
            boxes = np.column_stack(
                [
                    centre_x - width / 2.0,
                    centre_y - height / 2.0,
                    centre_x + width / 2.0,
                    centre_y + height / 2.0,
                ]
            )
            for index in np.flatnonzero(self._free(boxes)).tolist():
                box = Box(*(float(value) for value in boxes[index]))
                if far <= gap:
                    self.take(box)
                    return Place(box=box, leader=None)
                end = (
                    float(np.clip(x, box.left, box.right)),
                    float(np.clip(y, box.top, box.bottom)),
                )
                share = np.linspace(0.12, 0.95, LEADER_POINTS)
                points = np.column_stack([x + share * (end[0] - x), y + share * (end[1] - y)])
                if self._clear(points):
                    self.take(box)
                    self.keep_clear(points)
                    return Place(box=box, leader=end)
        return None

    def _free(self, boxes: FloatArray) -> np.ndarray:
        bounds = self.bounds
        good = (
            (boxes[:, 0] >= bounds.left)
            & (boxes[:, 1] >= bounds.top)
            & (boxes[:, 2] <= bounds.right)
            & (boxes[:, 3] <= bounds.bottom)
        )
        left, top, right, bottom = (boxes[:, i, None] for i in range(4))
        taken = self._boxes
        over = (left < taken[:, 2]) & (right > taken[:, 0])
        over &= (top < taken[:, 3]) & (bottom > taken[:, 1])
        good &= ~over.any(axis=1)
        x, y = self._points[:, 0], self._points[:, 1]
        covered = (left < x) & (right > x) & (top < y) & (bottom > y)
        return np.asarray(good & ~covered.any(axis=1))

    def _clear(self, points: FloatArray) -> bool:
        x, y = points[:, 0, None], points[:, 1, None]
        taken = self._boxes
        inside = (x > taken[:, 0]) & (x < taken[:, 2]) & (y > taken[:, 1]) & (y < taken[:, 3])
        return not bool(inside.any())
