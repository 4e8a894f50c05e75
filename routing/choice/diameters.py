"""Several pipes along one line: larger above, stronger below, at the least price."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.arrays import BoolArray, FloatArray
from routing.choice.line import ChoiceLine, friction_gradient, quick_surge
from routing.choice.search import LossProblem
from routing.choice.within_loss import best_within_loss
from routing.errors import InputError
from routing.finding import Finding
from routing.need import need
from routing.pipe import Pipe, PipeSchedule, schedule_pipes
from routing.strength import Adapter, LayingRules, Offer, adapters_on
from routing.strength.class_line import holds_between, joint_costs
from routing.strength.sequence import problem
from routing.value import dataclass

__all__ = ["DiameterChoice", "choose_diameters"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DiameterChoice:
    """The pipes chosen along a line.

    ``price`` is that of pipe and joints, ``value`` that and the worth of the head lost; no lawful
    sequence has a lower value than ``lower_bound``. ``proved`` says that the two are as near as
    was asked for.
    """

    schedule: PipeSchedule
    price: float
    loss_m: float
    value: float
    lower_bound: float
    proved: bool
    adapters: tuple[Adapter, ...]
    findings: tuple[Finding, ...]


def choose_diameters(
    line: ChoiceLine,
    offers: Sequence[Offer],
    *,
    most_loss_m: float,
    price_per_lost_m: float = 0.0,
    least_head_m: FloatArray | None = None,
    rules: LayingRules | None = None,
    tolerance: float = 0.01,
) -> DiameterChoice:
    r"""Return the pipes along a line that cost least within a loss of head.

    .. math::
        \min \sum c_i L_i + J + \lambda h_f, \qquad h_f \le h_\mathrm{most}

    Parameters
    ----------
    line : ChoiceLine
        Line, levels, design flow, closing time [-]
    offers : sequence of Offer
        Pipes with the user's prices for a metre, (p,) [-]
    most_loss_m : float
        Head that may be lost from the intake to the outlet, > 0 [m]
    price_per_lost_m : float
        Worth of a metre of head lost, in money of today, >= 0: yearly worth over the capital
        recovery factor [1/m]
    least_head_m : FloatArray, optional
        Flowing head that must stay above the crown, (n,), NaN where it is free: 0 or more at
        summits [m]
    rules : LayingRules, optional
        Prices of changes, shortest runs, head in hand; None takes the trade's defaults [-]
    tolerance : float
        Share of the price by which the best may be cheaper still; 0 for the very best [-]

    Returns
    -------
    choice : DiameterChoice
        Schedule, price, loss [m], lower bound, whether it is proved to be the best

    Raises
    ------
    InputError
        If nothing is on offer, no pipe holds somewhere, or no sequence keeps within the losses.

    Notes
    -----
    Valid for: changes at stations. Bore never grows down the line unless the outside diameter does
    not (a weaker class of the same size after a sag). The surge of each pipe is the quick bound
    for that pipe all along: check the line chosen again, above all where a smaller or stiffer
    pipe stands above a larger one. Checked by ``tests/reference/test_choice.py`` against trying
    everything.

    Examples
    --------
    >>> from routing.water import water_at
    >>> from routing.pipe import load_catalogue
    >>> station = np.linspace(0.0, 1200.0, 241)
    >>> line = ChoiceLine(station_m=station, slope_station_m=station, pipe_m=300.0 - 0.02 * station,
    ...                   intake_level_m=301.0, highest_level_m=301.0, flow_m3_s=0.05,
    ...                   water=water_at(10.0), closing_s=60.0)
    >>> find = load_catalogue().find
    >>> offers = [Offer(pipe=find("PVC-D2241IPS-SDR41-8in"), price_per_m=30.0),
    ...           Offer(pipe=find("PVC-D2241IPS-SDR41-10in"), price_per_m=45.0)]
    >>> choice = choose_diameters(line, offers, most_loss_m=9.8)
    >>> [run.pipe.nominal for run in choice.schedule.runs], choice.proved
    (['10 in', '8 in'], True)

    References
    ----------
    .. [1] Bounds by a multiplier on the loss, common practice of operations research.
    """
    if not offers:
        raise InputError("No pipe is on offer.", "Offer at least one pipe with its price.")
    need("The head that may be lost", most_loss_m, above=0.0)
    need("The worth of a metre lost", price_per_lost_m, least=0.0)
    for offer in offers:
        need(f"The price of {offer.pipe.label}", offer.price_per_m, least=0.0)
    pipes = [offer.pipe for offer in offers]
    rules = rules or LayingRules()
    surge_pa = line.water.weight_n_m3 * np.array([quick_surge(line, pipe)[1] for pipe in pipes])
    holds, strength = holds_between(pipes, line.static_pa, surge_pa, line.water, rules, line.test)
    _need_one_that_holds(line, holds)
    loss, joint_loss, start_loss = _losses(line, pipes)
    case = problem(
        station_m=line.station_m,
        holds=holds,
        joint=_joints(offers, rules) + price_per_lost_m * joint_loss,
        strength=strength,
        shortest_pocket_m=rules.pocket_m,
        shortest_run_m=rules.run_m(pipes),
    )
    prices = np.array([offer.price_per_m for offer in offers])
    price = prices[:, None] * np.diff(line.slope_station_m)
    best = best_within_loss(
        LossProblem(
            case=case,
            price=price + price_per_lost_m * loss,
            loss=loss,
            joint_loss=joint_loss,
            start_loss=start_loss,
            most_loss=_most_losses(line, pipes, least_head_m),
            start_price=price_per_lost_m * start_loss,
            total_loss=most_loss_m,
        ),
        tolerance,
    )
    if best is None:
        raise InputError(
            f"No sequence of the pipes on offer loses {most_loss_m:.2f} m or less and keeps the "
            "heads asked for on the way.",
            "Offer larger pipe, or allow more loss.",
        )
    first = float(line.station_m[0])
    schedule = schedule_pipes(
        [(float(line.station_m[each.start]) - first, pipes[each.pipe]) for each in best.stretches],
        float(line.station_m[-1]) - first,
    )
    return DiameterChoice(
        schedule=schedule,
        price=best.price - price_per_lost_m * best.loss,
        loss_m=best.loss,
        value=best.price,
        lower_bound=best.lower_bound,
        proved=best.proved,
        adapters=adapters_on(schedule),
        findings=() if best.proved else (_not_proved(best.price, best.lower_bound),),
    )


def _need_one_that_holds(line: ChoiceLine, holds: BoolArray) -> None:
    bare = np.flatnonzero(~holds.any(axis=0))
    if len(bare):
        raise InputError(
            f"No pipe on offer holds between {line.station_m[bare[-1]]:.1f} m and "
            f"{line.station_m[bare[-1] + 1]:.1f} m.",
            "Offer a stronger class, or close more slowly.",
            station_m=float(line.station_m[bare[-1]]),
        )


def _not_proved(value: float, bound: float) -> Finding:
    return Finding(
        code="choice_not_proved",
        severity="note",
        message=f"The pipes chosen cost at most {100.0 * (value - bound) / max(value, 1e-9):.2f} % "
        "more than the best could. Offer fewer pipes, or take fewer stations, for a proof.",
    )


def _bores(pipes: Sequence[Pipe]) -> FloatArray:
    return np.array([pipe.inside_diameter_m for pipe in pipes])


def _joints(offers: Sequence[Offer], rules: LayingRules) -> FloatArray:
    """Return the price of each change, infinite where the pipe would grow down the line."""
    prices, pipes = joint_costs(offers, rules), [offer.pipe for offer in offers]
    bore = _bores(pipes)
    outside = np.array([pipe.outside_diameter_m for pipe in pipes])
    grows = (bore[None, :] > bore[:, None]) & (outside[None, :] > outside[:, None] * (1.0 + 1e-9))
    return np.where(grows, np.inf, prices)


def _losses(line: ChoiceLine, pipes: Sequence[Pipe]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return losses of pieces (p, n-1), of changes (p, p) and of the mouth (p,), aged pipe [m]."""
    bore = _bores(pipes)
    area = 0.25 * np.pi * bore * bore
    roughness = np.array([pipe.roughness_m for pipe in pipes])
    gradient = friction_gradient(bore, roughness, line.flow_m3_s, line.water)
    velocity_head = (line.flow_m3_s / area) ** 2 / (2.0 * line.water.gravity_m_s2)
    steps = np.diff(line.slope_station_m)
    local = line.local_k * velocity_head / line.length_m
    share = area[None, :] / area[:, None]
    narrower = 0.5 * (1.0 - share) * velocity_head[None, :]
    wider = (1.0 - 1.0 / share) ** 2 * velocity_head[:, None]
    joint = np.where(share < 1.0, narrower, wider)
    return (gradient + local)[:, None] * steps, joint, line.entrance_k * velocity_head


def _most_losses(
    line: ChoiceLine, pipes: Sequence[Pipe], least_head_m: FloatArray | None
) -> FloatArray:
    """Return what may be lost down to each station, (p, n), for the flowing head asked for."""
    if least_head_m is None:
        return np.full((len(pipes), len(line.station_m)), np.inf)
    if least_head_m.shape != line.station_m.shape:
        raise InputError("Stations and least heads differ in number.", "Give one of each.")
    bore = _bores(pipes)[:, None]
    area = 0.25 * np.pi * bore * bore
    velocity_head = (line.flow_m3_s / area) ** 2 / (2.0 * line.water.gravity_m_s2)
    spare = line.intake_level_m - line.pipe_m - 0.5 * bore - velocity_head - least_head_m
    return np.where(np.isnan(least_head_m), np.inf, spare)
