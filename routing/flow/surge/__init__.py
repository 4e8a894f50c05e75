"""What happens in the line when its outlet closes, opens or blocks.

``wave`` gives the speed of a pressure wave; ``formulas``, ``bounds`` and ``allievi`` answer at
once, for closures fast and slow; ``laws`` says how an outlet moves; ``grid``, ``moc`` and ``run``
follow the waves by the method of characteristics; ``closing`` finds how slow a closure must be;
``cases`` gathers the ways in which a flow may be stopped; ``findings`` says what is unwise.
"""

from routing.flow.surge.bounds import SurgeBound, SurgeReach, bound_along_m, surge_bound
from routing.flow.surge.cases import SurgeCase, blocked_line, surge_assumptions, surge_cases
from routing.flow.surge.closing import SafeClosing, slowest_safe_closing_time
from routing.flow.surge.findings import surge_findings
from routing.flow.surge.formulas import (
    joukowsky_m,
    michaud_m,
    rigid_column_rise_m,
)
from routing.flow.surge.inputs import SurgeInputs
from routing.flow.surge.laws import (
    ClosingLaw,
    effective_closing_s,
    instant_closure,
    table_law,
    uniform_closure,
)
from routing.flow.surge.result import Cavity, SurgeResult, ValveRecord
from routing.flow.surge.run import quick_bound, run_surge
from routing.flow.surge.wave import (
    critical_time_s,
    pipe_wave_speed_m_s,
    restraint_factor,
    wave_speed_m_s,
)

__all__ = [
    "Cavity",
    "ClosingLaw",
    "SafeClosing",
    "SurgeBound",
    "SurgeCase",
    "SurgeInputs",
    "SurgeReach",
    "SurgeResult",
    "ValveRecord",
    "blocked_line",
    "bound_along_m",
    "critical_time_s",
    "effective_closing_s",
    "instant_closure",
    "joukowsky_m",
    "michaud_m",
    "pipe_wave_speed_m_s",
    "quick_bound",
    "restraint_factor",
    "rigid_column_rise_m",
    "run_surge",
    "slowest_safe_closing_time",
    "surge_assumptions",
    "surge_bound",
    "surge_cases",
    "surge_findings",
    "table_law",
    "uniform_closure",
    "wave_speed_m_s",
]
