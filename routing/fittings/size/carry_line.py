"""Which falling reaches after a summit keep their air while the line runs."""

from __future__ import annotations

import math
from collections.abc import Sequence

from routing.fittings.air_carry import carrying_velocity_m_s, carrying_velocity_sanks_m_s
from routing.fittings.place.vent import Vent
from routing.fittings.size.breaks import FallingLimb, Reach
from routing.fittings.trade_data import limits
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["AirCarry", "air_carried"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AirCarry:
    """One falling reach after a summit: the velocities that carry air down it, and the flow's.

    ``critical_m_s`` and ``sanks_m_s`` are two formulas that disagree; ``carries`` is True where
    the flow is faster than both, None where no flow is known. It never makes a vent needless.
    """

    vent_id: str | None
    from_m: float
    to_m: float
    angle_deg: float
    inside_diameter_m: float
    critical_m_s: float
    sanks_m_s: float
    velocity_m_s: float | None
    carries: bool | None


def air_carried(
    line: LaidLine,
    vents: Sequence[Vent],
    falling: tuple[FallingLimb, ...],
    flow_m3_s: float | None,
) -> tuple[AirCarry, ...]:
    """Return, for every falling reach after a summit, whether the flow takes the air along.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    vents : sequence of Vent
        Its vents, for their names
    falling : tuple of FallingLimb
        The limbs of the line
    flow_m3_s : float or None
        Design flow, where there is one [m3/s]

    Returns
    -------
    reaches : tuple of AirCarry
        The hardest reach between each summit and the low point after it: the one where the flow
        is slowest against what it needs

    Notes
    -----
    Judged on the simplified pipe, for large pockets. A common rule, 1.2 m/s, fails from about
    0.2 m of bore up and is not used.

    References
    ----------
    As :mod:`routing.fittings.air_carry`.
    """
    crests = set(line.station_m[line.pipe.summits].tolist())
    names = {vent.serves_m: vent.id for vent in vents}
    found = []
    for limb in falling:
        if limb.high_m not in crests or limb.low_m < limb.high_m:
            continue
        name = _named(names, limb.high_m)
        reaches = [
            _carry(line, reach, name, flow_m3_s) for reach in limb.reaches if reach.sine > 0.0
        ]
        if reaches:
            found.append(max(reaches, key=_hardness))
    return tuple(found)


def _named(names: dict[float, str], station_m: float) -> str | None:
    near = min(names, key=lambda at: abs(at - station_m), default=None)
    if near is None or abs(near - station_m) >= limits().same_place_m:
        return None
    return names[near]


def _hardness(reach: AirCarry) -> float:
    needed = max(reach.critical_m_s, reach.sanks_m_s)
    return needed / reach.velocity_m_s if reach.velocity_m_s else needed


def _carry(line: LaidLine, reach: Reach, name: str | None, flow_m3_s: float | None) -> AirCarry:
    # The widest pipe of the reach has both the slowest flow and the most to carry.
    bore = float(line.inside_diameter_m[reach.first : reach.last].max())
    angle, gravity = math.asin(min(reach.sine, 1.0)), line.water.gravity_m_s2
    critical = carrying_velocity_m_s(inside_diameter_m=bore, angle_rad=angle, gravity_m_s2=gravity)
    sanks = carrying_velocity_sanks_m_s(
        inside_diameter_m=bore, angle_rad=angle, gravity_m_s2=gravity
    )
    velocity = None
    if flow_m3_s is not None:
        velocity = flow_m3_s / (0.25 * math.pi * bore * bore)
    return AirCarry(
        vent_id=name,
        from_m=reach.from_m,
        to_m=reach.to_m,
        angle_deg=math.degrees(angle),
        inside_diameter_m=bore,
        critical_m_s=critical,
        sanks_m_s=sanks,
        velocity_m_s=velocity,
        carries=None if velocity is None else velocity >= max(critical, sanks),
    )
