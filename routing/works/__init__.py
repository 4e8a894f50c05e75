"""Commissioning: filling, flushing, testing, reading gauges and draining a line that is built."""

from __future__ import annotations

from routing.works.diagnose import GaugeReading, diagnose
from routing.works.draining import DrainStep, WaterLeft, drain_down, water_left
from routing.works.expected import Expected, expected_readings
from routing.works.filling import Filling, FillRate, FillStep, fill_line, fill_rate
from routing.works.flushing import Flush, flush_line
from routing.works.front import WaterFront, front_table, water_front
from routing.works.gauge import Tap, place_taps, read_tap
from routing.works.holds import EndThrust, HoldPoint, end_thrusts, hold_points
from routing.works.losses import LossTable, loss_table
from routing.works.odds import Cause, Diagnosis
from routing.works.phases import Phase
from routing.works.sections import Section, cut_sections
from routing.works.spouts import Spout, spout_m, spouts_of
from routing.works.valves import IsolatingValve, place_valves, with_section_valves
from routing.works.verdict import SectionVerdict, StepReading, judge_section, last_attempt

__all__ = [
    "Cause",
    "Diagnosis",
    "DrainStep",
    "EndThrust",
    "Expected",
    "FillRate",
    "FillStep",
    "Filling",
    "Flush",
    "GaugeReading",
    "HoldPoint",
    "IsolatingValve",
    "LossTable",
    "Phase",
    "Section",
    "SectionVerdict",
    "Spout",
    "StepReading",
    "Tap",
    "WaterFront",
    "WaterLeft",
    "cut_sections",
    "diagnose",
    "drain_down",
    "end_thrusts",
    "expected_readings",
    "fill_line",
    "fill_rate",
    "flush_line",
    "front_table",
    "hold_points",
    "judge_section",
    "last_attempt",
    "loss_table",
    "place_taps",
    "place_valves",
    "read_tap",
    "spout_m",
    "spouts_of",
    "water_front",
    "water_left",
    "with_section_valves",
]
