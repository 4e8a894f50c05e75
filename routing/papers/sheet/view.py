"""How the plan comes onto the sheet, and lettering of its points."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.label import Free
from routing.papers.typeset import DESCENT, line_height, text_width
from routing.value import dataclass

__all__ = ["REACH", "Placed", "PlanView", "letter"]

NEAR = 0.9
"""Clearance of a label from its point, in sizes of lettering [-]."""
REACH = (NEAR, 1.0, 2.2, 4.0, 6.0, 8.5, 11.5, 15.0, 19.0, 24.0, 30.0, 37.0)
"""Distances at which a label is tried, in sizes of lettering [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanView:
    """How places of the local plane come onto the sheet."""

    box: Box
    mm_per_m: float
    turn_rad: float
    middle: tuple[float, float]

    def at(self, x: Any, y: Any) -> tuple[Any, Any]:
        """Return where places of the plane [m] lie on the sheet [mm]."""
        cos, sin = math.cos(self.turn_rad), math.sin(self.turn_rad)
        dx, dy = x - self.middle[0], y - self.middle[1]
        centre_x = (self.box.left + self.box.right) / 2.0
        centre_y = (self.box.top + self.box.bottom) / 2.0
        return (
            centre_x + (dx * cos - dy * sin) * self.mm_per_m,
            centre_y - (dx * sin + dy * cos) * self.mm_per_m,
        )

    def back(self, x: Any, y: Any) -> tuple[Any, Any]:
        """Return the place of the plane [m] of a place on the sheet [mm]."""
        cos, sin = math.cos(self.turn_rad), math.sin(self.turn_rad)
        u = (x - (self.box.left + self.box.right) / 2.0) / self.mm_per_m
        v = -(y - (self.box.top + self.box.bottom) / 2.0) / self.mm_per_m
        return self.middle[0] + u * cos + v * sin, self.middle[1] - u * sin + v * cos


class Placed(NamedTuple):
    """A plan on a sheet: its name and how places come onto it."""

    name: str
    view: PlanView


def letter(
    ink: Drawing,
    free: Free,
    at: tuple[float, float],
    words: str,
    size: float,
    *,
    layer: str,
    bold: bool = False,
    reach: Sequence[float] = REACH,
) -> bool:
    """Letter a point where there is room, ``reach`` sizes away; return whether there was any."""
    width, high = text_width(words, size, bold=bold) + 0.5, line_height(size) + 0.3
    gap = min(NEAR, reach[0]) * size
    place = free.place(*at, width, high, gap, [far * size for far in reach])
    if place is None:
        return False
    if place.leader is not None:
        ink.line(*at, *place.leader, "fine")
    ink.text(
        place.box.left + 0.25,
        place.box.bottom - DESCENT * size - 0.15,
        words,
        size,
        bold=bold,
        halo=True,
        layer=layer,
    )
    return True
