"""Every pipe on offer tried on one line: loss, velocity, surge, class, mass and price of each."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray, frozen
from routing.choice.line import ChoiceLine, friction_gradient, quick_surge
from routing.choice.worth import Worth, lost_energy_kwh
from routing.errors import InputError
from routing.flow import atmosphere_pa
from routing.flow.air import HIGHEST_M, LOWEST_M
from routing.flow.requirements import asked
from routing.pipe import Pipe
from routing.strength import Allowance, Offer, VacuumStrength, allowance, vacuum_strength
from routing.strength.trade_data import limit
from routing.value import dataclass

__all__ = ["PipeSweep", "sweep_pipes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeSweep:
    """One number for each pipe on offer, (p,), in the order of the offer.

    ``class_margin_pa`` and ``vacuum_margin_pa`` are the least along the line, NaN where a pipe has
    no rating, is too warm, or its stiffness is not known. ``holds`` is True where the class leaves
    the head in hand, some net head is left and the water is no faster than any pipe bears.
    ``order`` numbers the pipes that hold, the least yearly cost (without a worth: the least price)
    first.
    """

    offers: tuple[Offer, ...]
    velocity_m_s: FloatArray
    loss_aged_m: FloatArray
    loss_new_m: FloatArray
    loss_share: FloatArray
    wave_speed_m_s: FloatArray
    surge_m: FloatArray
    class_margin_pa: FloatArray
    vacuum_margin_pa: FloatArray
    power_kw: FloatArray
    mass_kg: FloatArray
    price: FloatArray
    lost_kwh: FloatArray
    yearly_cost: FloatArray
    holds: BoolArray
    order: IntArray

    @property
    def best(self) -> Offer | None:
        """Return the pipe that holds and costs least; None if none holds."""
        return self.offers[int(self.order[0])] if len(self.order) else None


def sweep_pipes(
    line: ChoiceLine,
    offers: Sequence[Offer],
    *,
    efficiency: float,
    worth: Worth | None = None,
    vents_may_freeze: bool = False,
    head_in_hand_m: float | None = None,
    surge_factor: float | None = None,
) -> PipeSweep:
    r"""Return what each pipe on offer would do on a line, alone from intake to outlet.

    .. math::
        C_\mathrm{year} = \mathrm{CRF}\; c\, L + E_\mathrm{lost}\, p_\mathrm{kWh}

    Parameters
    ----------
    line : ChoiceLine
        Line, levels, design flow, closing time [-]
    offers : sequence of Offer
        Pipes with the user's prices for a metre, (p,) [-]
    efficiency : float
        From water to wire at the design flow, 0 to 1 [-]
    worth : Worth, optional
        Price of energy and money; None leaves the yearly cost out (NaN) [-]
    vents_may_freeze : bool
        Frost may close the vents [-]
    head_in_hand_m : float, optional
        Head that the class keeps in hand, >= 0; None takes 2 [m]
    surge_factor : float, optional
        The user's own allowance on the rating in a surge, 1 to 2; None takes the standard's [-]

    Returns
    -------
    sweep : PipeSweep
        Velocities [m/s], losses aged and new [m], wave speeds [m/s], surge [m], margins [Pa],
        power [kW], mass [kg], price, energy lost [kWh], yearly cost; which hold, in what order

    Raises
    ------
    InputError
        If nothing is on offer or a number cannot be.

    Notes
    -----
    Valid for: one pipe all along; the surge is the quick bound, which a wave run may lower.
    Checked by ``tests/reference/test_choice.py``.

    Examples
    --------
    >>> from routing.water import water_at
    >>> from routing.pipe import load_catalogue
    >>> station = np.linspace(0.0, 800.0, 81)
    >>> line = ChoiceLine(station_m=station, slope_station_m=station, pipe_m=400.0 - 0.05 * station,
    ...                   intake_level_m=401.0, highest_level_m=401.0, flow_m3_s=0.03,
    ...                   water=water_at(10.0), closing_s=20.0)
    >>> offers = [Offer(pipe=pipe, price_per_m=3.0 * pipe.mass_kg_m)
    ...           for pipe in load_catalogue().select(material="PE100", series="SDR 17")]
    >>> sweep_pipes(line, offers, efficiency=0.6).best.pipe.nominal
    'DN/OD 140'

    References
    ----------
    .. [1] Yearly cost of pipe and lost energy, common practice.
    """
    if not offers:
        raise InputError("No pipe is on offer.", "Offer at least one pipe with its price.")
    pipes = [offer.pipe for offer in offers]
    bore = np.array([pipe.inside_diameter_m for pipe in pipes])
    velocity = line.flow_m3_s / (0.25 * np.pi * bore * bore)
    local = (line.entrance_k + line.local_k) * velocity**2 / (2.0 * line.water.gravity_m_s2)

    def loss(roughness: list[float]) -> FloatArray:
        gradient = friction_gradient(bore, np.array(roughness), line.flow_m3_s, line.water)
        along: FloatArray = gradient * line.length_m + local
        return along

    aged = loss([pipe.roughness_m for pipe in pipes])
    new = loss([pipe.roughness_new_m for pipe in pipes])
    margins, speeds, rises = _class_margins(line, pipes, surge_factor)
    in_hand = limit("head_in_hand") if head_in_hand_m is None else head_in_hand_m
    weight = line.water.weight_n_m3
    gross = line.gross_head_m
    price = np.array([offer.price_per_m for offer in offers]) * line.length_m
    lost = cost = np.full(len(pipes), np.nan)
    if worth is not None:
        lost = lost_energy_kwh(
            worth,
            design_m3_s=line.flow_m3_s,
            gross_head_m=gross,
            loss_at_design_m=aged,
            water=line.water,
        )
        cost = worth.recovery * price + worth.price_per_kwh * lost
    holds = (
        (margins >= in_hand * weight) & (aged < gross) & (velocity <= asked("velocity_any").bound)
    )
    ranked = np.argsort(price if worth is None else cost, kind="stable")
    return PipeSweep(
        offers=tuple(offers),
        velocity_m_s=frozen(velocity),
        loss_aged_m=frozen(aged),
        loss_new_m=frozen(new),
        loss_share=frozen(aged / gross if gross > 0.0 else np.full(len(pipes), np.inf)),
        wave_speed_m_s=frozen(speeds),
        surge_m=frozen(rises),
        class_margin_pa=frozen(margins),
        vacuum_margin_pa=frozen(_vacuum_margins(line, pipes, vents_may_freeze)),
        power_kw=frozen(weight * line.flow_m3_s * np.maximum(0.0, gross - aged) * efficiency / 1e3),
        mass_kg=frozen([line.length_m * (pipe.mass_kg_m or np.nan) for pipe in pipes]),
        price=frozen(price),
        lost_kwh=frozen(lost),
        yearly_cost=frozen(cost),
        holds=frozen(holds, np.bool_),
        order=frozen(ranked[holds[ranked]], np.int64),
    )


def _class_margins(
    line: ChoiceLine, pipes: Sequence[Pipe], surge_factor: float | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return least margins [Pa], wave speeds [m/s] and rises at the outlet [m], (p,) each."""
    static = line.static_pa
    greatest = float(static.max())
    weight = line.water.weight_n_m3
    margins, speeds, rises = (np.full(len(pipes), np.nan) for _ in range(3))
    for number, pipe in enumerate(pipes):
        if pipe.elastic_dynamic_pa is None or pipe.poisson is None:
            continue
        bound, along = quick_surge(line, pipe)
        speeds[number] = bound.joukowsky_m / line.flow_m3_s * line.water.gravity_m_s2
        speeds[number] *= 0.25 * np.pi * pipe.inside_diameter_m**2
        rises[number] = bound.rise_m
        try:
            allowed = _allowed(pipe, line.water.temperature_c, surge_factor)
        except InputError:
            continue  # too warm for this material: it does not hold, the others may
        if allowed.static_pa is None or allowed.total_pa is None:
            continue
        total = float((static + weight * along).max())
        margins[number] = min(allowed.static_pa - greatest, allowed.total_pa - total)
    return margins, speeds, rises


def _vacuum_margins(line: ChoiceLine, pipes: Sequence[Pipe], vents_may_freeze: bool) -> FloatArray:
    """Return what is in hand against a full vacuum at the lowest place of the line, (p,)."""
    lowest = min(max(float(line.pipe_m.min()), LOWEST_M), HIGHEST_M)
    demand = atmosphere_pa(lowest)
    stands = [_stands(pipe, vents_may_freeze) for pipe in pipes]
    return np.array([np.nan if each is None else each.limit_pa - demand for each in stands])


@lru_cache(maxsize=4096)
def _allowed(pipe: Pipe, temperature_c: float, surge_factor: float | None) -> Allowance:
    """Return what a pipe may carry: the same whatever the line that it is tried on."""
    return allowance(pipe, temperature_c, surge_factor=surge_factor)


@lru_cache(maxsize=4096)
def _stands(pipe: Pipe, vents_may_freeze: bool) -> VacuumStrength | None:
    return vacuum_strength(pipe, vents_may_freeze=vents_may_freeze)
