"""Anchors that keep buried pipe from creeping down steep ground."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from routing.anchors.requirements import asked
from routing.anchors.trade_data import anchor_limits, slope_centres
from routing.arrays import BoolArray, FloatArray
from routing.check import Check
from routing.laid_line import LaidLine
from routing.trench import trench_width_m
from routing.value import dataclass

__all__ = ["SlopeAnchor", "judge_slopes", "place_slope_anchors"]

CHORD_M = 10.0
"""Length over which a grade is taken, so that a wave of the trench is not a slope [m]: common
practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeAnchor:
    """An anchor that keeps buried pipe from creeping downhill; ``grade`` is the steepest beside.

    ``centres_m`` is how far along the slope the next may stand. It is a wall of concrete around the
    pipe, keyed into the sides of the trench; ``volume_m3`` is without the pipe in it.
    """

    id: str
    station_m: float
    grade: float
    centres_m: float
    width_m: float
    height_m: float
    length_m: float
    volume_m3: float
    formula: str = "slope.centres"


class _Reach(NamedTuple):
    """A reach of one class of grade with the stations of its anchors and their distance."""

    steepest: float
    centres_m: float
    gap_m: float
    places: tuple[float, ...]


def place_slope_anchors(line: LaidLine) -> tuple[SlopeAnchor, ...]:
    """Return anchors on the steep buried reaches of a line, in order of station [1]_.

    Every reach of one class of grade has an anchor at both ends and between them at even distances
    that keep to its centres along the slope. Grades are taken over 10 m.

    Parameters
    ----------
    line : LaidLine
        The line as laid [-]

    Returns
    -------
    anchors : tuple of SlopeAnchor
        Empty where the pipe is nowhere steeper than 20 %

    Notes
    -----
    Valid for: pipe in the ground; above ground see :func:`downslope_force_n`.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 100.0, 120.0], [50.0, 50.0, 45.0], "PE100-SDR17-200",
    ...                    intake_m=52.0)
    >>> [each.station_m for each in place_slope_anchors(line)]
    [100.0, 110.0, 120.0]

    References
    ----------
    .. [1] *Recommended Standards for Wastewater Facilities* 33.46.
    """
    found: dict[float, tuple[float, float]] = {}
    for reach in line.once(_reaches):
        for place in reach.places:
            grade, centres = found.get(place, (0.0, math.inf))
            found[place] = max(grade, reach.steepest), min(centres, reach.centres_m)
    return tuple(
        _wall(line, f"S{number}", place, *found[place])
        for number, place in enumerate(sorted(found), start=1)
    )


def _wall(
    line: LaidLine, identity: str, station_m: float, grade: float, centres_m: float
) -> SlopeAnchor:
    """Return an anchor as it is cast: common practice, its strength is not judged."""
    numbers = anchor_limits()
    at = min(int(np.searchsorted(line.station_m, station_m - 1e-6)), line.station_m.size - 1)
    od = float(line.outside_diameter_m[at])
    width = trench_width_m(od) + 2.0 * numbers.anchor_key_m
    height, length = od + 2.0 * numbers.anchor_key_m, numbers.anchor_thick_m
    return SlopeAnchor(
        id=identity, station_m=station_m, grade=grade, centres_m=centres_m,
        width_m=width, height_m=height, length_m=length,
        volume_m3=(width * height - math.pi / 4.0 * od**2) * length,
    )  # fmt: skip


def judge_slopes(line: LaidLine) -> tuple[Check, ...]:
    """Return whether the anchors stand close enough, and whether the pipe can be laid at all."""
    grade = np.where(_above_ground(line), 0.0, _grades(line.station_m, line.pipe_m))
    worst = int(np.argmax(grade))
    at = float(line.station_m[worst])
    checks = [
        asked("slope_steep").judge(
            100.0 * float(grade[worst]),
            f"The pipe falls more steeply than 1 in 1 near station {at:.1f} m, where it is hard to "
            "lay and to anchor. Draw the line across the slope, or keep it above ground on "
            "anchors. A licensed engineer must settle it.",
            station_m=at,
        )
    ]
    reaches = line.once(_reaches)
    if reaches:
        reach = max(reaches, key=lambda each: each.gap_m / each.centres_m)
        checks.append(
            asked("slope_centres").judge(
                reach.gap_m,
                f"Anchors stand {reach.gap_m:.1f} m apart from station {reach.places[0]:.1f} m on, "
                f"where the pipe falls by {100.0 * reach.steepest:.0f} %: set them no more than "
                f"{reach.centres_m:.1f} m apart.",
                limit=reach.centres_m,
                station_m=reach.places[0],
            )
        )
    return tuple(checks)


def _above_ground(line: LaidLine) -> BoolArray:
    """Return for each step from one station to the next whether it lies on a span, (n - 1,)."""
    middle = (line.station_m[:-1] + line.station_m[1:]) / 2.0
    above = np.zeros(middle.size, dtype=np.bool_)
    for span in line.pipe.spans:
        above |= (middle > span.from_m) & (middle < span.to_m)
    return above


def _reaches(line: LaidLine) -> tuple[_Reach, ...]:
    """Return the steep buried reaches, each of one class of grade, in order."""
    station, height = line.station_m, line.pipe_m
    grade = _grades(station, height)
    centres = slope_centres()
    kind = np.searchsorted([row.from_grade for row in centres], grade + 1e-9, side="right")
    kind[_above_ground(line)] = 0
    edges = (np.flatnonzero(np.diff(kind)) + 1).tolist()
    found = []
    for first, last in zip([0, *edges], [*edges, kind.size], strict=True):
        if kind[first] == 0:
            continue
        row = centres[int(kind[first]) - 1]
        places, gap = _spaced(station[first : last + 1], height[first : last + 1], row.centres_m)
        steepest = float(grade[first:last].max())
        found.append(_Reach(steepest=steepest, centres_m=row.centres_m, gap_m=gap, places=places))
    return tuple(found)


def _grades(station: FloatArray, height: FloatArray) -> FloatArray:
    """Return the grade of each step, over at least ``CHORD_M`` where the line is that long."""
    middle = (station[:-1] + station[1:]) / 2.0
    half = np.maximum(np.diff(station), CHORD_M) / 2.0
    low, high = np.maximum(middle - half, station[0]), np.minimum(middle + half, station[-1])
    rise = np.interp(high, station, height) - np.interp(low, station, height)
    return np.asarray(np.abs(rise) / (high - low))


def _spaced(
    station: FloatArray, height: FloatArray, centres_m: float
) -> tuple[tuple[float, ...], float]:
    """Return stations at even distances along the slope, both ends among them; that distance."""
    along = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(station), np.diff(height)))))
    gaps = max(1, math.ceil(along[-1] / centres_m - 1e-9))
    inner = np.interp(np.arange(1, gaps) * along[-1] / gaps, along, station)
    return (float(station[0]), *inner.tolist(), float(station[-1])), float(along[-1]) / gaps
