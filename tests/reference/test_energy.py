"""Yearly energy, greatest power, money over years and first diameters, against worked values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from routing.errors import InputError
from routing.flow import (
    capital_recovery_factor,
    find_turbine,
    flow_duration,
    flow_duration_from_days,
    level_efficiency,
    most_power_loss_share,
    part_load,
    yearly_energy,
)
from routing.flow.energy import PartLoad, YearlyEnergy
from routing.water import water_at

COLD = water_at(10.0)
SHARES = [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]
FLOWS = [0.30, 0.12, 0.07, 0.045, 0.03, 0.015]


def worked(**changes: object) -> YearlyEnergy:
    arguments: dict[str, object] = {
        "curve": flow_duration(SHARES, FLOWS),
        "residual_m3_s": 0.010,
        "design_m3_s": 0.050,
        "net_head_m": lambda q: 60.0 - 6.0 * (q / 0.05) ** 2,
        "machine": level_efficiency(0.65, 0.2),
        "availability": 0.92,
        "water": COLD,
    }
    return yearly_energy(**{**arguments, **changes})  # type: ignore[arg-type]


def test_yearly_energy__worked_example() -> None:
    # flows 0.30 0.12 0.07 0.045 0.03 0.015 at 0 20 40 60 80 100 %, residual 0.010, design 0.050,
    # least 20 %, gross 60 m, loss 6 m at design (~ Q^2), 0.65, availability 0.92: rated 17.21 kW,
    # 103 600 kWh, capacity factor 0.687, rated all year 150 720 kWh; independently computed
    made = worked()
    assert made.rated_kw == pytest.approx(17.21, abs=5e-3)
    assert made.energy_kwh == pytest.approx(103_600, abs=50)
    assert made.capacity_factor == pytest.approx(0.687, abs=5e-4)
    assert made.rated_all_year_kwh == pytest.approx(150_720, abs=5)
    assert made.rated_all_year_kwh / made.energy_kwh == pytest.approx(1.45, abs=0.01)


def test_yearly_energy__six_point_trapezoid_of_the_same_example() -> None:
    # the same source: 101 970 kWh by the trapezoid rule on six points
    flows = np.clip(np.array(FLOWS) - 0.010, 0.0, 0.050)
    flows[flows < 0.2 * 0.05] = 0.0
    heads = 60.0 - 6.0 * (flows / 0.05) ** 2
    power = COLD.density_kg_m3 * 9.80665 * flows * heads * 0.65 / 1000
    energy = 8760 * 0.92 * float(np.sum(0.5 * (power[1:] + power[:-1]) * np.diff(SHARES)))
    assert energy == pytest.approx(101_970, abs=10)
    assert worked().energy_kwh > energy


@pytest.mark.parametrize("kind", ["pelton", "turgo", "crossflow", "francis", "pat", None])
def test_yearly_energy__against_adaptive_quadrature(kind: str | None) -> None:
    machine = part_load(find_turbine(kind))
    made = worked(machine=machine)
    curve = flow_duration(SHARES, FLOWS)

    def power(share: float) -> float:
        flow = min(0.05, max(0.0, float(curve.at(share)) - 0.010))
        head = 60.0 - 6.0 * (flow / 0.05) ** 2
        efficiency = float(machine.at(np.array([flow / 0.05]))[0])
        return COLD.density_kg_m3 * 9.80665 * flow * head * efficiency / 1000

    whole, _ = quad(power, 0.0, 1.0, limit=2000, points=np.linspace(0.01, 0.99, 99), epsabs=1e-7)
    assert made.energy_kwh == pytest.approx(8760 * 0.92 * whole, rel=2e-4)


@given(
    residual=st.floats(0.0, 0.05),
    design=st.floats(0.005, 0.2),
    efficiency=st.floats(0.2, 0.9),
    least=st.floats(0.0, 0.9),
)
def test_yearly_energy__never_above_rated_all_year_and_falls_with_the_residual(
    residual: float, design: float, efficiency: float, least: float
) -> None:
    def year(kept: float) -> YearlyEnergy:
        return worked(
            residual_m3_s=kept,
            design_m3_s=design,
            machine=level_efficiency(efficiency, least),
            net_head_m=lambda q: np.full_like(q, 50.0),
        )

    made = year(residual)
    assert 0.0 <= made.energy_kwh <= 0.92 * made.rated_all_year_kwh * (1 + 1e-12)
    assert 0.0 <= made.running_share <= 0.92 + 1e-12
    assert year(residual + 0.01).energy_kwh <= made.energy_kwh * (1 + 1e-9) + 1e-6


def test_yearly_energy__a_dry_stream_gives_nothing() -> None:
    assert worked(residual_m3_s=1.0).energy_kwh == 0.0
    assert worked(net_head_m=lambda q: np.full_like(q, -3.0)).energy_kwh == 0.0


def test_part_load__stands_below_the_least_flow() -> None:
    # Layman's guide, from memory: Francis 50, crossflow 15, Pelton 10, Turgo 20 % of design
    for kind, least in (("francis", 0.5), ("crossflow", 0.15), ("pelton", 0.1), ("turgo", 0.2)):
        machine = part_load(find_turbine(kind))
        below, at = machine.at(np.array([least - 0.01, least]))
        assert below == 0.0
        assert at > 0.0
    pump = part_load(find_turbine("pat"))
    assert list(pump.at(np.array([0.5, 0.99, 1.0]))) == pytest.approx([0.0, 0.0, 0.48])
    assert isinstance(pump, PartLoad)


def test_part_load__scaled_to_the_users_own() -> None:
    own = part_load(find_turbine("pelton"), 0.70)
    assert float(own.at(np.array([1.0]))[0]) == pytest.approx(0.70)
    assert float(own.at(np.array([0.5]))[0]) == pytest.approx(0.70 * 0.85 / 0.84)


def test_flow_duration_from_days__plotting_position() -> None:
    days = np.random.default_rng(3).gamma(2.0, 0.02, 730)
    curve = flow_duration_from_days(days)
    assert curve.exceeded_share[0] == pytest.approx(1 / 731)
    assert curve.flow_m3_s[0] == days.max()
    assert float(curve.at(0.5)) == pytest.approx(np.median(days))
    assert not curve.findings
    assert flow_duration_from_days(days[:400]).findings[0].code == "record_short"
    with_gap = np.concatenate((days, [np.nan]))
    assert np.array_equal(flow_duration_from_days(with_gap).flow_m3_s, curve.flow_m3_s)


def test_flow_duration_from_days__one_gauging_is_no_curve() -> None:
    with pytest.raises(InputError, match="energy is not estimated"):
        flow_duration_from_days([0.05])
    with pytest.raises(InputError, match="to and fro"):
        flow_duration([0.0, 0.5, 1.0], [0.1, 0.2, 0.05])


def test_most_power_loss_share__a_third() -> None:
    # loss ~ Q^2: a third; ~ Q^1.852: 1/2.852 = 0.3506; from the derivative
    assert most_power_loss_share() == pytest.approx(1 / 3)
    assert most_power_loss_share(1.852) == pytest.approx(0.3506, abs=5e-5)


def test_capital_recovery_factor__published() -> None:
    # engineersedge.com/calculators/capital_recovery_factors_15667: 8 %, 10 y 0.14903;
    # 8 %, 20 y 0.10185 independently computed
    assert capital_recovery_factor(0.08, 10) == pytest.approx(0.14903, abs=5e-6)
    assert capital_recovery_factor(0.08, 20) == pytest.approx(0.10185, abs=5e-6)


@given(st.floats(0.0, 0.3), st.integers(1, 60))
def test_capital_recovery_factor__payments_repay_the_loan(interest: float, years: int) -> None:
    factor = capital_recovery_factor(interest, years)
    owed = 1.0
    for _ in range(years):
        owed = owed * (1.0 + interest) - factor
    assert owed == pytest.approx(0.0, abs=1e-8 * (1.0 + interest) ** years)
    assert factor >= 1.0 / years - 1e-12
