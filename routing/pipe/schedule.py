"""Which pipe lies where along the line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from itertools import pairwise

import numpy as np

from routing.arrays import FloatArray, IntArray, frozen
from routing.errors import PipeError
from routing.pipe.pipe import Pipe
from routing.value import dataclass

__all__ = ["PipeRun", "PipeSchedule", "schedule_pipes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeRun:
    """One pipe from a station to the next joint, or to the end of the line."""

    from_m: float
    to_m: float
    pipe: Pipe


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeSchedule:
    """The pipes along a line, without gap or overlap; a joint belongs to the pipe below it."""

    runs: tuple[PipeRun, ...]
    joints_m: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "joints_m", frozen([run.from_m for run in self.runs[1:]]))

    @property
    def length_m(self) -> float:
        """Return the station at which the last pipe ends."""
        return self.runs[-1].to_m

    def run_index(self, station_m: FloatArray) -> IntArray:
        """Return for each station the number of its run, (n,) int."""
        return np.searchsorted(self.joints_m, station_m, side="right")

    def per_station(self, station_m: FloatArray, name: str) -> FloatArray:
        """Return one of the pipes' numbers at each station, (n,), NaN where a pipe has none."""
        values = [getattr(run.pipe, name) for run in self.runs]
        by_run = np.array([np.nan if value is None else value for value in values])
        return by_run[self.run_index(station_m)]


def schedule_pipes(entries: Sequence[tuple[float, Pipe]], length_m: float) -> PipeSchedule:
    """Return the pipes along a line, each from its station to where the next one begins.

    Parameters
    ----------
    entries : sequence of (float, Pipe)
        Station at which each pipe begins, first 0, strictly rising; and the pipe [m]
    length_m : float
        Plan length of the line, > 0 [m]

    Returns
    -------
    schedule : PipeSchedule
        The runs in order

    Raises
    ------
    PipeError
        If there is no pipe, the first does not begin at 0, the stations do not rise, or a pipe
        begins at or beyond the end of the line.

    Examples
    --------
    >>> from routing.pipe import load_catalogue
    >>> thin, thick = map(load_catalogue().find, ("PE100-SDR26-200", "PE100-SDR17-200"))
    >>> schedule_pipes([(0.0, thin), (310.0, thick)], 842.5).runs[1].to_m
    842.5
    """
    if not entries:
        raise PipeError("No pipe was given.", "Give at least one pipe, from station 0.")
    starts = [station_m for station_m, _ in entries]
    if not all(math.isfinite(station_m) for station_m in starts):
        raise PipeError(
            "The station where a pipe begins is not a number.", 'Give "from" as a length.'
        )
    if starts[0] != 0.0:
        raise PipeError(
            f"The first pipe begins at {starts[0]:g} m.", "Let the first pipe begin at 0 m."
        )
    for before, after in pairwise(starts):
        if after <= before:
            raise PipeError(
                f"A pipe that begins at {after:g} m follows one that begins at {before:g} m.",
                "List the pipes from the intake down, each with a station of its own.",
                station_m=after,
            )
    if starts[-1] >= length_m:
        raise PipeError(
            f"A pipe begins at {starts[-1]:g} m, but the line ends at {length_m:.1f} m.",
            "Take the pipe out, or let it begin before the end of the line.",
            station_m=starts[-1],
        )
    ends = [*starts[1:], float(length_m)]
    return PipeSchedule(
        runs=tuple(
            PipeRun(from_m=float(from_m), to_m=to_m, pipe=pipe)
            for (from_m, pipe), to_m in zip(entries, ends, strict=True)
        )
    )
