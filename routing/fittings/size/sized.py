"""The sizes of all vents and drains of one line, and what frost and relief ask of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from routing.check import Check
from routing.finding import Finding
from routing.fittings.frost.cold_line import ColdCheck, check_cold
from routing.fittings.inputs import FittingInputs
from routing.fittings.place.drains import Drain
from routing.fittings.place.vent import Vent
from routing.fittings.size.breaks import falling_limbs
from routing.fittings.size.carry_line import AirCarry, air_carried
from routing.fittings.size.drain_sizing import DrainSize, LimbDrain, size_drains
from routing.fittings.size.drained_limb import DrainedLimb, levels_of
from routing.fittings.size.limb import drain_constant
from routing.fittings.size.relief import ReliefValve
from routing.fittings.size.relief_valves import (
    PlacedRelief,
    place_relief_valves,
    relief_window,
)
from routing.fittings.size.sizing_checks import sizing_checks, sizing_notes
from routing.fittings.size.vent_size import VentSize
from routing.fittings.size.vent_sizing import DrainsAndLimbs, size_vents
from routing.fittings.trade_data import limits
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["SizedFittings", "least_safe_opening", "size_fittings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedFittings:
    """Everything that was sized on one line; ``relief`` is None without a flow or a rating.

    ``relief`` is what a valve at the end may be set to, ``relief_valves`` those that were asked for
    or are proposed.

    ``vents`` and ``drains`` are the fittings as they are to be built, ``vent_sizes`` and
    ``drain_sizes`` how each came to its size, in the same order.
    """

    vents: tuple[Vent, ...]
    drains: tuple[Drain, ...]
    vent_sizes: tuple[VentSize, ...]
    drain_sizes: tuple[DrainSize, ...]
    air_carry: tuple[AirCarry, ...]
    relief: ReliefValve | None
    relief_valves: tuple[PlacedRelief, ...]
    cold: ColdCheck
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    """Notes; what a check asks and does not get is said by the check."""


def size_fittings(
    line: LaidLine, vents: Sequence[Vent], drains: Sequence[Drain], given: FittingInputs
) -> SizedFittings:
    """Return the size of every vent and drain of a line, and what frost and relief ask.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    vents, drains : sequence of Vent, of Drain
        Its fittings as placed
    given : FittingInputs
        What they must serve: flow, pressures, flood, frost, time to drain

    Returns
    -------
    sized : SizedFittings
        Fittings as they are to be built, in their order, with what is asked of them

    Raises
    ------
    InputError
        If a number cannot be; the message names it.

    Notes
    -----
    Drains come first, then the vents that must let in as much air as the drains let out water;
    then every drain learns how far it may be opened with the vents as fitted. Kind, bore, rating
    and reason of a fitting are settled here and nowhere else.

    References
    ----------
    Sources of the numbers are in ``sizing.csv``, ``limits.csv`` and ``vent_sizes.csv``.
    """
    given.check_against(line)
    drained, limbs = size_drains(line, drains, given)
    falling = falling_limbs(line, given.rmse_m)
    below = DrainsAndLimbs(
        drains=drained,
        limbs=limbs,
        falling=falling,
        vents_m=[vent.serves_m for vent in vents],
    )
    sizes = size_vents(line, vents, given, below)
    opened = tuple(
        _with_vents(line, drain, [limb for limb in limbs if limb.drain_id == drain.drain_id], sizes)
        for drain in drained
    )
    flow, operating = given.flow_m3_s, given.loads.operating_pa
    relief = relief_window(line, flow, operating) if flow else None
    relieving = place_relief_valves(line, given, relief)
    cold = check_cold(line, given.frost, units=given.units)
    return SizedFittings(
        vents=tuple(map(_settled, vents, sizes)),
        drains=tuple(map(_settled_drain, drains, opened)),
        vent_sizes=sizes,
        drain_sizes=opened,
        air_carry=air_carried(line, vents, falling, given.flow_m3_s),
        relief=relief,
        relief_valves=relieving,
        cold=cold,
        checks=(*sizing_checks(line, given, vents, sizes, opened, relief, relieving), *cold.checks),
        findings=(*sizing_notes(line, given, sizes), *cold.findings),
    )


def _settled(vent: Vent, size: VentSize) -> Vent:
    """Return a vent as it is to be built: one kind, bore, rating and reason, from its size."""
    case = next((case for case in size.cases if case.name == size.governing), None)
    return replace(
        vent,
        kind=size.kind,
        size_m=size.bore_m,
        least_m=size.least_m,
        size_source=size.source if case is None else f"{size.governing}: {case.source}",
        foot_size_m=size.foot_m,
        open_top_m=size.open_top_m,
        open_height_m=size.open_height_m,
        rating_pa=size.rating_pa,
        rating_basis=size.rating_basis,
        reason=f"{vent.why} {size.text}",
    )


def _settled_drain(drain: Drain, size: DrainSize) -> Drain:
    return replace(
        drain,
        size_m=size.bore_m,
        size_source=drain.size_source if size.governing == "table" else size.source,
        flush_size_m=size.flush_bore_m,
        reason=f"{drain.why} {size.text}",
    )


def least_safe_opening(
    *, head_m: float, resistance: float, drain: float, capacity_m3_s: float
) -> float:
    r"""Return the share of a drain's area that may be open while a vent still keeps up.

    .. math::
        x = \sqrt{\frac{K}{h/q^2 - R}}

    Parameters
    ----------
    head_m : float
        Head of the limb's top over the drain, >= 0 [m]
    resistance : float
        Head lost in the limb over the flow squared, >= 0 [s2/m5]
    drain : float
        The drain's constant K, wide open, > 0 [s2/m5]
    capacity_m3_s : float
        Free air that the vent lets in, >= 0 [m3/s]

    Returns
    -------
    share : float
        From 0, shut, to 1, wide open [-]

    Notes
    -----
    Valid for: one limb alone, which is the most it ever gives.

    Examples
    --------
    >>> least_safe_opening(head_m=40.0, resistance=0.0, drain=2296.1, capacity_m3_s=0.066)
    0.5

    References
    ----------
    .. [1] Torricelli's law with Darcy's friction.
    """
    if capacity_m3_s <= 0.0:
        return 0.0
    left = head_m / capacity_m3_s**2 - resistance
    return 1.0 if left <= drain else math.sqrt(drain / left)


def _vent_at_top(
    line: LaidLine, limb: LimbDrain, drain_m: float, vents: Sequence[VentSize]
) -> VentSize | None:
    """Return the vent that lets air into a limb: at its far end, else the highest one on it."""
    reach = limits().same_place_m
    far = limb.from_m if abs(limb.to_m - drain_m) < abs(limb.from_m - drain_m) else limb.to_m
    near = [vent for vent in vents if abs(vent.serves_m - far) < reach]
    if near:
        return max(near, key=lambda vent: vent.bore_m)
    # A vent beside the drain itself stays under water until the limb is empty.
    on_it = [
        vent
        for vent in vents
        if limb.from_m < vent.serves_m < limb.to_m and abs(vent.serves_m - drain_m) >= reach
    ]
    return max(
        on_it,
        key=lambda vent: float(np.interp(vent.serves_m, line.station_m, line.pipe_m)),
        default=None,
    )


def _with_vents(
    line: LaidLine,
    drain: DrainSize,
    pipes: Sequence[DrainedLimb],
    vents: Sequence[VentSize],
) -> DrainSize:
    """Return a drain with the vents of its limbs, and how far it may be opened with them."""
    limbs = []
    gravity = line.water.gravity_m_s2
    for limb, pipe in zip(drain.limbs, pipes, strict=True):
        vent = _vent_at_top(line, limb, drain.serves_m, vents)
        capacity = 0.0 if vent is None else vent.capacity_m3_s
        top_m = pipe.far_m if vent is None else vent.serves_m
        below_m, _ = levels_of(line, drain.serves_m, top_m, [each.serves_m for each in vents])
        head, lost = pipe.new.levels(below_m, float(pipe.new.length_m[-1]))
        constant = drain_constant(drain.bore_m, drain.cd, gravity)
        worst = int(np.argmax(head - lost * capacity**2))

        def share(
            bore: float,
            head: float = float(head[worst]),
            lost: float = float(lost[worst]),
            capacity: float = capacity,
        ) -> float:
            return least_safe_opening(
                head_m=head,
                resistance=lost,
                drain=drain_constant(bore, drain.cd, gravity),
                capacity_m3_s=capacity,
            )

        limbs.append(
            replace(
                limb,
                vent_id=None if vent is None else vent.vent_id,
                vent_capacity_m3_s=capacity,
                most_flow_m3_s=math.sqrt(float(np.max(head / (constant + lost)))),
                safe_opening=share(drain.bore_m),
            )
        )
    return replace(
        drain,
        limbs=tuple(limbs),
        safe_opening=min((limb.safe_opening or 0.0 for limb in limbs), default=None),
    )
