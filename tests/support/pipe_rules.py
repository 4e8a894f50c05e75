"""The rules by which standards give walls, bores and classes: the catalogue is held against them.

Sources: ISO 4065 (walls; R10 numbers after ISO 3); ASTM D2241 (wall tolerances, pressure ratings),
ASTM F714 and D3035 (bore), ISO 4427-2; AWWA M11 and ASME B31 (steel). All from memory.
"""

from __future__ import annotations

import math


def iso_wall_m(outside_diameter_m: float, series_s: float) -> float:
    """Return the least wall by pipe series S: exact R10 number, to 0.01 mm, then up to 0.1 mm."""
    exact_s = math.pow(10.0, round(10.0 * math.log10(series_s)) / 10.0)
    hundredths_mm = round(outside_diameter_m / (2.0 * exact_s + 1.0) * 100_000.0)
    return math.ceil(hundredths_mm / 10.0) / 10_000.0


def mean_wall_pvc_m(least_wall_m: float) -> float:
    """Return the least wall of US PVC and half its tolerance of 12 %, at least 0.020 in."""
    return least_wall_m + max(0.000254, 0.06 * least_wall_m)


def bore_pe_m(outside_diameter_m: float, dimension_ratio: float) -> float:
    """Return the bore of US polyethylene, whose mean wall is 6 % above the least."""
    return outside_diameter_m * (1.0 - 2.12 / dimension_ratio)


def rating_by_ratio_pa(design_stress_pa: float, dimension_ratio: float) -> float:
    """Return the class of plastic pipe by its ratio of outside diameter to least wall."""
    return 2.0 * design_stress_pa / (dimension_ratio - 1.0)


def rating_steel_pa(yield_stress_pa: float, outside_diameter_m: float, wall_m: float) -> float:
    """Return the class at half the yield stress; the mill rolls 12.5 % thin, 1 mm may rust."""
    return yield_stress_pa * max(0.0, 0.875 * wall_m - 0.001) / outside_diameter_m
