"""The pipe as laid: the best grade line of a profile, with all that follows from it alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray, frozen, stretches
from routing.errors import InputError
from routing.finding import Finding
from routing.trench.corridor import SAME_STATION_M, Span, TrenchLimits, build_corridor
from routing.trench.excavation import Excavation, excavate
from routing.trench.grade_line import best_grade_line
from routing.trench.grades import Grade, list_grades, set_straight
from routing.trench.offers import DigOffer, dig_offers
from routing.trench.straight import DRAGGED_PASSES, FULL_PASSES, joined
from routing.value import dataclass

__all__ = ["BelowGrade", "LaidPipe", "below_grades", "lay_pipe", "pipe_at_levels", "turning_points"]

LEVEL_M = 1e-6
"""Steps smaller than this are level ground for a summit or sag [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BelowGrade:
    """A stretch flatter than the least grade asked; ``grade`` is its mean (rising positive)."""

    from_m: float
    to_m: float
    grade: float


@dataclass(frozen=True, kw_only=True)
class LaidPipe:
    """The pipe as laid. Arrays have shape (n,), elevations and lengths in m."""

    station_m: FloatArray
    ground_m: FloatArray
    pipe_m: FloatArray
    """Elevation of the centreline."""
    in_span: BoolArray
    """Stations strictly inside an above-ground span."""
    summits: IntArray
    """Interior high points; a plateau counts at its downstream end."""
    sags: IntArray
    """Interior low points; a level bottom counts at its downstream end."""
    breaks: IntArray
    """Where one straight ends and the next begins, by index, both ends of the line among them."""
    limits: TrenchLimits
    spans: tuple[Span, ...]
    excavation: Excavation
    offers: tuple[DigOffer, ...]
    below_grade: tuple[BelowGrade, ...]
    findings: tuple[Finding, ...]

    @property
    def outside_diameter_m(self) -> float:
        """Outside diameter the trench was made for [m]."""
        return self.limits.outside_diameter_m

    @cached_property
    def slope_station_m(self) -> FloatArray:
        """Distance along the slope of the pipe from the intake, (n,) [m]."""
        steps = np.hypot(np.diff(self.station_m), np.diff(self.pipe_m))
        return frozen(np.concatenate(([0.0], np.cumsum(steps))))

    @cached_property
    def grades(self) -> tuple[Grade, ...]:
        """Consecutive straights of the centreline, from the intake to the end."""
        return list_grades(self.station_m, self.pipe_m, self.breaks)

    @property
    def pipe_length_m(self) -> float:
        """Length along the slope of the pipe [m]."""
        return float(self.slope_station_m[-1])


def lay_pipe(
    station_m: FloatArray,
    ground_m: FloatArray,
    limits: TrenchLimits,
    spans: Sequence[Span] = (),
    *,
    dragging: bool = False,
    offers: bool = True,
) -> LaidPipe:
    """Lay the pipe under a ground profile, in straights.

    The pipe has the fewest summits and sags that the corridor between least cover and greatest
    depth allows (:func:`~routing.trench.grade_line.best_grade_line`), then keeps the least grades
    where it can, then digs least with a price for each break of grade
    (:func:`~routing.trench.straight.straighten`); over a span it is straight.

    Parameters
    ----------
    station_m, ground_m : FloatArray
        Strictly rising stations, elevations of the ground, shape (n,), n >= 2 [m]
    limits : TrenchLimits
        Cover, depth, bedding, diameter, least grades
    spans : sequence of Span
        Above-ground stretches; their ends must be stations of the profile
    dragging : bool
        True tries fewer levels, for a line that is still moving
    offers : bool
        False does without what digging deeper would save

    Returns
    -------
    LaidPipe
        Never outside the corridor, which keeps the cover where the depth allowed is too little;
        :func:`~routing.trench.judge.judge_trench` says what it does not keep

    Raises
    ------
    InputError
        As :func:`~routing.trench.corridor.build_corridor`.

    Examples
    --------
    >>> pipe = lay_pipe(np.array([0.0, 100.0, 120.0, 200.0]), np.array([50.0, 40.0, 43.0, 30.0]),
    ...                 TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3))
    >>> pipe.pipe_m.round(2).tolist(), pipe.summits.tolist(), pipe.sags.tolist()
    ([49.1, 39.1, 42.1, 29.1], [2], [1])
    """
    corridor = build_corridor(station_m, ground_m, limits, spans)
    free = ~corridor.in_span
    s, high, low = station_m[free], corridor.highest_m[free], corridor.lowest_m[free]
    rising, falling = limits.min_grade, limits.min_grade_falling
    line = best_grade_line(s, high, low, rising=rising, falling=falling)
    deeper: tuple[DigOffer, ...] = ()
    if offers:
        needed = limits.cover_at_m(station_m) + limits.outside_diameter_m + limits.bedding_m
        deeper = dig_offers(
            s, high, low, line, needed_m=needed[free], rising=rising, falling=falling
        )
    passes = DRAGGED_PASSES if dragging else FULL_PASSES
    pipe_m, breaks = set_straight(corridor, line, limits, limits.break_price_m3, passes)
    summits, sags = turning_points(pipe_m)
    dug = excavate(
        station_m, ground_m, pipe_m, corridor.in_span,
        outside_diameter_m=limits.outside_diameter_m, bedding_m=limits.bedding_m,
    )  # fmt: skip
    flat = () if line.keeps_grade else below_grades(station_m, pipe_m, limits)
    kept_spans = tuple(span for span in spans if span.from_m < station_m[-1])
    return LaidPipe(
        station_m=frozen(station_m),
        ground_m=frozen(ground_m),
        pipe_m=frozen(pipe_m),
        in_span=corridor.in_span,
        summits=frozen(summits, np.int64),
        sags=frozen(sags, np.int64),
        breaks=frozen(breaks, np.int64),
        limits=limits,
        spans=kept_spans,
        excavation=dug,
        offers=_at_summits(deeper, s[line.summits], station_m[summits]),
        below_grade=flat,
        findings=corridor.findings,
    )


def pipe_at_levels(
    station_m: FloatArray,
    ground_m: FloatArray,
    pipe_m: FloatArray,
    limits: TrenchLimits,
    spans: Sequence[Span] = (),
) -> LaidPipe:
    """Return a pipe that lies at known levels, whatever the limits of the trench would say.

    Parameters
    ----------
    station_m, ground_m, pipe_m : FloatArray
        Strictly rising stations, elevations of ground and centreline, shape (n,), n >= 2 [m]
    limits : TrenchLimits
        Cover, depth, bedding, diameter, least grades
    spans : sequence of Span
        Stretches above ground

    Returns
    -------
    LaidPipe
        Without offers and findings

    Raises
    ------
    InputError
        If the columns differ in number, hold what is not finite, or the stations do not rise.

    Examples
    --------
    >>> limits = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3)
    >>> pipe = pipe_at_levels(np.array([0.0, 50.0, 90.0]), np.array([50.0, 45.0, 46.0]),
    ...                       np.array([49.0, 44.0, 45.0]), limits)
    >>> pipe.sags.tolist(), round(pipe.pipe_length_m, 2)
    ([1], 90.26)
    """
    columns = [np.asarray(each, dtype=np.float64) for each in (station_m, ground_m, pipe_m)]
    station, ground, level = columns
    if station.ndim != 1 or station.size < 2 or len({each.shape for each in columns}) > 1:
        raise InputError(
            f"The line has columns of shapes {[each.shape for each in columns]}.",
            "Give two stations or more, with one ground and one pipe level each.",
        )
    for name, values in zip(("station_m", "ground_m", "pipe_m"), columns, strict=True):
        if not np.isfinite(values).all():
            place = float(station[int(np.argmin(np.isfinite(values)))])
            raise InputError(
                f"{name} is not a finite number at station {place} m.",
                "Give every station a value.",
            )
    if not (np.diff(station) > 0.0).all():
        place = float(station[int(np.argmin(np.diff(station) > 0.0))])
        raise InputError(
            f"The stations do not rise after {place} m.", "Give them in order from the intake."
        )
    free = np.zeros(station.size, dtype=bool)
    for span in spans:
        free |= (station > span.from_m + SAME_STATION_M) & (station < span.to_m - SAME_STATION_M)
    summits, sags = turning_points(level)
    dug = excavate(
        station, ground, level, free,
        outside_diameter_m=limits.outside_diameter_m, bedding_m=limits.bedding_m,
    )  # fmt: skip
    return LaidPipe(
        station_m=frozen(station),
        ground_m=frozen(ground),
        pipe_m=frozen(level),
        in_span=frozen(free, np.bool_),
        summits=frozen(summits, np.int64),
        sags=frozen(sags, np.int64),
        breaks=joined(station, np.arange(station.size), level).breaks,
        limits=limits,
        spans=tuple(span for span in spans if span.from_m < station[-1]),
        excavation=dug,
        offers=(),
        below_grade=below_grades(station, level, limits),
        findings=(),
    )


def _at_summits(
    offers: Sequence[DigOffer], found_m: FloatArray, laid_m: FloatArray
) -> tuple[DigOffer, ...]:
    """Return the offers at the summits of the pipe as laid: straights move a summit a little."""
    if found_m.size != laid_m.size:
        return tuple(offers)
    moved = dict(zip(found_m.tolist(), laid_m.tolist(), strict=True))
    return tuple(replace(offer, station_m=moved[offer.station_m]) for offer in offers)


def turning_points(height_m: FloatArray) -> tuple[IntArray, IntArray]:
    """Return the indices of interior summits and sags; a level stretch counts once.

    A level top or bottom is located at its downstream end.

    >>> turning_points(np.array([3.0, 1.0, 1.0, 2.0, 2.0, 0.0]))
    (array([4]), array([2]))
    """
    step = np.diff(height_m)
    sense = np.where(np.abs(step) < LEVEL_M, 0, np.sign(step)).astype(np.int64)
    moving = np.flatnonzero(sense)
    before, after = sense[moving[:-1]], sense[moving[1:]]
    # The downstream end of a level stretch is the start of the next piece that moves.
    place = moving[1:]
    return place[(before > 0) & (after < 0)], place[(before < 0) & (after > 0)]


def below_grades(
    station_m: FloatArray, pipe_m: FloatArray, limits: TrenchLimits
) -> tuple[BelowGrade, ...]:
    """Return the stretches flatter than the least grades."""
    run, rise = np.diff(station_m), np.diff(pipe_m)
    least = np.where(rise > 0.0, limits.min_grade, limits.min_grade_falling)
    flat = np.abs(rise) < least * run - 1e-6
    return tuple(
        BelowGrade(
            from_m=float(station_m[a]),
            to_m=float(station_m[b + 1]),
            grade=float((pipe_m[b + 1] - pipe_m[a]) / (station_m[b + 1] - station_m[a])),
        )
        for a, b in stretches(flat)
    )
