"""What is wrong with the levels of a line before any water moves."""

from __future__ import annotations

import numpy as np

from routing.arrays import stretches
from routing.check import Check
from routing.flow.requirements import asked
from routing.laid_line import LaidLine

__all__ = ["judge_levels"]


def judge_levels(line: LaidLine) -> tuple[Check, ...]:
    """Return whether the outlet lies below the intake's water, and the whole pipe with it.

    A line that reaches above the intake's water cannot fill by gravity; it fails by how much and
    where, one check for each stretch, and stays a study, so that the planner sees it. A line that
    fits gives one check for the whole.
    """
    return (_fall(line), *_below_intake(line))


def _fall(line: LaidLine) -> Check:
    intake, outlet = line.levels.intake_m, line.levels.outlet_m
    level = abs(line.gross_head_m) < asked("no_fall").bound
    if level:
        return asked("no_fall").judge(
            line.gross_head_m,
            f"The outlet at {outlet:.2f} m lies level with the water at the intake: there is no "
            "head. Move one end or check their levels.",
            station_m=float(line.station_m[-1]),
        )
    return asked("fall").judge(
        outlet,
        f"The outlet at {outlet:.2f} m lies {-line.gross_head_m:.2f} m above the water at the "
        f"intake, {intake:.2f} m. Draw the line from the intake down, or turn it round.",
        limit=intake,
        station_m=float(line.station_m[-1]),
    )


def _below_intake(line: LaidLine) -> list[Check]:
    top = line.pipe_m + line.pipe.outside_diameter_m / 2.0
    intake = line.levels.intake_m
    whole = 0, top.size - 1
    checks = []
    for first, last in stretches(top > intake) or [whole]:
        worst = first + int(np.argmax(top[first : last + 1]))
        checks.append(
            asked("below_intake").judge(
                float(top[worst]),
                f"From station {line.station_m[first]:.1f} m to {line.station_m[last]:.1f} m the "
                f"pipe rises above the intake's water level of {intake:.2f} m, by "
                f"{top[worst] - intake:.2f} m at station {line.station_m[worst]:.1f} m: it cannot "
                "fill by gravity. Raise the intake, lower the line there, or lead it around.",
                limit=intake,
                station_m=float(line.station_m[worst]),
            )
        )
    return checks
