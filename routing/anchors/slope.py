"""Anchors that keep buried pipe from creeping down steep ground."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from routing.anchors.trade_data import slope_centres
from routing.arrays import FloatArray
from routing.errors import InputError

__all__ = ["SlopeAnchor", "place_slope_anchors"]

CHORD_M = 10.0
"""Length over which a grade is taken, so that a wave of the trench is not a slope [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeAnchor:
    """An anchor that keeps buried pipe from creeping downhill; ``grade`` is the steepest beside."""

    id: str
    station_m: float
    grade: float
    centres_m: float
    formula: str = "slope.centres"


def place_slope_anchors(station_m: FloatArray, pipe_m: FloatArray) -> tuple[SlopeAnchor, ...]:
    """Return anchors on the steep reaches of a line, in order of station [1]_.

    Every reach of one class of grade has an anchor at both ends and between them at even distances
    that keep to its centres along the slope. Grades are taken over 10 m.

    Parameters
    ----------
    station_m, pipe_m : FloatArray
        Stations, strictly rising, and centreline of the pipe, shape (n,), n >= 2 [m]

    Returns
    -------
    anchors : tuple of SlopeAnchor
        Empty where the line is nowhere steeper than 20 %

    Raises
    ------
    InputError
        If the arrays differ in shape, are too short or the stations do not rise.

    Notes
    -----
    Valid for: pipe in the ground; above ground see :func:`downslope_force_n`.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> s = np.array([0.0, 100.0, 120.0])
    >>> [each.station_m for each in place_slope_anchors(s, np.array([50.0, 50.0, 45.0]))]
    [100.0, 110.0, 120.0]

    References
    ----------
    .. [1] *Recommended Standards for Wastewater Facilities* 33.46,
       eng-tips.com/threads/227967.
    """
    station, height = np.asarray(station_m), np.asarray(pipe_m)
    if station.ndim != 1 or station.shape != height.shape or station.size < 2:
        raise InputError(
            f"Stations of shape {station.shape} and heights of shape {height.shape} are no line.",
            "Give two or more of each, one height per station.",
        )
    if not (np.diff(station) > 0.0).all():
        raise InputError("station_m does not rise strictly.", "Order the stations.")
    grade = _grades(station, height)
    centres = slope_centres()
    kind = np.searchsorted([row.from_grade for row in centres], grade + 1e-9, side="right")
    edges = np.flatnonzero(np.diff(kind)) + 1
    firsts = np.concatenate(([0], edges))
    lasts = np.concatenate((edges, [kind.size]))
    found: dict[float, tuple[float, float]] = {}
    for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
        if kind[first] == 0:
            continue
        row = centres[int(kind[first]) - 1]
        steepest = float(grade[first:last].max())
        for place in _spaced(station[first : last + 1], height[first : last + 1], row.centres_m):
            before = found.get(place, (0.0, math.inf))
            found[place] = max(before[0], steepest), min(before[1], row.centres_m)
    return tuple(
        SlopeAnchor(id=f"S{number}", station_m=place, grade=found[place][0],
                    centres_m=found[place][1])
        for number, place in enumerate(sorted(found), start=1)
    )  # fmt: skip


def _grades(station: FloatArray, height: FloatArray) -> FloatArray:
    """Return the grade of each step, over at least ``CHORD_M`` where the line is that long."""
    middle = (station[:-1] + station[1:]) / 2.0
    half = np.maximum(np.diff(station), CHORD_M) / 2.0
    low, high = np.maximum(middle - half, station[0]), np.minimum(middle + half, station[-1])
    rise = np.interp(high, station, height) - np.interp(low, station, height)
    return np.asarray(np.abs(rise) / (high - low))


def _spaced(station: FloatArray, height: FloatArray, centres_m: float) -> list[float]:
    """Return stations at even distances along the slope, both ends among them."""
    along = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(station), np.diff(height)))))
    gaps = max(1, math.ceil(along[-1] / centres_m - 1e-9))
    inner = np.interp(np.arange(1, gaps) * along[-1] / gaps, along, station)
    return [float(station[0]), *inner.tolist(), float(station[-1])]
