"""Which ground the plans of a set show, and how far apart its contours are there."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from routing.papers.document import Document, column, units_of
from routing.papers.plane import local_plane
from routing.papers.sheet.bands import band_count
from routing.papers.sheet.ink import Box
from routing.papers.sheet.paper import paper_of
from routing.papers.sheet.profile import plot_height
from routing.papers.sheet.split import choose
from routing.papers.sheet.view import PlanView
from routing.units import UnitSystem, convert

__all__ = ["Shown", "contour_step", "shown_ground"]

PER_SCALE = {"metric": 500.0, "us": 300.0}
"""Denominator of the scale over the interval in metres or feet: 2 m at 1:1000, 2 ft at 1:600;
common practice for steep ground, no source."""
HALF_OF_RMSE = 1.645
"""Error that 90 % of elevations keep, over the RMSE of a normal error [-]."""


class Shown(NamedTuple):
    """Interval of contours in the units of the study, and a box of lon and lat for each sheet."""

    interval: float
    boxes: tuple[tuple[float, float, float, float], ...]


def contour_step(units: UnitSystem, along: int, rmse_m: float | None) -> float:
    """Return the interval of contours on a plan, in metres or feet.

    Round and by the scale, but never finer than the ground is known: 90 % of elevations must be
    within half an interval. Source of that rule: United States National Map Accuracy Standards,
    1947 (from memory).

    >>> contour_step("metric", 1000, 0.3), contour_step("metric", 1000, 4.0)
    (2.0, 20.0)
    """
    least = along / PER_SCALE[units]
    if rmse_m is not None:
        least = max(least, 2.0 * HALF_OF_RMSE * convert(rmse_m, "elevation", units))
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * m for m in (1.0, 2.0, 5.0, 10.0) if power * m >= least * (1.0 - 1e-9))


def shown_ground(doc: Document) -> Shown:
    """Return what the plans of a study's sheets show of the ground."""
    plane, paper = local_plane(doc), paper_of(doc)
    x, y = plane.forward(column(doc, "lon"), column(doc, "lat"))
    pieces = choose(doc, x, y, paper, plot_height(paper, band_count(doc, paper)))
    box = Box(0.0, 0.0, paper.frame_width, paper.plan_height)
    wide, high = np.meshgrid([box.left, box.right], [box.top, box.bottom])
    boxes = []
    for piece in pieces:
        view = PlanView(box=box, mm_per_m=1000.0 / piece.scales.along, turn_rad=piece.turn_rad,
                        middle=piece.middle)  # fmt: skip
        lon, lat = plane.inverse(*view.back(wide.ravel(), high.ravel()))
        boxes.append((float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max())))
    step = contour_step(units_of(doc), pieces[0].scales.along, doc["terrain"].get("rmse_m"))
    return Shown(step, tuple(boxes))
