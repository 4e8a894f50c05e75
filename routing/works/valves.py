"""Isolating valves: those that were asked for, and those that a line of this kind needs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from routing.arrays import IntArray
from routing.laid_line import LaidLine
from routing.value import dataclass
from routing.works.trade_data import number

__all__ = ["IsolatingValve", "place_valves", "with_section_valves"]

Place = Literal["intake", "powerhouse", "stream bank", "branch", "test section", "as given"]

_WHY: dict[Place, str] = {
    "intake": "Shuts the water off: nobody works on a line that cannot be shut.",
    "powerhouse": "Shuts the line off from the machine.",
    "stream bank": "Shuts the crossing off from both banks if the stream takes the pipe.",
    "branch": "On the branch: shuts it off without emptying the line.",
    "test section": "Ends a section of the pressure test; a blanked joint serves as well.",
    "as given": "Asked for in the settings.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class IsolatingValve:
    """A valve that shuts: where, at what kind of place, why; and whether the tool proposes it."""

    station_m: float
    place: Place
    proposed: bool = True

    @property
    def reason(self) -> str:
        """Return in words what it is for."""
        return _WHY[self.place]

    @property
    def in_line(self) -> bool:
        """Whether it stands in the line between its ends, so that shut it holds pressure there."""
        return self.place in ("stream bank", "as given")


def place_valves(
    line: LaidLine,
    given_m: Sequence[float] = (),
    streams_m: Sequence[tuple[float, float]] = (),
    branches_m: Sequence[float] = (),
) -> tuple[IsolatingValve, ...]:
    """Return the isolating valves of a line, those given and those proposed [1]_.

    Parameters
    ----------
    line : LaidLine
        The line as laid
    given_m : sequence of float
        Stations of valves in the settings [m]
    streams_m : sequence of (from, to)
        Stretches in which the line crosses streams [m]
    branches_m : sequence of float
        Stations where branches leave [m]

    Returns
    -------
    valves : tuple of IsolatingValve
        By station: at the intake, the powerhouse and each branch, and on both banks of each stream
        wider than ``stream_width_m``, as far from it as ``bank_m``; none where one is given nearer
        than that, or in a span above ground

    Notes
    -----
    The table of numbers is ``data/works.csv``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 100.0, 115.0, 120.0, 300.0], [50.0, 30.0, 28.0, 27.5, 10.0],
    ...                    "PE100-SDR17-200", intake_m=51.0)
    >>> [(each.station_m, each.place) for each in place_valves(line, streams_m=[(105.0, 112.0)])]
    [(0.0, 'intake'), (100.0, 'stream bank'), (120.0, 'stream bank'), (300.0, 'powerhouse')]

    References
    ----------
    .. [1] Natural Resources Conservation Service. *Conservation practice standard 430, irrigation
       pipeline*: valves beside streams, seen second-hand; the rest common practice.
    """
    end, clear = float(line.station_m[-1]), number("bank_m")
    wanted: list[tuple[float, Place]] = [(0.0, "intake"), (end, "powerhouse")]
    for start, stop in streams_m:
        if stop - start > number("stream_width_m"):
            wanted += [(_up(line, start - clear), "stream bank")]
            wanted += [(_down(line, stop + clear), "stream bank")]
    wanted += [(at, "branch") for at in branches_m]
    found = [IsolatingValve(station_m=at, place="as given", proposed=False) for at in given_m]
    for at, place in wanted:
        inside = place == "stream bank" and not clear <= at <= end - clear
        taken = any(abs(at - other.station_m) < clear for other in found if other.in_line)
        if not inside and not (taken and place != "branch"):
            found.append(IsolatingValve(station_m=at, place=place))
    return tuple(sorted(found, key=lambda valve: valve.station_m))


def with_section_valves(
    valves: Sequence[IsolatingValve], cuts_m: Sequence[float]
) -> tuple[IsolatingValve, ...]:
    """Return valves with one more at each end of a test section that has none yet."""
    found = list(valves)
    for at in sorted(set(cuts_m)):
        if all(abs(at - other.station_m) >= 1.0 for other in found):
            found.append(IsolatingValve(station_m=at, place="test section"))
    return tuple(sorted(found, key=lambda valve: valve.station_m))


def _free(line: LaidLine) -> IntArray:
    return np.flatnonzero(~line.pipe.in_span)


def _up(line: LaidLine, at: float) -> float:
    """Return the buried station at a place or the next one up the line."""
    free = line.station_m[_free(line)]
    return float(free[max(int(np.searchsorted(free, at + 1e-6, side="right")) - 1, 0)])


def _down(line: LaidLine, at: float) -> float:
    """Return the buried station at a place or the next one down the line."""
    free = line.station_m[_free(line)]
    return float(free[min(int(np.searchsorted(free, at - 1e-6)), free.size - 1)])
