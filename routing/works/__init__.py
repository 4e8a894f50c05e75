"""Commissioning: filling, flushing, testing, reading gauges and draining a line that is built."""

from __future__ import annotations

from routing.works.draining import DrainStep, drain_down
from routing.works.filling import Filling, FillRate, FillStep, fill_line, fill_rate, water_front
from routing.works.flushing import Flush, flush_line
from routing.works.gauge import Tap, place_taps
from routing.works.holds import EndThrust, HoldPoint, end_thrusts, hold_points
from routing.works.sections import Section, cut_sections

__all__ = [
    "DrainStep",
    "EndThrust",
    "FillRate",
    "FillStep",
    "Filling",
    "Flush",
    "HoldPoint",
    "Section",
    "Tap",
    "cut_sections",
    "drain_down",
    "end_thrusts",
    "fill_line",
    "fill_rate",
    "flush_line",
    "hold_points",
    "place_taps",
    "water_front",
]
