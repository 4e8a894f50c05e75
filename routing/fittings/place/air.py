"""Air that an unvented line seals in while it is filled from the top."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from routing.fittings.place.ends import falls_to_end
from routing.fittings.place.vent import Vent
from routing.fittings.trade_data import limits
from routing.fittings.volume import cumulative_volume
from routing.flow import atmosphere_pa
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["AirPocket", "AirVerdict", "air_verdict", "trapped_air"]

AirVerdict = Literal["will not start", "starts slowly", "clear"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AirPocket:
    """What it takes to push water over one crest past the air trapped before it."""

    vent_id: str | None
    station_m: float
    needed_m: float
    available_m: float
    compressed_m: float
    verdict: AirVerdict


def air_verdict(needed_m: float, available_m: float) -> AirVerdict:
    """Return whether a line starts, from the head it needs and the head it has.

    Parameters
    ----------
    needed_m : float
        Head that the trapped air holds back, >= 0 [m]
    available_m : float
        Intake level above the crest [m]

    Returns
    -------
    verdict : str
        "will not start" from 100 %, "starts slowly" from 30 % of the available head, or "clear"

    Notes
    -----
    Common practice, no source.

    Examples
    --------
    >>> air_verdict(26.0, 22.0), air_verdict(10.0, 22.0), air_verdict(0.0, 22.0)
    ('will not start', 'starts slowly', 'clear')
    """
    if needed_m >= available_m:
        return "will not start"
    return "starts slowly" if needed_m >= limits().slow_from * available_m else "clear"


def trapped_air(line: LaidLine, vents: Sequence[Vent] = ()) -> tuple[AirPocket, ...]:
    r"""Return, for every summit, the head that air trapped before it would hold back.

    .. math::
        h_k = \sum_{j<k} (z_j - z_{low,j}), \quad a_k = z_{intake} - z_k

    Parameters
    ----------
    line : LaidLine
        The line as laid
    vents : sequence of Vent
        Used only to name the summits; the line is judged as if it had no vents

    Returns
    -------
    pockets : tuple of AirPocket
        One per summit in order of station: head needed to push water over it, head available for
        that, and the head needed once the air has been compressed, all in m of water. A line that
        rises to its end has the outlet as its last crest.

    Notes
    -----
    A line filled from the top seals the air of each falling limb between a summit and the low
    point after it. The head to push water over summit k is the sum of those falls before it. What
    is available is the height of the intake level over that summit and not the fall to the
    outlet: the open last limb gives no suction while it is empty.

    ``compressed_m`` lets each pocket shrink at constant temperature from the pressure of the air
    at its summit's altitude to the pressure that the intake puts on it, by the volume of its own
    limb; water fills the limb from below. It is the better estimate where it is the smaller, but
    the verdict stays with the uncompressed sum.

    Checked by ``tests/reference/test_trapped_air.py`` and against a filling simulated step by
    step in ``tests/routing/fittings/test_air.py``.

    References
    ----------
    The mechanism: livestock watering factsheet 590.304-5 of British Columbia. Limits: common
    practice, no source.
    """
    crests = line.pipe.summits.tolist()
    last = line.station_m.size - 1
    if crests and not falls_to_end(line):
        crests.append(last)
    names = {vent.serves_m: vent.id for vent in vents}
    volume = cumulative_volume(line.slope_station_m, line.inside_diameter_m)
    weight = line.water.weight_n_m3
    needed = held = 0.0
    pockets: list[AirPocket] = []
    for k, crest in enumerate(crests):
        top = float(line.pipe_m[crest])
        if crest == last:
            # A riser beyond the end of the pipe must be filled as well.
            top = max(top, line.levels.outlet_m)
        available = line.levels.intake_m - top
        station = float(line.station_m[crest])
        pockets.append(
            AirPocket(
                vent_id=names.get(station),
                station_m=station,
                needed_m=needed,
                available_m=available,
                compressed_m=held,
                verdict=air_verdict(needed, available),
            )
        )
        if crest == last:
            break
        limb = slice(crest, crests[k + 1] + 1 if k + 1 < len(crests) else last + 1)
        low = crest + int(line.pipe_m[limb].argmin())
        needed += top - float(line.pipe_m[low])
        air = float(atmosphere_pa(top)) / weight
        share = air / (air + max(available - held, 0.0))
        sealed = float(volume[low] - volume[crest])
        part = slice(crest, low + 1)
        end = np.interp(volume[crest] + share * sealed, volume[part], line.pipe_m[part])
        held += top - float(end)
    return tuple(pockets)
