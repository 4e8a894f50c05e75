"""Vents, drains and trapped air: what a laid pipe needs so that it fills, runs and empties.

``place`` says where they stand, by which rule and what is lost without them, ``size`` what they
must be, ``frost`` what the cold does.
"""

from __future__ import annotations

from routing.fittings.frost.cold_line import ColdCheck, ColdSpan, FrostData, check_cold
from routing.fittings.inputs import FittingInputs, GivenRelief, Loads
from routing.fittings.place.air import AirPocket, air_verdict, trapped_air
from routing.fittings.place.drains import Drain, place_drains
from routing.fittings.place.findings import placing_checks, placing_notes
from routing.fittings.place.prominence import summit_standing
from routing.fittings.place.vent import Advised, Lost, Vent
from routing.fittings.place.vents import PlacedVents, place_vents
from routing.fittings.size.carry_line import AirCarry
from routing.fittings.size.drain_sizing import DrainSize, LimbDrain, flush_head_m
from routing.fittings.size.limb import drain_constant
from routing.fittings.size.rating import fitting_rating
from routing.fittings.size.relief import ReliefValve, size_relief_valve
from routing.fittings.size.relief_valves import PlacedRelief
from routing.fittings.size.sized import SizedFittings, size_fittings
from routing.fittings.size.vent_cases import AirCase, vent_air_m3_s
from routing.fittings.size.vent_size import VentSize
from routing.fittings.sizes import (
    air_outlet_size,
    drain_size,
    flush_size,
    open_vent_sizes,
    size_text,
    sold_inches,
)
from routing.fittings.sizing_data import sizing
from routing.fittings.trade_data import fitting_rules

__all__ = [
    "Advised",
    "AirCarry",
    "AirCase",
    "AirPocket",
    "ColdCheck",
    "ColdSpan",
    "Drain",
    "DrainSize",
    "FittingInputs",
    "FrostData",
    "GivenRelief",
    "LimbDrain",
    "Loads",
    "Lost",
    "PlacedRelief",
    "PlacedVents",
    "ReliefValve",
    "SizedFittings",
    "Vent",
    "VentSize",
    "air_outlet_size",
    "air_verdict",
    "check_cold",
    "drain_constant",
    "drain_size",
    "fitting_rating",
    "fitting_rules",
    "flush_head_m",
    "flush_size",
    "open_vent_sizes",
    "place_drains",
    "place_vents",
    "placing_checks",
    "placing_notes",
    "size_fittings",
    "size_relief_valve",
    "size_text",
    "sizing",
    "sold_inches",
    "summit_standing",
    "trapped_air",
    "vent_air_m3_s",
]
