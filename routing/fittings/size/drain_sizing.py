"""How wide a drain must be, how long it takes, and what comes out of it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from routing.fittings.inputs import FittingInputs
from routing.fittings.place.drain_words import drain_size_text, jet_velocity
from routing.fittings.place.drains import Drain, Stretch, drain_stretches
from routing.fittings.roughness import roughness_m, roughness_new_m
from routing.fittings.size.drain_time import Emptying, empty_limbs
from routing.fittings.size.drained_limb import DrainedLimb, line_limb
from routing.fittings.size.limb import drain_constant
from routing.fittings.sizes import next_nominal
from routing.fittings.sizing_data import sizing, source_of
from routing.flow import head_loss_darcy
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = [
    "DrainSize",
    "LimbDrain",
    "flush_head_m",
    "size_drains",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimbDrain:
    """One limb that runs to a drain: its water, its greatest flow, and the vent that lets air in.

    ``vent_capacity_m3_s`` is the free air of that vent at the allowed vacuum, ``most_flow_m3_s``
    the greatest flow that it must keep up with, ``safe_opening`` the share of the
    drain's area that may be open so that it does.
    """

    from_m: float
    to_m: float
    volume_m3: float
    first_flow_m3_s: float
    vent_id: str | None
    vent_capacity_m3_s: float | None
    most_flow_m3_s: float | None
    safe_opening: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainSize:
    """How wide a drain is, what sets that, how long it runs and with what force; SI units.

    ``time_bore_m`` empties the stretch within ``wanted_s`` and ``flush_bore_m`` passes the flow
    that flushes; None where no bore up to the pipe's own does. ``bore_m`` serves the first and is
    never below the table's size. The line has
    ``flush_head_m`` left at the flow that flushes, and ``flush_needs_m`` drives that through a
    drain as wide as the pipe. ``shortest_s`` and ``longest_s`` are the time less and more its
    error. The jet is that of the full static head with the drain wide open. ``safe_opening`` is
    the least of the limbs'.
    """

    drain_id: str
    station_m: float
    serves_m: float
    bore_m: float
    governing: str
    time_bore_m: float | None
    flush_bore_m: float | None
    flush_flow_m3_s: float
    flush_head_m: float
    flush_needs_m: float
    wanted_s: float
    time_s: float
    shortest_s: float
    longest_s: float
    first_flow_m3_s: float
    drained_m3: float
    left_m3: float
    limbs: tuple[LimbDrain, ...]
    jet_m_s: float
    jet_flow_m3_s: float
    jet_power_w: float
    reaction_n: float
    safe_opening: float | None
    cd: float
    source: str
    text: str


def size_drains(
    line: LaidLine, drains: Sequence[Drain], given: FittingInputs
) -> tuple[tuple[DrainSize, ...], tuple[DrainedLimb, ...]]:
    """Return the size of every drain, and the limbs that run to them.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    drains : sequence of Drain
        Its drains as placed
    given : FittingInputs
        Valves in the line, the time in which a stretch should be empty

    Returns
    -------
    sizes : (tuple of DrainSize, tuple of DrainedLimb)
        One size per drain in their order, its vents not yet known; and one limb per side of each

    Notes
    -----
    A drain is as wide as its table says and as the wanted time asks, in nominal bores and never
    wider than the pipe. To flush, it must pass 0.76 m/s of the pipe with what head the line then
    has left: up to half of the pipe's bore it is made so wide. Times hold within 20 %.

    References
    ----------
    Sources of the numbers are in ``sizing.csv``.
    """
    stretches = {(low.station_m, low.rule): low for low in drain_stretches(line, given.valves_m)}
    sizes, limbs = [], []
    for drain in drains:
        size, own = _size_drain(line, given, drain, stretches[drain.serves_m, drain.rule])
        sizes.append(size)
        limbs.extend(own)
    return tuple(sizes), tuple(limbs)


def _limbs(line: LaidLine, drain: Drain, stretch: Stretch, bore_m: float) -> list[DrainedLimb]:
    constant = drain_constant(bore_m, sizing().drain_cd, line.water.gravity_m_s2)
    low = drain.serves_m
    return [
        DrainedLimb(
            drain.id,
            low,
            far,
            line_limb(line, low, far, constant, line.once(roughness_m)),
            line_limb(line, low, far, constant, line.once(roughness_new_m)),
        )
        for far in (stretch.from_m, stretch.to_m)
        if abs(far - low) > 1e-6
    ]


def _emptied(
    line: LaidLine, drain: Drain, stretch: Stretch, bore_m: float
) -> tuple[Emptying, list[DrainedLimb]]:
    limbs = _limbs(line, drain, stretch, bore_m)
    emptying = empty_limbs(
        [each.aged for each in limbs],
        drain_bore_m=bore_m,
        cd=sizing().drain_cd,
        gravity_m_s2=line.water.gravity_m_s2,
    )
    return emptying, limbs


def _for_time(
    line: LaidLine, drain: Drain, stretch: Stretch, most_m: float, wanted_s: float
) -> tuple[float, bool, Emptying, list[DrainedLimb]]:
    """Return the least bore that empties a stretch in time, or the widest, and whether it does."""
    bore = min(drain.size_m, most_m)
    while True:
        emptying, limbs = _emptied(line, drain, stretch, bore)
        in_time = emptying.time_s <= wanted_s
        if in_time or bore >= most_m:
            return bore, in_time, emptying, limbs
        # Without friction the time falls with the drain's area; with friction it falls less.
        least = bore * max(math.sqrt(emptying.time_s / wanted_s), 1.0 + 1e-6)
        bore = min(next_nominal(least), most_m)


def flush_head_m(line: LaidLine, drain: Drain, flow_m3_s: float) -> float:
    """Return the head [m] left at a drain while the line brings it a flow; below zero: too much.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    drain : Drain
        The drain
    flow_m3_s : float
        Flow that flushes, >= 0 [m3/s]

    Returns
    -------
    head_m : float
        Head left; below zero the flow is too much [m]
    """
    before = int(np.searchsorted(line.station_m, drain.serves_m, side="left"))
    lost = head_loss_darcy(
        flow_m3_s=flow_m3_s,
        length_m=np.diff(line.slope_station_m)[:before],
        inside_diameter_m=line.inside_diameter_m[:before],
        roughness_m=line.once(roughness_m)[:before],
        kinematic_viscosity_m2_s=line.water.kinematic_viscosity_m2_s,
        gravity_m_s2=line.water.gravity_m_s2,
    )
    return drain.static_head_m - float(np.sum(lost))


def _bore_for_flow(flow_m3_s: float, head_m: float, cd: float, gravity_m_s2: float) -> float:
    """Return the bore [m] of a drain that passes a flow under a head, infinite without head."""
    if head_m <= 0.0:
        return math.inf
    return math.sqrt(4.0 * flow_m3_s / (math.pi * cd * math.sqrt(2.0 * gravity_m_s2 * head_m)))


def _size_drain(
    line: LaidLine, given: FittingInputs, drain: Drain, stretch: Stretch
) -> tuple[DrainSize, list[DrainedLimb]]:
    numbers = sizing()
    gravity, density = line.water.gravity_m_s2, line.water.density_kg_m3
    at = int(np.searchsorted(line.station_m, drain.serves_m, side="left"))
    bores = line.inside_diameter_m[max(at - 1, 0) : at + 1]
    most = float(bores.min())
    bore, in_time, emptying, limbs = _for_time(line, drain, stretch, most, 3600.0 * given.hours)
    flush_flow = numbers.flush_velocity_m_s * 0.25 * math.pi * float(bores.max()) ** 2
    head = flush_head_m(line, drain, flush_flow)
    flush = max(next_nominal(_bore_for_flow(flush_flow, head, numbers.drain_cd, gravity)), bore)
    governing = "table" if bore <= drain.size_m * (1.0 + 1e-9) else "time"
    time_bore = bore if in_time else None
    if bore < flush <= numbers.flush_most * most * (1.0 + 1e-9):
        bore, governing = flush, "flushing"
        emptying, limbs = _emptied(line, drain, stretch, bore)
    jet = jet_velocity(drain.static_head_m, gravity)
    jet_flow = numbers.drain_cd * 0.25 * math.pi * bore * bore * jet
    size = DrainSize(
        drain_id=drain.id,
        station_m=drain.station_m,
        serves_m=drain.serves_m,
        bore_m=bore,
        governing=governing,
        time_bore_m=time_bore,
        flush_bore_m=flush if flush <= most * (1.0 + 1e-9) else None,
        flush_flow_m3_s=flush_flow,
        flush_head_m=head,
        flush_needs_m=drain_constant(most, numbers.drain_cd, gravity) * flush_flow**2,
        wanted_s=3600.0 * given.hours,
        time_s=emptying.time_s,
        shortest_s=(1.0 - numbers.drain_time_error) * emptying.time_s,
        longest_s=(1.0 + numbers.drain_time_error) * emptying.time_s,
        first_flow_m3_s=emptying.first_flow_m3_s,
        drained_m3=drain.drained_m3,
        left_m3=drain.left_m3,
        limbs=tuple(_limb_drain(line, each, bore) for each in limbs),
        jet_m_s=jet,
        jet_flow_m3_s=jet_flow,
        jet_power_w=0.5 * density * jet_flow * jet * jet,
        reaction_n=density * jet_flow * jet,
        safe_opening=None,
        cd=numbers.drain_cd,
        source=(
            f"least bore: {drain.size_source}; discharge coefficient: {source_of('drain_cd')}; "
            f"flushing: {source_of('flush_velocity_m_s')}"
        ),
        text=drain_size_text(
            bore_m=bore,
            shortest_s=(1.0 - numbers.drain_time_error) * emptying.time_s,
            longest_s=(1.0 + numbers.drain_time_error) * emptying.time_s,
            flush_bore_m=flush if flush <= most * (1.0 + 1e-9) else None,
            jet_m_s=jet,
            reaction_n=density * jet_flow * jet,
            head_m=drain.static_head_m,
            units=given.units,
        ),
    )
    return size, limbs


def _limb_drain(line: LaidLine, limb: DrainedLimb, bore_m: float) -> LimbDrain:
    constant = drain_constant(bore_m, sizing().drain_cd, line.water.gravity_m_s2)
    return LimbDrain(
        from_m=min(limb.low_m, limb.far_m),
        to_m=max(limb.low_m, limb.far_m),
        volume_m3=float(limb.new.volume_m3[-1]),
        first_flow_m3_s=limb.new.alone_m3_s(float(limb.new.length_m[-1]), constant),
        vent_id=None,
        vent_capacity_m3_s=None,
        most_flow_m3_s=None,
        safe_opening=None,
    )
