"""A trench dug deeper where a line would else stand above its hydraulic line, as at an intake.

The trench is laid for least digging and knows nothing of the flow. Where the crown of the pipe
comes to lie above the hydraulic grade line and the greatest depth leaves room, more cover there
mends it.
"""

from __future__ import annotations

from routing.arrays import stretches
from routing.study import Study

__all__ = ["sunk_limits"]

CLEAR_M = 0.05
"""By how much the crown is brought below the hydraulic line [m]."""
BESIDE_M = 0.5
"""How far beyond its stations a deeper stretch reaches [m]."""


def sunk_limits(study: Study) -> list[dict[str, str]]:
    """Return the [[trench.limit]] tables that bring a pipe below its hydraulic line.

    Without a flow that line is the intake's water level.

    Parameters
    ----------
    study : Study
        The line as laid

    Returns
    -------
    tables : list of dict
        Stretches of more cover, no two of which meet; none where the pipe lies low enough, or
        where even the deepest trench permitted is too shallow
    """
    line = study.line
    limits, station = line.pipe.limits, line.station_m
    head = line.static_head_m if study.flow is None else study.flow.aged.flowing_head_m
    crown_head = head - 0.5 * line.inside_diameter_m
    half = 0.5 * limits.outside_diameter_m
    cover = line.pipe.ground_m - line.pipe_m - half + CLEAR_M - crown_head
    low = crown_head < 0.0
    most = limits.max_depth_at_m(station) - limits.bedding_m - limits.outside_diameter_m
    if not low.any() or (cover > most)[low].any():
        return []
    found: list[tuple[float, float, float]] = []
    for first, last in stretches(low):
        begin = max(float(station[first]) - BESIDE_M, 0.0)
        end = min(float(station[last]) + BESIDE_M, float(station[-1]))
        deep = float(cover[first : last + 1].max())
        if found and begin <= found[-1][1]:
            begin, deep = found[-1][0], max(found.pop()[2], deep)
        found.append((begin, end, deep))
    return [
        {"from": f"{begin:.2f} m", "to": f"{end:.2f} m", "cover": f"{deep:.3f} m"}
        for begin, end, deep in found
    ]
