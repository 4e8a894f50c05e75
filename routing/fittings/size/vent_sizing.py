"""How wide a vent must be, how tall or how strong, and whether it shuts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from routing.fittings.inputs import FittingInputs, Place, places
from routing.fittings.place.kind import open_vent_levels, vent_kind
from routing.fittings.place.vent import Vent, VentKind
from routing.fittings.requirements import seal_head_m
from routing.fittings.size.breaks import FallingLimb, break_flow_m3_s, limbs_at
from routing.fittings.size.drain_sizing import DrainSize
from routing.fittings.size.drained_limb import DrainedLimb, draining_air_m3_s
from routing.fittings.size.rating import fitting_rating, highest_level_m
from routing.fittings.size.vent_cases import AirCase, vent_air_m3_s, vent_cases
from routing.fittings.size.vent_size import Support, VentSize
from routing.fittings.size.vent_size_words import frost_note, vent_size_text
from routing.fittings.sizes import air_outlet_size, next_nominal, open_vent_sizes
from routing.fittings.sizing_data import sizing, source_of
from routing.fittings.trade_data import limits
from routing.fittings.vacuum import AllowedVacuum, allowed_vacuum
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["DrainsAndLimbs", "size_vents"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainsAndLimbs:
    """What vents must serve: the drains as sized, their limbs, and the limbs of the line.

    ``vents_m`` are the stations that all vents serve [m].
    """

    vents_m: Sequence[float]
    drains: Sequence[DrainSize]
    limbs: Sequence[DrainedLimb]
    falling: tuple[FallingLimb, ...]


def size_vents(
    line: LaidLine, vents: Sequence[Vent], given: FittingInputs, below: DrainsAndLimbs
) -> tuple[VentSize, ...]:
    """Return the size of every vent.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    vents : sequence of Vent
        Its vents as placed
    given : FittingInputs
        The flow, the pressures along the line, the flood at the intake
    below : DrainsAndLimbs
        The drains, whose flows the vents must let in as air, and the limbs for a break

    Returns
    -------
    sizes : tuple of VentSize
        In the order of the vents

    Notes
    -----
    The bore is the widest of the cases and of the table, rounded up to a nominal one; the foot of
    an open vent is never narrower than the vent. The pressure allowed to open it inward is that
    which the weakest pipe beside it stands, at most 34.5 kPa. An open vent ends over the water of
    the flood and of the closing machine; in the emergency it may spill, and what it bears holds
    for that too.

    References
    ----------
    Sources of the numbers are in ``sizing.csv`` and ``limits.csv``.
    """
    at = places(line, [vent.station_m for vent in vents], given.flowing_head_m)
    return tuple(
        _sized(line, given, vent, place, below) for vent, place in zip(vents, at, strict=True)
    )


def _largest_bore_m(line: LaidLine, station_m: float) -> float:
    """Return the bore of the wider pipe at a station."""
    own = line.station_m
    below = int(np.clip(np.searchsorted(own, station_m, side="right") - 1, 0, own.size - 1))
    above = max(int(np.searchsorted(own, station_m, side="left")) - 1, 0)
    return float(line.inside_diameter_m[[above, below]].max())


def _levels(line: LaidLine, given: FittingInputs, place: Place) -> tuple[float, float]:
    """Return what an open vent stands on and ends at, in flood and with the closing machine [m]."""
    highest = max(
        line.levels.intake_m + given.flood_rise_m,
        highest_level_m(line, given.loads.operating_pa, place.station_m),
    )
    return open_vent_levels(line, place, highest)


def _allowed(line: LaidLine, falling: tuple[FallingLimb, ...], station_m: float) -> AllowedVacuum:
    beside = [station_m]
    for limb in limbs_at(falling, station_m):
        beside += [limb.from_m, limb.to_m]
    return allowed_vacuum(line, min(beside), max(beside))


def _cases(
    line: LaidLine,
    given: FittingInputs,
    vent: Vent,
    kind: VentKind,
    *,
    air_m3_s: tuple[float, float],
    vacuum_pa: float,
    open_length_m: float | None,
) -> tuple[AirCase, ...]:
    """Return the cases of one vent; ``air_m3_s`` is that of draining and of a break."""
    numbers = sizing()
    bore = _largest_bore_m(line, vent.station_m)
    fill = numbers.fill_velocity_m_s * 0.25 * math.pi * bore * bore
    released = pressed = None
    if kind == "combination air valve" and given.flow_m3_s and vent.flowing_head_m is not None:
        released = numbers.dissolved_air * given.flow_m3_s
        pressed = line.water.weight_n_m3 * vent.flowing_head_m
    return vent_cases(
        fill_m3_s=None if kind == "vacuum valve" else fill,
        drain_m3_s=air_m3_s[0],
        break_m3_s=air_m3_s[1],
        release_m3_s=released,
        release_pa=pressed,
        vacuum_pa=vacuum_pa,
        altitude_m=vent.pipe_m,
        open_length_m=open_length_m,
    )


def _sized(
    line: LaidLine, given: FittingInputs, vent: Vent, place: Place, below: DrainsAndLimbs
) -> VentSize:
    bore = _largest_bore_m(line, vent.station_m)
    footing, top = _levels(line, given, place)
    kind = vent_kind(vent.rules, top - footing)
    is_open = kind == "open vent"
    size, foot = open_vent_sizes(bore) if is_open else (air_outlet_size(bore), None)
    allowed = _allowed(line, below.falling, vent.station_m)
    bores = {drain.drain_id: drain.bore_m for drain in below.drains}
    length = max(top - vent.pipe_m, 0.0) if is_open else None
    cases = _cases(
        line,
        given,
        vent,
        kind,
        air_m3_s=(
            draining_air_m3_s(line, below.limbs, bores, vent.serves_m, below.vents_m),
            break_flow_m3_s(line, below.falling, vent.serves_m),
        ),
        vacuum_pa=allowed.vacuum_pa,
        open_length_m=length,
    )
    widest = max((each for each in cases if each.name != "release"), key=lambda each: each.bore_m)
    chosen = next_nominal(max(widest.bore_m, size.size_m))
    rating, basis = fitting_rating(line, given, vent.station_m)
    head = vent.flowing_head_m if vent.flowing_head_m is not None else vent.static_head_m
    spill = highest_level_m(line, given.loads.emergency_pa, vent.station_m)
    sized = VentSize(
        vent_id=vent.id,
        station_m=vent.station_m,
        serves_m=vent.serves_m,
        kind=kind,
        cases=cases,
        governing=widest.name if widest.bore_m > size.size_m else "table",
        needed_m=widest.bore_m,
        least_m=size.size_m,
        bore_m=chosen,
        foot_m=None if foot is None else max(foot, chosen),
        release_m=next((case.bore_m for case in cases if case.name == "release"), None),
        capacity_m3_s=vent_air_m3_s(
            bore_m=chosen,
            difference_pa=allowed.vacuum_pa,
            altitude_m=vent.pipe_m,
            open_length_m=length,
            inward=True,
        ),
        allowed_vacuum_pa=allowed.vacuum_pa,
        vacuum_source=allowed.source,
        vacuum_known=allowed.known,
        open_top_m=top if is_open else None,
        open_height_m=top - footing if is_open else None,
        support=_support(top - footing) if is_open else None,
        height_m=top - footing,
        spill_level_m=spill if math.isfinite(spill) else None,
        rating_pa=rating,
        rating_basis=basis,
        seals=None if is_open else head >= seal_head_m(),
        seal_head_m=head,
        frost_note=frost_note(kind) if given.vents_may_freeze else None,
        source=f"least bore: {size.source}; orifice: {source_of('large_orifice_cd')}",
        text="",
    )
    on_pipe = footing > place.ground_m + 1e-6
    return replace(sized, text=vent_size_text(sized, bore, on_pipe, given.units))


def _support(height_m: float) -> Support:
    return "guyed" if height_m > limits().open_height_m else "stands by itself"
