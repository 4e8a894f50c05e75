"""The corridor: how high and how low the centreline of the pipe may lie at each station."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from routing.arrays import BoolArray, FloatArray, frozen
from routing.errors import InputError
from routing.finding import Finding
from routing.trade_table import pairs_of
from routing.value import dataclass

__all__ = [
    "DEFAULT_MAX_DEPTH_M",
    "Corridor",
    "LimitStretch",
    "Span",
    "TrenchLimits",
    "build_corridor",
    "least_cover_m",
]

DEFAULT_MAX_DEPTH_M = 1.2
"""Trench depth that people may enter unshored by the strictest of three national rules [m]: 1.2 m
British Columbia (Occupational Health and Safety Regulation 20.81), 1.5 m United States, 2.0 m
Norway."""


SAME_STATION_M = 1e-6
"""Stations nearer than this are one place [m]."""


def least_cover_m(outside_diameter_m: float) -> float:
    """Return the usual least cover over a buried pipe, by its outside diameter [1]_.

    Parameters
    ----------
    outside_diameter_m : float
        Outside diameter, > 0 [m]

    Returns
    -------
    cover_m : float
        Ground to crown [m]

    Notes
    -----
    Under roads 0.9 m and a check of wheel loads are usual; frost may ask for more. From memory of
    the publication.

    References
    ----------
    .. [1] Natural Resources Conservation Service. *Conservation practice standard 430, irrigation
       pipeline*.

    Examples
    --------
    >>> least_cover_m(0.16828)
    0.76
    """
    rules = pairs_of(__file__, "cover.csv", "up_to_m", "cover_m")
    return next(cover for up_to, cover in rules if outside_diameter_m <= up_to)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitStretch:
    """Limits of a stretch of the trench, by station [m]; None: as on the whole line."""

    from_m: float
    to_m: float
    max_depth_m: float | None = None
    cover_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrenchLimits:
    """What the trench must keep to; lengths in m, grades as rise over plan length [-].

    ``break_price_m3`` is the digging that one break of grade may save, ``usual_break_m3`` what that
    usually is for such pipe, ``least_piece_m`` the shortest straight wanted.
    ``stretches`` have limits of their own; no two overlap.
    """

    outside_diameter_m: float
    cover_m: float
    max_depth_m: float
    bedding_m: float = 0.1
    min_grade: float = 0.002
    min_grade_falling: float = 1.0 / 300.0
    stretches: tuple[LimitStretch, ...] = ()
    break_price_m3: float = 0.5
    usual_break_m3: float = 0.5
    least_piece_m: float = 3.0

    def __post_init__(self) -> None:
        checks = (
            ("outside diameter", self.outside_diameter_m, 0.0, False),
            ("trench.cover", self.cover_m, 0.0, True),
            ("trench.max_depth", self.max_depth_m, 0.0, False),
            ("trench.bedding", self.bedding_m, 0.0, True),
            ("trench.min_grade", self.min_grade, 0.0, True),
            ("trench.min_grade_falling", self.min_grade_falling, 0.0, True),
            ("trench.break_price", self.break_price_m3, 0.0, True),
            ("trench.least_piece", self.least_piece_m, 0.0, True),
        )
        for name, value, least, may_equal in checks:
            if not (np.isfinite(value) and (value > least or (may_equal and value == least))):
                raise InputError(
                    f"{name} = {value} is out of range.",
                    f"Give a value {'of at least' if may_equal else 'above'} {least:g}.",
                )

        for before, after in pairwise(sorted(self.stretches, key=lambda each: each.from_m)):
            if after.from_m < before.to_m:
                raise InputError(
                    f"trench.limit: the stretch from {after.from_m:g} m overlaps the one that ends "
                    f"at {before.to_m:g} m.",
                    "Join the two or move one.",
                )

    def cover_at_m(self, station_m: FloatArray) -> FloatArray:
        """Return the least cover at each station [m]; where two meet, the greater."""
        return self._at(station_m, self.cover_m, "cover_m", np.maximum)

    def max_depth_at_m(self, station_m: FloatArray) -> FloatArray:
        """Return the greatest depth at each station [m]; where two meet, the smaller."""
        return self._at(station_m, self.max_depth_m, "max_depth_m", np.minimum)

    def _at(self, station_m: FloatArray, usual: float, name: str, stricter: np.ufunc) -> FloatArray:
        # The end of a stretch belongs to both sides, so the stricter of the two holds there.
        before, after = (np.full(station_m.shape, usual) for _ in range(2))
        for stretch in self.stretches:
            own = getattr(stretch, name)
            if own is not None:
                first, last = stretch.from_m - SAME_STATION_M, stretch.to_m + SAME_STATION_M
                end = 2.0 * SAME_STATION_M
                before[(station_m > first + end) & (station_m < last)] = own
                after[(station_m > first) & (station_m < last - end)] = own
        before[0], after[-1] = after[0], before[-1]
        return np.asarray(stricter(before, after), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch where the pipe runs straight above ground, by station [m].

    ``support_spacing_m`` is the distance between its supports, None where it is clear;
    ``rope_sag_m`` the sag of the ropes that it hangs from, None where it stands on supports.
    """

    from_m: float
    to_m: float
    support_spacing_m: float | None = None
    rope_sag_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Corridor:
    """Highest and lowest allowed centreline elevation at each station.

    Arrays have shape (n,). Strictly inside a span (``in_span``) the two are without meaning: the
    pipe is straight there.
    """

    station_m: FloatArray
    highest_m: FloatArray
    lowest_m: FloatArray
    in_span: BoolArray
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        for name in ("station_m", "highest_m", "lowest_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))
        object.__setattr__(self, "in_span", frozen(self.in_span, np.bool_))


def build_corridor(
    station_m: FloatArray,
    ground_m: FloatArray,
    limits: TrenchLimits,
    spans: Sequence[Span] = (),
) -> Corridor:
    """Return the corridor between least cover and greatest depth.

    The centreline lies at least ``cover + OD/2`` below ground, and the trench bottom
    (``OD/2 + bedding`` below the centreline) at most ``max_depth`` below it, each by the limits of
    its stretch. Where cover, pipe and bedding together need more than ``max_depth``, cover is kept,
    the depth limit gives way and the finding ``cover_governs`` says so.

    Parameters
    ----------
    station_m, ground_m : FloatArray
        Strictly rising stations and ground elevations, shape (n,), n >= 2 [m]
    limits : TrenchLimits
        Cover, depth, bedding, diameter
    spans : sequence of Span
        Above-ground stretches; their ends must be stations

    Returns
    -------
    Corridor
        Arrays of shape (n,) [m]

    Raises
    ------
    InputError
        Fewer than two stations, stations not rising, elevations not finite, or spans that overlap.
    """
    station_m, ground_m = frozen(station_m), frozen(ground_m)
    if station_m.size < 2 or station_m.shape != ground_m.shape:
        raise InputError(
            f"A profile of {station_m.size} stations is no profile.", "Draw a longer line."
        )
    if not np.all(np.diff(station_m) > 0.0):
        at = int(np.argmin(np.diff(station_m)))
        raise InputError(
            f"Stations must rise, but {station_m[at + 1]} follows {station_m[at]}.",
            "Sort the profile by station and drop doubled stations.",
        )
    if not np.all(np.isfinite(ground_m)):
        at = int(np.flatnonzero(~np.isfinite(ground_m))[0])
        raise InputError(
            f"The ground elevation at station {station_m[at]:.1f} m is missing.",
            "Fill the gap before the pipe is laid.",
            station_m=float(station_m[at]),
        )
    findings: list[Finding] = []
    half = limits.outside_diameter_m / 2.0
    cover, depth = limits.cover_at_m(station_m), limits.max_depth_at_m(station_m)
    highest = ground_m - cover - half
    lowest = np.minimum(ground_m - depth + limits.bedding_m + half, highest)
    findings += _limits_outside(limits, float(station_m[-1]))
    in_span = np.zeros(station_m.size, dtype=np.bool_)
    for span in _checked(spans, float(station_m[-1]), findings):
        in_span |= (station_m > span.from_m + SAME_STATION_M) & (
            station_m < span.to_m - SAME_STATION_M
        )
    return Corridor(
        station_m=station_m,
        highest_m=highest,
        lowest_m=lowest,
        in_span=in_span,
        findings=tuple(findings),
    )


def _limits_outside(limits: TrenchLimits, length_m: float) -> list[Finding]:
    """Return a warning for each stretch of limits that reaches beyond the line."""
    return [
        Finding(
            code="limit_outside_line",
            severity="warning",
            message=(
                f"The limits from {each.from_m:g} m to {each.to_m:g} m under [[trench.limit]] "
                f"reach beyond the end of the line at {length_m:.1f} m; only their part on the "
                "line counts. Correct the stations."
            ),
            station_m=length_m,
        )
        for each in limits.stretches
        if each.to_m > length_m + SAME_STATION_M
    ]


def _checked(spans: Sequence[Span], length_m: float, findings: list[Finding]) -> list[Span]:
    """Return the spans cut to the line, in order; complain of those that cannot be."""
    good: list[Span] = []
    for span in sorted(spans, key=lambda s: s.from_m):
        if not (0.0 <= span.from_m < span.to_m):
            raise InputError(
                f"The span from {span.from_m:g} m to {span.to_m:g} m has no length.",
                "Give from and to as rising stations within the line.",
            )
        if good and span.from_m < good[-1].to_m:
            raise InputError(
                f"The span from {span.from_m:g} m overlaps the one that ends at "
                f"{good[-1].to_m:g} m.",
                "Join the two or move one.",
            )
        if span.to_m > length_m + 1e-6:
            findings.append(
                Finding(
                    code="span_outside_line",
                    severity="warning",
                    message=(
                        f"The span from {span.from_m:g} m to {span.to_m:g} m reaches beyond the "
                        f"end of the line at {length_m:.1f} m; only its part on the line counts. "
                        "Correct the stations of the span."
                    ),
                    station_m=length_m,
                )
            )
            if span.from_m >= length_m:
                continue
            span = replace(span, to_m=length_m)
        good.append(span)
    return good
