"""What levels taken on the ground have settled."""

from __future__ import annotations

from dataclasses import replace

from routing.arrays import FloatArray
from routing.doubt.hedged import hedged
from routing.doubt.likely import is_doubtful
from routing.doubt.line import DoubtedLine, Levels
from routing.doubt.sounding import sound, there
from routing.doubt.trade_data import limits
from routing.value import dataclass

__all__ = ["Question", "questions_settled"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A turn that was doubtful on the raster alone: its chance before the levels and with them."""

    station_m: float
    summit: bool
    before: float
    after: float

    @property
    def answer(self) -> bool | None:
        """Whether the turn is there; None where the levels leave it open."""
        if not is_doubtful(self.after):
            return True
        return False if self.after < limits().unlikely_below else None


def questions_settled(
    line: DoubtedLine, summit_m: FloatArray, sag_m: FloatArray
) -> tuple[Question, ...]:
    """Return what was doubtful of the pipe under the raster alone, and what the levels say of it.

    Parameters
    ----------
    line : DoubtedLine
        The line with its levels; its planned turns are not looked at
    summit_m, sag_m : FloatArray
        Stations of summits and sags of the pipe as planned without the levels, (k,) and (m,) [m]

    Returns
    -------
    questions : tuple of Question
        By station: those whose chance without the levels is below the one at which a fitting is
        bought; none without levels or without a known error
    """
    if not line.levels.station_m.size:
        return ()
    bare = replace(line, levels=Levels(), summit_m=summit_m, sag_m=sag_m)
    drawn, known = sound(bare), sound(line)
    if drawn is None or known is None:
        return ()
    found = []
    for planned, summit in ((bare.summit_m, True), (bare.sag_m, False)):
        before, after = (
            hedged(there(bare, each, summits=summit).mean(axis=1)) for each in (drawn, known)
        )
        found += [
            Question(station_m=at, summit=summit, before=was, after=now)
            for at, was, now in _rows(planned, before, after)
            if is_doubtful(was)
        ]
    return tuple(sorted(found, key=lambda each: each.station_m))


def _rows(*columns: FloatArray) -> list[tuple[float, ...]]:
    return list(zip(*(column.tolist() for column in columns), strict=True))
