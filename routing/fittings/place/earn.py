"""Which advised places lose something measurable, and what each vent of a line saves."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import FloatArray
from routing.fittings.inputs import FittingInputs
from routing.fittings.place.lost import gathered_air, vacuum_without
from routing.fittings.place.vent import Lost
from routing.fittings.place.wish import Wish
from routing.fittings.trade_data import limits
from routing.fittings.volume import cumulative_volume
from routing.laid_line import LaidLine

__all__ = ["that_earn"]


def that_earn(
    line: LaidLine, given: FittingInputs, needed: list[Wish], advised: list[Wish]
) -> tuple[list[Wish], dict[int, Lost]]:
    """Return the advised places that lose something measurable, and what each vent saves.

    The place that saves most is taken first; every other one is then judged beside it.
    """
    firm = sorted(wish.station_m for wish in needed)
    chosen: list[Wish] = []
    losses: dict[int, Lost] = {}
    open_to = list(advised)
    found = {id(wish): _lost(line, given, wish, firm) for wish in open_to}
    while open_to:
        best = max(open_to, key=lambda wish: _worth(found[id(wish)]))
        if _worth(found[id(best)]) <= (0.0, 0.0):
            break
        chosen.append(best)
        losses[id(best)] = found[id(best)]
        before, after = _neighbours(firm, best.station_m)
        firm = sorted((*firm, best.station_m))
        open_to.remove(best)
        for wish in open_to:
            if before < wish.station_m < after:
                found[id(wish)] = _lost(line, given, wish, firm)
    stay = sorted(wish.station_m for wish in (*needed, *chosen))
    losses |= {id(wish): _lost(line, given, wish, stay) for wish in needed}
    return chosen, losses


def _neighbours(stations_m: list[float], at_m: float) -> tuple[float, float]:
    before = max((each for each in stations_m if each < at_m), default=-math.inf)
    return before, min((each for each in stations_m if each > at_m), default=math.inf)


def _worth(lost: Lost) -> tuple[float, float]:
    """Return the measurable loss: vacuum beyond what the pipe stands, then head."""
    head = lost.head_m if lost.head_m >= limits().held_head_m else 0.0
    return lost.over_vacuum_pa, head


def _lost(line: LaidLine, given: FittingInputs, wish: Wish, others_m: list[float]) -> Lost:
    drawn, allowed = vacuum_without(line, wish.station_m, others_m)
    air, head = 0.0, 0.0
    if wish.index is not None:
        air, head = _summit_air(line, wish.index)
    elif wish.change is not None:
        _, after = _neighbours(others_m, wish.station_m)
        air, head = gathered_air(line, wish.change, given.flow_m3_s, after)
    return Lost(air_m3=air, head_m=head, vacuum_pa=drawn, allowed_pa=allowed)


def _summit_air(line: LaidLine, index: int) -> tuple[float, float]:
    """Return the air that a summit seals in while filling, down to its sag, and that fall."""
    lows = np.concatenate((line.pipe.sags, [line.station_m.size - 1]))
    low = int(lows[np.searchsorted(lows, index)])
    volume = line.once(_volume)
    fall = float(line.pipe_m[index] - line.pipe_m[low])
    if low == line.station_m.size - 1:
        # The last limb is open at its end.
        return 0.0, 0.0
    return float(volume[low] - volume[index]), fall


def _volume(line: LaidLine) -> FloatArray:
    return cumulative_volume(line.slope_station_m, line.inside_diameter_m)
