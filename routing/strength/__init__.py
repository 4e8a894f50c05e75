"""Room of the strength: whether the pipe holds what comes from inside, and from outside.

``rules`` is what a standard allows at rest and in a surge; ``class_check`` judges a line station by
station; ``class_line`` finds the cheapest lawful classes, which ``sequence`` solves; ``ring`` and
``burial`` are the pressures that flatten a pipe; ``vacuum`` judges a line against them;
``low_pressure`` finds where a shutting machine draws the head below the pipe; ``hydrotest`` holds
the test with water against the classes. What all of it is held against stands in
``data/requirements.csv``.
"""

from routing.strength.burial import BurialCredit, buried_collapse_pa
from routing.strength.class_check import SurgeLoad, check_class, check_rest
from routing.strength.class_line import (
    Adapter,
    ClassLine,
    LayingRules,
    Offer,
    adapters_on,
    class_line,
    few_kinds,
)
from routing.strength.hydrotest import (
    Hydrotest,
    HydrotestBounds,
    check_hydrotest,
    hydrotest_bounds,
    usual_rule,
)
from routing.strength.low_pressure import (
    check_low_pressure,
    check_steepening,
    column_head_m,
    steepening_share,
)
from routing.strength.ring import least_wall_m, ring_collapse_pa
from routing.strength.rules import Allowance, allowance, surge_rule
from routing.strength.trade_data import SurgeRule
from routing.strength.vacuum import (
    VacuumCheck,
    VacuumStrength,
    check_vacuum,
    vacuum_strength,
    vent_vacuum_pa,
)

__all__ = [
    "Adapter",
    "Allowance",
    "BurialCredit",
    "ClassLine",
    "Hydrotest",
    "HydrotestBounds",
    "LayingRules",
    "Offer",
    "SurgeLoad",
    "SurgeRule",
    "VacuumCheck",
    "VacuumStrength",
    "adapters_on",
    "allowance",
    "buried_collapse_pa",
    "check_class",
    "check_hydrotest",
    "check_low_pressure",
    "check_rest",
    "check_steepening",
    "check_vacuum",
    "class_line",
    "column_head_m",
    "few_kinds",
    "hydrotest_bounds",
    "least_wall_m",
    "ring_collapse_pa",
    "steepening_share",
    "surge_rule",
    "usual_rule",
    "vacuum_strength",
    "vent_vacuum_pa",
]
