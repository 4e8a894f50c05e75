"""The sizes of all vents and drains of one line, and what frost and relief ask of it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from routing.finding import Finding
from routing.fittings.frost.cold_line import ColdCheck, check_cold
from routing.fittings.size.breaks import falling_limbs
from routing.fittings.size.carry_line import AirCarry, air_carried
from routing.fittings.size.drain_sizing import (
    DrainedLimb,
    DrainSize,
    LimbDrain,
    levels_of,
    size_drains,
)
from routing.fittings.size.limb import drain_constant
from routing.fittings.size.relief import ReliefValve, size_relief_valve
from routing.fittings.size.sizing_findings import sizing_findings
from routing.fittings.size.sizing_inputs import SizingInputs
from routing.fittings.size.vent_cases import vent_capacity_m3_s
from routing.fittings.size.vent_size import VentSize
from routing.fittings.size.vent_sizing import size_vents
from routing.fittings.trade_data import limits

__all__ = ["SizedFittings", "least_safe_opening", "size_fittings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedFittings:
    """Everything that was sized on one line; ``relief`` is None without a flow or a rating."""

    vents: tuple[VentSize, ...]
    drains: tuple[DrainSize, ...]
    air_carry: tuple[AirCarry, ...]
    relief: ReliefValve | None
    cold: ColdCheck
    findings: tuple[Finding, ...]


def size_fittings(inputs: SizingInputs) -> SizedFittings:
    """Return the size of every vent and drain of a line, and what frost and relief ask.

    Parameters
    ----------
    inputs : SizingInputs
        The line with its placed vents and drains, and what they must serve

    Returns
    -------
    sized : SizedFittings
        Sizes in the order of the vents and drains, with what is unwise about them

    Raises
    ------
    InputError
        If a number cannot be; the message names it.

    Notes
    -----
    Drains come first, then the vents that must let in as much air as the drains let out water;
    then every drain learns how far it may be opened with the vents as fitted.

    References
    ----------
    Sources of the numbers are in ``sizing.csv``, ``limits.csv`` and ``vent_sizes.csv``.
    """
    drains, limbs = size_drains(inputs)
    falling = falling_limbs(inputs)
    vents = size_vents(inputs, drains, limbs, falling)
    opened = tuple(
        _with_vents(
            inputs, drain, [limb for limb in limbs if limb.drain_id == drain.drain_id], vents
        )
        for drain in drains
    )
    relief = _relief(inputs)
    cold = check_cold(inputs.line, inputs.frost, flow_m3_s=inputs.winter_flow_m3_s)
    return SizedFittings(
        vents=vents,
        drains=opened,
        air_carry=air_carried(inputs, falling),
        relief=relief,
        cold=cold,
        findings=(*sizing_findings(inputs, vents, opened, relief), *cold.findings),
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
    inputs: SizingInputs, limb: LimbDrain, drain_m: float, vents: Sequence[VentSize]
) -> VentSize | None:
    """Return the vent that lets air into a limb: at its far end, else the highest one on it."""
    reach = limits().same_place_m
    far = limb.from_m if abs(limb.to_m - drain_m) < abs(limb.from_m - drain_m) else limb.to_m
    near = [vent for vent in vents if abs(vent.station_m - far) < reach]
    if near:
        return max(near, key=lambda vent: vent.bore_m)
    # A vent beside the drain itself stays under water until the limb is empty.
    on_it = [
        vent
        for vent in vents
        if limb.from_m < vent.station_m < limb.to_m and abs(vent.station_m - drain_m) >= reach
    ]
    line = inputs.line
    return max(
        on_it,
        key=lambda vent: float(np.interp(vent.station_m, line.station_m, line.pipe_m)),
        default=None,
    )


def _capacity(inputs: SizingInputs, vent: VentSize, bores: Mapping[str, float]) -> float:
    altitude = float(np.interp(vent.station_m, inputs.line.station_m, inputs.line.pipe_m))
    length = None if vent.open_top_m is None else max(vent.open_top_m - altitude, 0.0)
    return vent_capacity_m3_s(
        bore_m=bores.get(vent.vent_id, vent.bore_m),
        vacuum_pa=vent.allowed_vacuum_pa,
        altitude_m=altitude,
        open_length_m=length,
    )


def _with_vents(
    inputs: SizingInputs,
    drain: DrainSize,
    pipes: Sequence[DrainedLimb],
    vents: Sequence[VentSize],
) -> DrainSize:
    """Return a drain with the vents of its limbs, and how far it may be opened with them."""
    limbs, flushing = [], []
    gravity = inputs.line.water.gravity_m_s2
    for limb, pipe in zip(drain.limbs, pipes, strict=True):
        vent = _vent_at_top(inputs, limb, drain.station_m, vents)
        capacity = 0.0 if vent is None else _capacity(inputs, vent, inputs.vent_bore_m)

        top_m = pipe.far_m if vent is None else vent.station_m
        below_m, _ = levels_of(inputs, drain.station_m, top_m)
        head, lost = pipe.new.levels(below_m, float(pipe.new.length_m[-1]))
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
                safe_opening=share(drain.bore_m),
            )
        )
        if drain.flush_bore_m is not None:
            flushing.append(share(drain.flush_bore_m))
    return replace(
        drain,
        limbs=tuple(limbs),
        safe_opening=min((limb.safe_opening or 0.0 for limb in limbs), default=None),
        flush_safe_opening=min(flushing, default=None),
    )


def _relief(inputs: SizingInputs) -> ReliefValve | None:
    """Return the relief valve at the end of the line, None without a flow or any rating."""
    line = inputs.line
    if not inputs.flow_m3_s or line.rating_pa is None:
        return None
    weight = line.water.weight_n_m3
    # What the valve may let arise at its own place so that no pipe above or below is overloaded.
    allowed = line.rating_pa + weight * (line.pipe_m - line.pipe_m[-1])
    known = allowed[np.isfinite(allowed)]
    if not known.size or known.min() <= 0.0:
        return None
    return size_relief_valve(
        station_m=float(line.station_m[-1]),
        static_pa=max(weight * float(line.static_head_m[-1]), 0.0),
        allowed_pa=float(known.min()),
        inside_diameter_m=float(line.inside_diameter_m[-1]),
        flow_m3_s=inputs.flow_m3_s,
        density_kg_m3=line.water.density_kg_m3,
    )
