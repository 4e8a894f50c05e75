"""The pipe as built: levels taken on it, carried along the line, and held against the plan."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import field, fields
from pathlib import Path
from typing import Literal

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.check import Check, requirements_of
from routing.errors import InputError
from routing.trench.corridor import Span, TrenchLimits
from routing.trench.laid import LaidPipe, pipe_at_levels
from routing.value import dataclass

__all__ = [
    "BuiltLevels",
    "BuiltTurn",
    "built_assumptions",
    "built_pipe",
    "carry_levels",
    "judge_built",
    "level_tolerance_m",
    "turns_of",
]

asked = requirements_of(Path(__file__).parent)

LEAST_TURN_M = 0.01
"""Turns of a pipe lower than this are those of the levelling, not of the pipe [m]."""
SAME_TURN_M = 25.0
"""A summit or sag within this of a planned one is that one [m]; as for the names of vents."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltLevels:
    """Levels of the centreline as built, and the plan that they are held against.

    ``names`` say at what each level was taken, ``station_m`` and ``level_m`` have shape (k,) in
    order of station, ``planned_station_m`` and ``planned_m`` shape (n,), ``breaks_m`` are the
    stations where the plan's straights meet, ``stick_m`` is a length of pipe [m]. Places that lie
    beside the drawn line have stations ``beside_at_m`` and ``beside_m`` to the right, shape (j,).
    Those of them that nobody levelled, ``assumed_of``, have stations ``assumed_at_m`` and the depth
    ``assumed_depth_m`` of the plan, ground to centreline, shape (a,).
    """

    names: tuple[str, ...]
    station_m: FloatArray
    level_m: FloatArray
    planned_station_m: FloatArray
    planned_m: FloatArray
    breaks_m: FloatArray
    stick_m: float
    beside_at_m: FloatArray = field(default_factory=lambda: np.empty(0))
    beside_m: FloatArray = field(default_factory=lambda: np.empty(0))
    assumed_of: tuple[str | None, ...] = ()
    assumed_at_m: FloatArray = field(default_factory=lambda: np.empty(0))
    assumed_depth_m: FloatArray = field(default_factory=lambda: np.empty(0))

    def __post_init__(self) -> None:
        for each in fields(self):
            if each.name not in ("names", "stick_m", "assumed_of"):
                object.__setattr__(self, each.name, frozen(getattr(self, each.name)))

    @property
    def stations_m(self) -> FloatArray:
        """Every station that the profile needs: where levels were taken or not, straights meet."""
        return np.unique(np.concatenate([self.station_m, self.breaks_m, self.assumed_at_m]))

    @property
    def difference_m(self) -> FloatArray:
        """Level as built less level as planned, (k,) [m]."""
        plan = np.interp(self.station_m, self.planned_station_m, self.planned_m)
        return np.asarray(self.level_m - plan)


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltTurn:
    """A summit or sag that the pipe as built has and the plan has not, or the other way round."""

    turn: Literal["summit", "sag"]
    station_m: float
    height_m: float
    new: bool


def carry_levels(
    station_m: FloatArray,
    planned_m: FloatArray,
    at_m: FloatArray,
    level_m: FloatArray,
    breaks_m: FloatArray,
    stick_m: float,
) -> FloatArray:
    r"""Return the levels of a line of which some places were levelled as built.

    .. math::
        z(s) = z_p(s) + \delta(s), \qquad \delta(s_i) = z_i - z_p(s_i)

    The difference :math:`\delta` from the plan runs straight between the places levelled, and to
    zero at every break of grade of the plan that nobody levelled: a crew lays straights between
    the points that it sets out. A break nearer than a stick to a place levelled follows it, as no
    pipe bends within a stick.

    Parameters
    ----------
    station_m, planned_m : array, shape (n,)
        Stations, strictly rising, and planned levels [m]
    at_m, level_m : array, shape (k,)
        Places levelled, strictly rising, k >= 1, and their levels [m]
    breaks_m : array, shape (b,)
        Where the straights of the plan meet, its ends among them [m]
    stick_m : float
        Length of a stick, >= 0 [m]

    Returns
    -------
    level_m : array, shape (n,)
        Levels as built as far as they are known [m]

    Raises
    ------
    InputError
        If no place was levelled, a level is not finite or the places do not rise.

    Notes
    -----
    Common practice. What lies between two places levelled is not known: level every joint at a
    break of grade and every fitting before backfill.

    Examples
    --------
    >>> s = np.array([0.0, 50.0, 100.0, 150.0, 200.0])
    >>> carry_levels(s, 20.0 - 0.1 * s, np.array([100.0]), np.array([10.3]),
    ...              np.array([0.0, 50.0, 200.0]), 6.0).round(2).tolist()
    [20.0, 15.0, 10.3, 5.15, 0.0]
    """
    if at_m.size == 0 or not np.isfinite(level_m).all() or not (np.diff(at_m) > 0.0).all():
        raise InputError(
            "The levels as built are none, not finite, or not in order of station.",
            "Give at least one record with invert_m, each station once.",
        )
    apart = np.min(np.abs(breaks_m[:, None] - at_m), axis=1, initial=np.inf)
    kept = breaks_m[apart >= max(stick_m, 1e-6)]
    knots = np.concatenate([at_m, kept])
    differs = np.concatenate([level_m - np.interp(at_m, station_m, planned_m), 0.0 * kept])
    order = np.argsort(knots, kind="stable")
    return np.asarray(planned_m + np.interp(station_m, knots[order], differs[order]))


def built_pipe(
    built: BuiltLevels,
    station_m: FloatArray,
    ground_m: FloatArray,
    limits: TrenchLimits,
    spans: Sequence[Span],
) -> LaidPipe:
    """Return the pipe that lies as built under a profile.

    Parameters
    ----------
    built : BuiltLevels
        Levels and plan; its :attr:`~BuiltLevels.stations_m` are stations of the profile
    station_m, ground_m : array, shape (n,)
        The profile [m]
    limits : TrenchLimits
        What was asked of the trench
    spans : sequence of Span
        Stretches above ground

    Returns
    -------
    pipe : LaidPipe
        Whatever the limits say
    """
    planned = np.interp(station_m, built.planned_station_m, built.planned_m)
    assumed = np.interp(built.assumed_at_m, station_m, ground_m) - built.assumed_depth_m
    at = np.concatenate([built.station_m, built.assumed_at_m])
    order = np.argsort(at)
    known = np.concatenate([built.level_m, assumed])[order]
    level = carry_levels(station_m, planned, at[order], known, built.breaks_m, built.stick_m)
    return pipe_at_levels(station_m, ground_m, level, limits, spans)


def turns_of(built: BuiltLevels, pipe: LaidPipe) -> tuple[BuiltTurn, ...]:
    """Return the summits and sags that came or went against the plan, in order of station."""
    from routing.line import find_extremes  # the ground's rasters are not needed to lay a pipe

    now = find_extremes(pipe.station_m, pipe.pipe_m, least_prominence_m=LEAST_TURN_M)
    was = find_extremes(built.planned_station_m, built.planned_m, least_prominence_m=LEAST_TURN_M)
    found = []
    for kind, here, before in zip(("summit", "sag"), now, was, strict=True):
        for each, others, new in ((here, before, True), (before, here, False)):
            taken = [other.station_m for other in others]
            found += [
                BuiltTurn(
                    turn=kind,  # type: ignore[arg-type]
                    station_m=turn.station_m,
                    height_m=turn.prominence_m,
                    new=new,
                )
                for turn in each
                if not any(abs(turn.station_m - at) <= SAME_TURN_M for at in taken)
            ]
    return tuple(sorted(found, key=lambda turn: turn.station_m))


def judge_built(built: BuiltLevels, pipe: LaidPipe) -> tuple[Check, ...]:
    """Return whether levels and line as built are those of the plan, and each new summit or sag."""
    return (
        *((_worst(built),) if built.names else ()),
        *_beside(built),
        *_turns(built, pipe),
    )


def level_tolerance_m() -> float:
    """Return within what a level as built is that of the plan [m]."""
    return asked("built_level").bound


def built_assumptions(built: BuiltLevels) -> tuple[str, ...]:
    """Return what was taken for the levels of places that nobody levelled."""
    if not built.assumed_at_m.size:
        return ()
    pairs = zip(built.assumed_at_m.tolist(), built.assumed_depth_m.tolist(), strict=True)
    told = ", ".join(f"{depth:.2f} m at station {at:.1f} m" for at, depth in pairs)
    return (
        "Found beside the drawn line and not levelled: there the pipe's centre is taken to lie as "
        f"deep below the ground of the raster as planned ({told}). Level it.",
    )


def _beside(built: BuiltLevels) -> Iterator[Check]:
    if not built.beside_m.size:
        return
    worst = int(np.argmax(np.abs(built.beside_m)))
    off, at = float(built.beside_m[worst]), float(built.beside_at_m[worst])
    yield asked("built_place").judge(
        round(abs(off), 6),
        f"The pipe as built lies {abs(off):.1f} m {'right' if off > 0.0 else 'left'} of the drawn "
        f"line at station {at:.1f} m. Read what the study as built says of ground, bends, blocks "
        "and the land crossed there.",
        place="pipe as built",
        station_m=at,
    )


def _worst(built: BuiltLevels) -> Check:
    off = built.difference_m
    worst, allowed = int(np.argmax(np.abs(off))), asked("built_level").bound
    beyond = int(np.count_nonzero(np.abs(off) > allowed + 1e-9))
    side = "above" if off[worst] > 0.0 else "below"
    return asked("built_level").judge(
        round(abs(float(off[worst])), 6),
        f"{beyond} of {off.size} levels as built are off the plan by more than {allowed:.2f} m; "
        f"that at station {built.station_m[worst]:.1f} m lies {abs(off[worst]):.2f} m {side} it. "
        f"Read what the study as built says of vents, drains, "
        "cover and class, or lay it again.",
        place="pipe as built",
        station_m=float(built.station_m[worst]),
    )


def _turns(built: BuiltLevels, pipe: LaidPipe) -> Iterator[Check]:
    limit = pipe.outside_diameter_m / 4.0
    for turn in turns_of(built, pipe):
        if turn.new:
            cure = "a vent" if turn.turn == "summit" else "a drain"
            yield asked("built_turn").judge(
                round(turn.height_m, 6),
                f"As built the pipe has a {turn.turn} of {turn.height_m:.2f} m at station "
                f"{turn.station_m:.1f} m that the plan has not. Set {cure} there, or lay that "
                "stretch again.",
                limit=limit,
                place="pipe as built",
                station_m=turn.station_m,
            )
