"""The choice of pipe against worked values, and against trying everything."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from known_lines import known_line

from routing.choice import (
    ChoiceLine,
    Worth,
    choose_diameters,
    lost_energy_kwh,
    quick_surge,
    sweep_pipes,
)
from routing.choice.search import LossProblem, measure
from routing.choice.within_loss import best_within_loss
from routing.errors import InputError
from routing.flow import (
    capital_recovery_factor,
    flow_duration,
    head_loss_darcy,
    level_efficiency,
    power_kw,
    steady_flow,
    yearly_energy,
)
from routing.laid_line import LaidLine, simple_line
from routing.pipe import load_catalogue, with_roughness
from routing.strength import LayingRules, Offer, SurgeLoad, check_class
from routing.strength.sequence import problem
from routing.water import water_at

COLD = water_at(10.0)
FIND = load_catalogue().find


def two_sizes() -> list[Offer]:
    small, large = (
        with_roughness(FIND(f"PVC-D2241IPS-SDR41-{size}in"), 1.5e-6) for size in (8, 10)
    )
    return [Offer(pipe=small, price_per_m=30.0), Offer(pipe=large, price_per_m=45.0)]


def straight_line(
    fall: float = 24.0, length: float = 1200.0, stations: int = 1201, **more: Any
) -> ChoiceLine:
    station = np.linspace(0.0, length, stations)
    usual = {"flow_m3_s": 0.05, "water": COLD, "closing_s": 60.0, "entrance_k": 0.0}
    return ChoiceLine(
        station_m=station,
        slope_station_m=station,
        pipe_m=300.0 - fall * station / length,
        intake_level_m=301.0,
        highest_level_m=301.0,
        **{**usual, **more},
    )


def test_larger_length__worked_value() -> None:
    # Q 50 L/s, 10 degC, e 0.0015 mm: SDR 41 8 in 8.128 and 10 in 2.818 m/km; 1200 m and 9.0 m give
    # 141.8 m of 10 in, and all 8 in loses 9.75 m; independently computed
    gradients = [
        head_loss_darcy(
            flow_m3_s=0.05,
            length_m=1000.0,
            inside_diameter_m=offer.pipe.inside_diameter_m,
            roughness_m=1.5e-6,
            kinematic_viscosity_m2_s=1.308e-6,
        )
        for offer in two_sizes()
    ]
    assert gradients[0] == pytest.approx(8.128, abs=5e-4)
    assert gradients[1] == pytest.approx(2.818, abs=5e-4)
    assert gradients[0] * 1.2 == pytest.approx(9.75, abs=5e-3)
    length = 1000.0 * (1.2 * gradients[0] - 9.0) / (gradients[0] - gradients[1])
    assert length == pytest.approx(141.8, abs=0.05)


def test_choose_diameters__two_sizes_as_by_hand() -> None:
    free = LayingRules(joint_price=0.0)
    choice = choose_diameters(
        straight_line(), two_sizes(), most_loss_m=9.0, rules=free, tolerance=0.0
    )
    runs = choice.schedule.runs
    assert [run.pipe.nominal for run in runs] == ["10 in", "8 in"]
    # 141.8 m by hand; the change of bore itself costs 0.5 (1 - A2/A1) of the velocity head,
    # which is another 0.02 m / 5.31 m/km = 4 m, and changes lie at whole metres here
    assert 141.8 <= runs[1].from_m <= 147.0
    assert choice.loss_m <= 9.0
    assert choice.proved
    assert choice.price == pytest.approx(45.0 * runs[1].from_m + 30.0 * (1200.0 - runs[1].from_m))


def test_choose_diameters__a_change_costs_six_metres_of_the_dearer_pipe() -> None:
    # Common practice; a coupling and the attention of a crew.
    priced = choose_diameters(straight_line(), two_sizes(), most_loss_m=9.0, tolerance=0.0)
    free = choose_diameters(
        straight_line(), two_sizes(), most_loss_m=9.0, tolerance=0.0,
        rules=LayingRules(joint_price=0.0),
    )  # fmt: skip
    assert priced.price - free.price == pytest.approx(6.0 * 45.0)


def test_choose_diameters__no_run_is_shorter_than_five_sticks() -> None:
    # 5 x 6.1 m of PVC; by the loss alone a few metres of the larger pipe would do.
    choice = choose_diameters(straight_line(), two_sizes(), most_loss_m=9.7, tolerance=0.0)
    for run in choice.schedule.runs:
        assert run.to_m - run.from_m >= 30.5
    short = choose_diameters(
        straight_line(), two_sizes(), most_loss_m=9.7, tolerance=0.0,
        rules=LayingRules(shortest_run_m=0.0),
    )  # fmt: skip
    assert short.schedule.runs[0].to_m < 30.5


def as_laid(line: ChoiceLine, choice: Any) -> LaidLine:
    """Return the line with the pipes that were chosen for it."""
    pipes = [(run.from_m, run.pipe) for run in choice.schedule.runs]
    return known_line(
        line.station_m, line.pipe_m, pipes, slope_m=line.slope_station_m,
        intake_m=line.intake_level_m, entrance_k=line.entrance_k, water=COLD,
    )  # fmt: skip


def test_choose_diameters__loss_is_that_of_the_steady_flow() -> None:
    line = straight_line()
    choice = choose_diameters(line, two_sizes(), most_loss_m=9.0)
    flow = steady_flow(as_laid(line, choice), line.flow_m3_s)
    assert choice.loss_m == pytest.approx(flow.head_loss_m, rel=1e-9)


# Trying everything: every assignment of a pipe to every piece, judged by rules written here anew.


def try_everything(
    case: LossProblem, holds: np.ndarray, station: np.ndarray, pocket_m: float, run_m: float
) -> float:
    pipes, pieces = holds.shape
    best = math.inf
    for chosen in itertools.product(range(pipes), repeat=pieces):
        if not all(holds[pipe, piece] for piece, pipe in enumerate(chosen)):
            continue
        price = case.start_price[chosen[0]]
        loss = case.start_loss[chosen[0]]
        lawful = loss <= case.most_loss[chosen[0], 0]
        first = next((at for at, pipe in enumerate(chosen) if pipe != chosen[0]), pieces)
        lawful &= bool(first == pieces or station[first] - station[0] >= run_m - 1e-9)
        for piece, pipe in enumerate(chosen):
            before = chosen[piece - 1] if piece else pipe
            if before != pipe:
                price += case.case.joint[before, pipe]
                loss += case.joint_loss[before, pipe]
                lawful &= bool(loss <= case.most_loss[pipe, piece])
                weaker = case.case.strength[pipe] < case.case.strength[before]
                end = piece
                while end < pieces and chosen[end] == pipe:
                    end += 1
                least = max(pocket_m, run_m) if weaker else run_m
                lawful &= bool(station[end] - station[piece] >= least - 1e-9)
            price += case.price[pipe, piece]
            loss += case.loss[pipe, piece]
            lawful &= bool(loss <= case.most_loss[pipe, piece + 1])
        if lawful and loss <= case.total_loss:
            best = min(best, float(price))
    return best


def random_case(seed: int, *, ways: bool) -> tuple[Any, ...]:
    rng = np.random.default_rng(seed)
    pipes, pieces = int(rng.integers(2, 5)), int(rng.integers(3, 7))
    station = np.concatenate(([0.0], np.cumsum(rng.uniform(20.0, 90.0, pieces))))
    steps = np.diff(station)
    bore = rng.uniform(0.1, 0.4, pipes)
    strength = rng.integers(1, 4, pipes).astype(float)
    price_m = 80.0 * bore * rng.uniform(0.7, 1.3, pipes) * strength**0.3
    gradient = 0.0005 * bore**-1.5 * rng.uniform(0.8, 1.2, pipes)
    holds = rng.random((pipes, pieces)) < 0.8
    joint = rng.uniform(0.0, 300.0, (pipes, pipes))
    joint = np.where(bore[None, :] > bore[:, None] + 0.1, np.inf, joint)
    pocket = float(rng.choice([0.0, 100.0, 150.0]))
    run = float(rng.choice([0.0, 0.0, 60.0]))
    loss = gradient[:, None] * steps
    most = np.full((pipes, pieces + 1), np.inf)
    if ways:
        most[:, pieces // 2] = rng.uniform(0.3, 0.9) * float(loss.max(axis=0).sum())
    case = LossProblem(
        case=problem(
            station_m=station,
            holds=holds,
            joint=joint,
            strength=strength,
            shortest_pocket_m=pocket,
            shortest_run_m=run,
        ),
        price=price_m[:, None] * steps,
        loss=loss,
        joint_loss=rng.uniform(0.0, 0.1, (pipes, pipes)),
        start_loss=rng.uniform(0.0, 0.3, pipes),
        start_price=rng.uniform(0.0, 50.0, pipes),
        most_loss=most,
        total_loss=float(rng.uniform(0.2, 1.0) * loss.max(axis=0).sum() + 0.3),
    )
    return case, holds, station, pocket, run


@pytest.mark.parametrize("ways", [False, True], ids=["end", "on the way"])
@pytest.mark.parametrize("seed", range(60))
def test_best_within_loss__against_trying_everything(seed: int, ways: bool) -> None:
    case, *rest = random_case(seed, ways=ways)
    found = best_within_loss(case)
    expected = try_everything(case, *rest)
    if math.isinf(expected):
        assert found is None
        return
    assert found is not None
    assert found.proved
    assert found.price == pytest.approx(expected, rel=1e-9)
    price, loss, within = measure(case, found.stretches)
    assert within
    assert price == pytest.approx(found.price)
    assert loss <= case.total_loss


def test_random_cases__hold_both_kinds() -> None:
    # The comparison above would be empty if nearly all cases had no lawful sequence.
    solved = [best_within_loss(random_case(seed, ways=True)[0]) is not None for seed in range(60)]
    assert 15 < sum(solved) < 60


@settings(max_examples=25, deadline=None)
@given(share=st.floats(0.32, 0.99), price=st.floats(31.0, 90.0))
def test_choose_diameters__more_loss_never_costs_more(share: float, price: float) -> None:
    line = straight_line(stations=121)
    small, large = two_sizes()
    offers = [small, Offer(pipe=large.pipe, price_per_m=price)]
    whole = 9.8
    tight = choose_diameters(line, offers, most_loss_m=max(3.6, share * whole), tolerance=0.0)
    loose = choose_diameters(line, offers, most_loss_m=whole, tolerance=0.0)
    assert loose.price <= tight.price + 1e-6
    bores = [run.pipe.inside_diameter_m for run in tight.schedule.runs]
    assert bores == sorted(bores, reverse=True)


def test_choose_diameters__worth_of_head_buys_larger_pipe() -> None:
    line = straight_line(stations=121)
    cheap = choose_diameters(line, two_sizes(), most_loss_m=12.0)
    dear = choose_diameters(line, two_sizes(), most_loss_m=12.0, price_per_lost_m=1e5)
    assert {run.pipe.nominal for run in cheap.schedule.runs} == {"8 in"}
    assert {run.pipe.nominal for run in dear.schedule.runs} == {"10 in"}
    assert dear.value == pytest.approx(dear.price + 1e5 * dear.loss_m)


def test_choose_diameters__head_at_a_summit_is_kept() -> None:
    line = straight_line(stations=121)
    raised = line.pipe_m.copy()
    raised[50] = 301.0 - 0.9
    over = ChoiceLine(
        station_m=line.station_m,
        slope_station_m=line.slope_station_m,
        pipe_m=raised,
        intake_level_m=303.0,
        highest_level_m=303.0,
        flow_m3_s=0.05,
        water=COLD,
        closing_s=60.0,
        entrance_k=0.0,
    )
    heads = np.full(121, np.nan)
    heads[50] = 0.3
    choice = choose_diameters(over, two_sizes(), most_loss_m=12.0, least_head_m=heads)
    flow = steady_flow(as_laid(over, choice), 0.05)
    bore = choice.schedule.per_station(over.station_m, "inside_diameter_m")
    assert flow.flowing_head_m[50] - bore[50] / 2 >= 0.3 - 1e-9
    free = choose_diameters(over, two_sizes(), most_loss_m=12.0)
    assert free.price < choice.price


def test_choose_diameters__stronger_below() -> None:
    line = straight_line(88.0, 800.0, 161, flow_m3_s=0.03, closing_s=40.0, entrance_k=0.5)
    offers = [
        Offer(pipe=FIND(f"PE100-SDR{ratio}-{size}"), price_per_m=price * (size / 200) ** 2)
        for ratio, price in (("26", 18.0), ("17", 26.0), ("11", 38.0))
        for size in (160, 180, 200, 225)
    ]
    choice = choose_diameters(line, offers, most_loss_m=7.0)
    assert choice.proved
    assert len(choice.schedule.runs) >= 2
    ratings = [run.pipe.rating_pa for run in choice.schedule.runs]
    assert ratings == sorted(ratings)
    _, rise = quick_surge(line, choice.schedule.runs[-1].pipe)
    laid = simple_line(
        line.station_m, line.pipe_m, choice.schedule.runs[0].pipe, intake_m=line.intake_level_m
    )
    checks = check_class(
        laid.with_pipes(choice.schedule), [SurgeLoad(name="closing", whole_rise_m=rise)]
    )
    assert all(1000.0 * (each.limit - each.demand) >= 0.5 * COLD.weight_n_m3 for each in checks)


def test_choose_diameters__nothing_within_the_loss() -> None:
    with pytest.raises(InputError, match=r"loses 1.00 m or less"):
        choose_diameters(straight_line(), two_sizes(), most_loss_m=1.0)


def test_sweep_pipes__whole_catalogue() -> None:
    line = straight_line(fall=60.0, stations=301)
    offers = [
        Offer(pipe=pipe, price_per_m=2.5 * (pipe.mass_kg_m or 0)) for pipe in load_catalogue()
    ]
    worth = Worth(price_per_kwh=0.12, interest=0.08, years=20, machine=level_efficiency(0.65, 0.2))
    sweep = sweep_pipes(line, offers, efficiency=0.65, worth=worth)
    assert len(sweep.offers) == 683
    assert np.all(np.isfinite(sweep.loss_aged_m))
    assert np.all(sweep.loss_new_m <= sweep.loss_aged_m)
    assert np.all(np.isfinite(sweep.class_margin_pa))
    assert np.all(sweep.wave_speed_m_s < 1450.0)
    assert np.all(np.diff(sweep.yearly_cost[sweep.order]) >= 0.0)
    assert np.all(sweep.holds[sweep.order])
    # one row by the room's own functions
    number = next(i for i, offer in enumerate(offers) if offer.pipe.id == "PE100-SDR17-250")
    pipe = offers[number].pipe
    friction = head_loss_darcy(
        flow_m3_s=0.05,
        length_m=1200.0,
        inside_diameter_m=pipe.inside_diameter_m,
        roughness_m=pipe.roughness_m,
        kinematic_viscosity_m2_s=COLD.kinematic_viscosity_m2_s,
    )
    assert sweep.loss_aged_m[number] == pytest.approx(friction, rel=1e-12)
    assert sweep.power_kw[number] == pytest.approx(power_kw(0.05, 61.0 - friction, 0.65, COLD))
    assert sweep.price[number] == pytest.approx(2.5 * pipe.mass_kg_m * 1200.0)
    cost = capital_recovery_factor(0.08, 20) * sweep.price[number]
    cost += 0.12 * 6000.0 * power_kw(0.05, friction, 0.65, COLD)
    assert sweep.yearly_cost[number] == pytest.approx(cost)


def test_sweep_pipes__warm_water_takes_pe_out_and_leaves_the_rest() -> None:
    line = straight_line(
        15.0, 300.0, 31, flow_m3_s=0.01, water=water_at(40.0), closing_s=30.0, entrance_k=0.5
    )
    pipes = [FIND("PE4710-IPS-DR11-4in"), FIND("STEEL-B3610-40-8in")]
    sweep = sweep_pipes(line, [Offer(pipe=pipe, price_per_m=1.0) for pipe in pipes], efficiency=0.6)
    assert np.isfinite(sweep.class_margin_pa[1])
    assert sweep.holds[1]


def test_lost_energy__is_the_difference_of_two_years() -> None:
    curve = flow_duration([0.0, 0.3, 1.0], [0.2, 0.06, 0.01])
    machine = level_efficiency(0.65, 0.2)
    worth = Worth(
        price_per_kwh=0.1, interest=0.05, years=20, machine=machine, curve=curve,
        residual_m3_s=0.01,
    )  # fmt: skip

    def year(loss: float) -> float:
        return yearly_energy(
            curve=curve,
            residual_m3_s=0.01,
            design_m3_s=0.05,
            net_head_m=lambda q: 60.0 - loss * (q / 0.05) ** 2,
            machine=machine,
            availability=0.92,
            water=COLD,
        ).energy_kwh

    losses = np.array([0.0, 3.0, 6.0, 59.0, 75.0])
    lost = lost_energy_kwh(
        worth, design_m3_s=0.05, gross_head_m=60.0, loss_at_design_m=losses, water=COLD
    )
    assert lost == pytest.approx([year(0.0) - year(loss) for loss in losses.tolist()], rel=1e-9)
    assert np.all(np.diff(lost) > 0.0)
