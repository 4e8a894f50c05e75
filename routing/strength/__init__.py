"""Room of the strength: whether the pipe holds what comes from inside, and from outside.

``rules`` is what a standard allows at rest and in a surge; ``class_check`` judges a line station by
station; ``class_line`` finds the cheapest lawful classes, which ``sequence`` solves; ``ring`` and
``burial`` are the pressures that flatten a pipe; ``vacuum`` judges a line against them;
``low_pressure`` finds where a shutting machine draws the head below the pipe.
"""

from routing.strength.burial import BurialCredit, buried_collapse_pa
from routing.strength.class_check import ClassCheck, Element, WeakPlace, check_class
from routing.strength.class_line import (
    Adapter,
    ClassLine,
    Offer,
    adapters_on,
    class_line,
    lowest_elevation_m,
)
from routing.strength.low_pressure import LowPressure, check_low_pressure, steepening_share
from routing.strength.ring import least_wall_m, most_dimension_ratio, ring_collapse_pa
from routing.strength.rules import Allowance, allowance, surge_rule
from routing.strength.trade_data import SurgeRule
from routing.strength.vacuum import VacuumCheck, check_vacuum, vacuum_limit_pa, vent_vacuum_pa

__all__ = [
    "Adapter",
    "Allowance",
    "BurialCredit",
    "ClassCheck",
    "ClassLine",
    "Element",
    "LowPressure",
    "Offer",
    "SurgeRule",
    "VacuumCheck",
    "WeakPlace",
    "adapters_on",
    "allowance",
    "buried_collapse_pa",
    "check_class",
    "check_low_pressure",
    "check_vacuum",
    "class_line",
    "least_wall_m",
    "lowest_elevation_m",
    "most_dimension_ratio",
    "ring_collapse_pa",
    "steepening_share",
    "surge_rule",
    "vacuum_limit_pa",
    "vent_vacuum_pa",
]
