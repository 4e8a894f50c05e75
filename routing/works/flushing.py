"""Flushing the line, drain by drain from the top."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from routing.fittings import Drain, DrainSize, drain_constant, flush_head_m, sizing
from routing.fittings.volume import cumulative_volume
from routing.laid_line import LaidLine
from routing.value import dataclass
from routing.works.trade_data import number
from routing.works.turning import Turning, turning_of

__all__ = ["Flush", "flush_line"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Flush:
    """One drain opened until the pipe above it, down from the drain before, is clean.

    ``opening`` is the share of the area of ``bore_m`` that is open, ``velocity_m_s`` the slowest
    in that stretch. ``flushes`` is False where the drain or the stream cannot give the speed that
    carries silt: what is left to it is water stored above, let go at once. ``jet_m_s`` is the
    speed at the drain.
    """

    drain_id: str
    station_m: float
    bore_m: float
    opening: float
    flow_m3_s: float
    velocity_m_s: float
    flushes: bool
    water_m3: float
    time_s: float
    jet_m_s: float
    vent_id: str | None
    turning: Turning


def flush_line(
    line: LaidLine,
    drains: Sequence[Drain],
    sizes: Sequence[DrainSize],
    stream_m3_s: float | None = None,
) -> tuple[Flush, ...]:
    r"""Return how a line is flushed through its drains, top down.

    .. math::
        x = Q \sqrt{\frac{K}{h(Q)}}, \qquad t = \frac{3 V}{Q}, \qquad v = \sqrt{2 g\, h(Q)}

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    drains : sequence of Drain
        Its drains as placed
    sizes : sequence of DrainSize
        Their sizes, in the same order
    stream_m3_s : float, optional
        What the stream gives beyond its residual flow; None where it is not known [m3/s]

    Returns
    -------
    flushes : tuple of Flush
        In order of station

    Notes
    -----
    h(Q) is the head left at the drain while the line brings it the flow; K is the constant of the
    drain wide open. The flow is that which gives 0.76 m/s in the stretch, or what the drain
    and the stream give. Checked by ``tests/reference/test_commissioning.py``.

    References
    ----------
    .. [1] Municipal codes for the speed; ANSI/AWWA C651 for the volumes, from memory of it.
    """
    held = cumulative_volume(line.slope_station_m, line.inside_diameter_m)
    made, before_m3, before_m = [], 0.0, -math.inf
    pairs = sorted(zip(drains, sizes, strict=True), key=lambda pair: pair[0].serves_m)
    for drain, size in pairs:
        here = float(np.interp(drain.serves_m, line.station_m, held))
        if here - before_m3 <= 0.0:
            continue
        constant = drain_constant(size.bore_m, size.cd, line.water.gravity_m_s2)
        stretch = (line.station_m >= before_m) & (line.station_m < drain.serves_m)
        area = 0.25 * math.pi * float(line.inside_diameter_m[stretch].max()) ** 2
        wanted = sizing().flush_velocity_m_s * area
        flow = min(wanted, stream_m3_s or math.inf)
        if (head := flush_head_m(line, drain, flow)) <= constant * flow * flow:
            flow = _most(line, drain, constant)
            if flow <= 0.0:
                continue
            head = flush_head_m(line, drain, flow)
        water = number("flush_volumes") * (here - before_m3)
        above = [limb.vent_id for limb in size.limbs if limb.to_m <= drain.serves_m + 1e-6]
        opening = min(flow * math.sqrt(constant / head), 1.0)
        made.append(
            Flush(
                drain_id=drain.id,
                station_m=drain.station_m,
                bore_m=size.bore_m,
                opening=opening,
                flow_m3_s=flow,
                velocity_m_s=flow / area,
                flushes=flow >= wanted * (1.0 - 1e-9),
                water_m3=water,
                time_s=water / flow,
                jet_m_s=math.sqrt(2.0 * line.water.gravity_m_s2 * head),
                vent_id=above[0] if above else None,
                turning=turning_of(size.bore_m, opening),
            )
        )
        before_m3, before_m = here, drain.serves_m
    return tuple(made)


def _most(line: LaidLine, drain: Drain, constant: float) -> float:
    """Return what a drain passes wide open while the intake feeds the line [m3/s]."""
    if drain.static_head_m <= 0.0:
        return 0.0
    low, high = 0.0, math.sqrt(drain.static_head_m / constant)
    for _ in range(30):
        middle = 0.5 * (low + high)
        if flush_head_m(line, drain, middle) > constant * middle * middle:
            low = middle
        else:
            high = middle
    return low
