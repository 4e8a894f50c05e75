"""What a surge run found."""

from __future__ import annotations

from routing.arrays import BoolArray, FloatArray
from routing.check import Check
from routing.finding import Finding
from routing.flow.surge.bounds import SurgeBound
from routing.flow.surge.laws import ClosingLaw
from routing.value import dataclass

__all__ = ["Cavity", "SurgeResult", "ValveRecord"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cavity:
    """A place where the water parted, and the most room that opened there."""

    station_m: float
    volume_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ValveRecord:
    """Head (elevation) and flow at the valve over time, (k,)."""

    time_s: FloatArray
    level_m: FloatArray
    flow_m3_s: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeResult:
    """Envelopes over stations (n,), the valve's story, the quick bound, and findings.

    Heads are pressure heads above the centreline; the highest is never below the static one, to
    which the line comes to rest. ``reliable`` is False where the highest came after the water had
    parted; ``whole_head_m`` is the highest of the same run with the water held together, the same
    where it does not part. ``wave_speed_m_s`` are those of the pipes, ``speed_change`` the share by
    which the grid's are above them, (k,) pipes. ``rise_m`` is the peak at the valve above the
    static level.
    """

    law: ClosingLaw
    station_m: FloatArray
    static_head_m: FloatArray
    highest_head_m: FloatArray
    whole_head_m: FloatArray
    lowest_head_m: FloatArray
    highest_pressure_pa: FloatArray
    lowest_pressure_pa: FloatArray
    reliable: BoolArray
    peak_level_m: float
    peak_time_s: float
    rise_m: float
    record: ValveRecord
    critical_s: float
    effective_closing_s: float
    duration_s: float
    segments: int
    step_s: float
    wave_speed_m_s: FloatArray
    speed_change: FloatArray
    parted_s: float | None
    cavities: tuple[Cavity, ...]
    bound: SurgeBound
    bound_rise_m: FloatArray
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
