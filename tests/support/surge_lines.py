"""Lines of one pipe and of several for the checks of surge."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from known_lines import known_line

from routing.flow.surge import ClosingLaw, SurgeInputs, table_law, uniform_closure
from routing.pipe import pipe_by_hand
from routing.water import water_at

G = 9.80665


def opening_in(stroke_s: float) -> ClosingLaw:
    """Return a nozzle that opens evenly from still water, at once in no time."""
    if stroke_s == 0.0:
        return table_law([0.0], [1.0], initial=0.0)
    return table_law([0.0, stroke_s], [0.0, 1.0], initial=0.0)


def one_pipe(
    *,
    length_m: float,
    bore_m: float,
    speed_m_s: float,
    factor: float,
    level_m: float,
    flow_m3_s: float,
    law: ClosingLaw,
    pipe_m: Any = -200.0,
    **more: Any,
) -> SurgeInputs:
    """Return a line of one pipe that discharges at level 0, deep enough not to boil."""
    station = np.linspace(0.0, length_m, 41)
    pipe = pipe_by_hand(material="steel", inside_diameter_m=bore_m, wall_m=0.01)
    return SurgeInputs(
        line=known_line(
            station, pipe_m, pipe, intake_m=level_m, outlet_m=0.0, water=water_at(20.0),
            entrance_k=more.pop("entrance_k", 0.0), local_k=more.pop("local_k", 0.0),
        ),
        flow_m3_s=flow_m3_s,
        law=law,
        **{"wave_speed_m_s": (speed_m_s,), "darcy_factor": factor, **more},
    )  # fmt: skip


def frictionless(
    constant: float, law_over_critical: float, law: ClosingLaw | None = None, **more: Any
) -> SurgeInputs:
    """Return a frictionless line of 100 m static head with the given a V / (2 g H)."""
    speed, length, level = 1000.0, 1000.0, 100.0
    velocity = constant * 2.0 * G * level / speed
    return one_pipe(
        length_m=length,
        bore_m=0.5,
        speed_m_s=speed,
        factor=more.pop("factor", 0.0),
        level_m=level,
        flow_m3_s=velocity * math.pi / 4.0 * 0.25,
        law=law or uniform_closure(law_over_critical * 2.0 * length / speed),
        pipe_m=more.pop("pipe_m", -2000.0 - 2000.0 * constant),
        **more,
    )


def several_pipes(
    lengths: tuple[float, ...],
    bores: tuple[float, ...],
    speeds: tuple[float, ...],
    *,
    level_m: float,
    flow_m3_s: float,
    law: ClosingLaw,
    pipe_m: Any = -2000.0,
    **more: Any,
) -> SurgeInputs:
    """Return a line of several pipes that discharges at level 0."""
    joints = np.concatenate(([0.0], np.cumsum(lengths)))
    station = np.union1d(joints, np.linspace(0.0, joints[-1], 41))
    entries = [
        (float(start), pipe_by_hand(material="steel", inside_diameter_m=bore, wall_m=0.01))
        for start, bore in zip(joints, bores, strict=False)
    ]
    return SurgeInputs(
        line=known_line(
            station, np.interp(station, [0.0, joints[-1]], np.broadcast_to(pipe_m, 2)), entries,
            intake_m=level_m, outlet_m=0.0, water=water_at(20.0),
            entrance_k=more.pop("entrance_k", 0.5),
        ),
        flow_m3_s=flow_m3_s,
        law=law,
        wave_speed_m_s=speeds,
        **more,
    )  # fmt: skip


def at_levels(inputs: SurgeInputs, pipe_m: Any, **levels: float) -> SurgeInputs:
    """Return the same line with its pipe at other levels, of the same lengths."""
    old = inputs.line
    line = known_line(
        old.station_m, pipe_m, [(run.from_m, run.pipe) for run in old.pipes.runs],
        slope_m=old.slope_station_m, bends=dict(zip(old.bend_index.tolist(), old.bend_k.tolist(),
        strict=True)), entrance_k=old.entrance_k, local_k=old.local_k, water=old.water,
        **{"intake_m": old.levels.intake_m, "outlet_m": old.levels.outlet_m, **levels},
    )  # fmt: skip
    return replace(inputs, line=line)
