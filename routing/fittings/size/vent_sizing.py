"""How wide a vent must be, how tall or how strong, and whether it shuts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from routing.fittings.place.inputs import Place
from routing.fittings.place.vent import Vent, VentKind
from routing.fittings.place.vents import open_vent_levels, valve_kind
from routing.fittings.size.breaks import FallingLimb, break_flow_m3_s, limbs_at
from routing.fittings.size.drain_sizing import DrainedLimb, DrainSize, draining_air_m3_s
from routing.fittings.size.sizing_inputs import SizingInputs
from routing.fittings.size.vent_cases import AirCase, vent_capacity_m3_s, vent_cases
from routing.fittings.size.vent_size import Support, VentSize
from routing.fittings.size.vent_size_words import frost_note, vent_size_text
from routing.fittings.sizes import air_outlet_size, next_nominal, open_vent_sizes
from routing.fittings.sizing_data import sizing, source_of
from routing.fittings.trade_data import limits

__all__ = ["Support", "VentSize", "size_vents"]


def size_vents(
    inputs: SizingInputs,
    drains: Sequence[DrainSize],
    limbs: Sequence[DrainedLimb],
    falling: tuple[FallingLimb, ...],
) -> tuple[VentSize, ...]:
    """Return the size of every vent.

    Parameters
    ----------
    inputs : SizingInputs
        The line with its vents
    drains : sequence of DrainSize
        The drains, whose flows the vents must let in as air
    limbs : sequence of DrainedLimb
        The limbs that run to the drains
    falling : tuple of FallingLimb
        The limbs of the line, for a break below a vent

    Returns
    -------
    sizes : tuple of VentSize
        In the order of the vents

    Notes
    -----
    The bore is the widest of the cases and of the table, rounded up to a nominal one. The pressure
    allowed to open it inward is that which the weakest pipe beside it stands, at most 34.5 kPa.

    References
    ----------
    Sources of the numbers are in ``sizing.csv`` and ``limits.csv``.
    """
    bores = {drain.drain_id: drain.bore_m for drain in drains}
    places = inputs.line.places([vent.station_m for vent in inputs.vents])
    return tuple(
        _sized(inputs, vent, place, falling, bores, limbs)
        for vent, place in zip(inputs.vents, places, strict=True)
    )


def _open_levels(inputs: SizingInputs, place: Place) -> tuple[float, float]:
    """Return the elevations [m] an open vent stands on and ends at, in flood and surge."""
    footing, top = open_vent_levels(inputs.line, place)
    freeboard = limits().freeboard_m
    highest = max(
        inputs.line.intake_level_m + inputs.flood_rise_m, inputs.surge_head_m(place.station_m)
    )
    return footing, max(top, highest + freeboard)


def _kind(inputs: SizingInputs, vent: Vent, height_m: float) -> VentKind:
    if vent.kind == "open vent" and height_m > limits().guyed_height_m:
        return valve_kind(vent.rules)
    return vent.kind


def _rating(inputs: SizingInputs, place: Place) -> tuple[float, str]:
    """Return the pressure [Pa] that a vent must bear, and what sets it."""
    water = inputs.line.water
    weight = water.weight_n_m3
    found = [(weight * (place.static_head_m + inputs.flood_rise_m), "static pressure")]
    if inputs.flood_rise_m > 0.0:
        found = [(found[0][0], "static pressure at flood level")]
    for values, name in (
        (inputs.surge_highest_pa, "static pressure and surge"),
        (inputs.test_pa, "test pressure"),
    ):
        if values is not None:
            at = float(np.interp(place.station_m, inputs.line.station_m, values))
            found.append((at, name))
    pressure, basis = max(found)
    if inputs.surge_highest_pa is None:
        basis += "; surge not computed, add it"
    if inputs.test_pa is None:
        basis += "; not less than the test pressure"
    return max(pressure, 0.0), basis


def _largest_bore_m(inputs: SizingInputs, station_m: float) -> float:
    """Return the bore of the wider pipe at a station."""
    own = inputs.line.station_m
    below = int(np.clip(np.searchsorted(own, station_m, side="right") - 1, 0, own.size - 1))
    above = max(int(np.searchsorted(own, station_m, side="left")) - 1, 0)
    return float(inputs.line.inside_diameter_m[[above, below]].max())


def _cases(
    inputs: SizingInputs,
    vent: Vent,
    kind: VentKind,
    *,
    air_m3_s: tuple[float, float],
    vacuum_pa: float,
    open_length_m: float | None,
) -> tuple[AirCase, ...]:
    """Return the cases of one vent; ``air_m3_s`` is that of draining and of a break."""
    numbers, water = sizing(), inputs.line.water
    bore = _largest_bore_m(inputs, vent.station_m)
    fill = numbers.fill_velocity_m_s * 0.25 * math.pi * bore * bore
    released = pressed = None
    if kind == "combination air valve" and inputs.flow_m3_s and vent.flowing_head_m is not None:
        released = numbers.dissolved_air * inputs.flow_m3_s
        pressed = water.weight_n_m3 * vent.flowing_head_m
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
    inputs: SizingInputs,
    vent: Vent,
    place: Place,
    falling: tuple[FallingLimb, ...],
    drain_bores: dict[str, float],
    limbs: Sequence[DrainedLimb],
) -> VentSize:
    numbers, bore = limits(), _largest_bore_m(inputs, vent.station_m)
    footing, top = _open_levels(inputs, place)
    kind = _kind(inputs, vent, top - footing)
    is_open = kind == "open vent"
    size, foot = open_vent_sizes(bore) if is_open else (air_outlet_size(bore), None)
    beside = [vent.station_m]
    for limb in limbs_at(falling, vent.station_m):
        beside += [limb.from_m, limb.to_m]
    allowed = inputs.vacuum(min(beside), max(beside))
    draining = draining_air_m3_s(inputs, limbs, drain_bores, vent.station_m, numbers.same_place_m)
    length = max(top - vent.pipe_m, 0.0) if is_open else None
    cases = _cases(
        inputs,
        vent,
        kind,
        air_m3_s=(draining, break_flow_m3_s(inputs, falling, vent.station_m)),
        vacuum_pa=allowed.vacuum_pa,
        open_length_m=length,
    )
    large = [case for case in cases if case.name != "release"]
    widest = max(large, key=lambda case: case.bore_m)
    chosen = next_nominal(max(widest.bore_m, size.size_m))
    rating, basis = _rating(inputs, place)
    head = vent.flowing_head_m if vent.flowing_head_m is not None else vent.static_head_m
    sized = VentSize(
        vent_id=vent.id,
        station_m=vent.station_m,
        kind=kind,
        cases=cases,
        governing=widest.name if widest.bore_m > size.size_m else "table",
        needed_m=widest.bore_m,
        least_m=size.size_m,
        bore_m=chosen,
        foot_m=None if foot is None else max(foot, chosen),
        release_m=next((case.bore_m for case in cases if case.name == "release"), None),
        capacity_m3_s=vent_capacity_m3_s(
            bore_m=chosen,
            vacuum_pa=allowed.vacuum_pa,
            altitude_m=vent.pipe_m,
            open_length_m=length,
        ),
        allowed_vacuum_pa=allowed.vacuum_pa,
        vacuum_source=allowed.source,
        vacuum_known=allowed.known,
        open_top_m=top if is_open else None,
        open_height_m=top - footing if is_open else None,
        support=_support(top - footing) if is_open else None,
        rating_pa=rating,
        rating_basis=basis,
        seals=None if is_open else head >= numbers.seal_head_m,
        seal_head_m=head,
        frost_note=frost_note(kind) if inputs.vents_may_freeze else None,
        source=f"least bore: {size.source}; orifice: {source_of('large_orifice_cd')}",
        text="",
    )
    return _worded(inputs, sized)


def _support(height_m: float) -> Support:
    return "guyed" if height_m > limits().open_height_m else "stands by itself"


def _worded(inputs: SizingInputs, size: VentSize) -> VentSize:
    return replace(size, text=vent_size_text(size, inputs.line.units))
