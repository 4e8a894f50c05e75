"""Air through vents and air in falling pipes against published and independently computed values.

Where a value is called computed it was worked out apart from this project.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from published import gives, published, table
from scipy.integrate import quad

from routing.errors import InputError
from routing.fittings.air_carry import (
    carrying_velocity_m_s,
    carrying_velocity_sanks_m_s,
    pocket_factor,
)
from routing.fittings.size.air_flow import (
    air_bore_m,
    air_mass_flow_kg_s,
    critical_pressure_ratio,
    open_vent_cd,
    orifice_air_m3_s,
)
from routing.fittings.size.vent_cases import vent_cases
from routing.flow import friction_factor

PSI = 6894.757293168
SEA = 101_325.0
INCH = 0.0254
CFM = 0.3048**3 / 60.0
G = 9.80665
GIVEN = {"cd": 0.7, "atmosphere_pa": SEA}


def inflow(vacuum_pa: float, bore_m: float = INCH, **more: float) -> float:
    return orifice_air_m3_s(
        difference_pa=vacuum_pa, inward=True, **{**GIVEN, "bore_m": bore_m, **more}
    )


def outflow(pressure_pa: float, bore_m: float = INCH, **more: float) -> float:
    return orifice_air_m3_s(
        difference_pa=pressure_pa, inward=False, **{**GIVEN, "bore_m": bore_m, **more}
    )


# Orifice of 25.4 mm, Cd 0.7, sea level, 15.6 degC, psi to scfm and m3/s; identical to the form
# 678 Y d2 Cd root(dp p1/(T SG)) of AWWA Manual M51 (from memory of it).
test_free_air__published_checks = published(
    table(
        "independently computed",
        [(1, 76.9, 0.0363), (2, 104.3, 0.0492), (3.5, 128.9, 0.0608), (5, 142.4, 0.0672)],
        gives(lambda psi: inflow(psi * PSI) / CFM, abs=0.05),
        gives(lambda psi: inflow(psi * PSI), abs=0.00005),
    ),
    table(
        "independently computed",
        [(2, 112.3), (5, 176.3)],
        gives(lambda psi: outflow(psi * PSI) / CFM, abs=0.05),
    ),
)


@pytest.mark.parametrize("psi", [0.5, 1.0, 2.0, 3.5, 5.0, 6.5])
def test_free_air_in__form_of_the_american_manual(psi: float) -> None:
    # 678 Y d2 Cd root(dp p1/(T SG)), scfm, in, psi, degrees Rankine; Y of a nozzle without
    # approach (ASME MFC-3M, from memory of it). AWWA Manual M51, from memory of it.
    p1, warm = SEA / PSI, (15.6 + 273.15) * 1.8
    ratio, gas = (p1 - psi) / p1, 1.4
    nozzle = math.sqrt(
        ratio ** (2 / gas) * gas / (gas - 1) * (1 - ratio ** ((gas - 1) / gas)) / (1 - ratio)
    )
    scfm = 678.0 * nozzle * 0.7 * math.sqrt(psi * p1 / warm)
    assert inflow(psi * PSI) / CFM == pytest.approx(scfm, rel=1e-3)


def test_sonic_limit__published() -> None:
    # AWWA Manual M51 (standards.biao-zhun.cn copy): sonic at a pressure ratio of about 0.53, about
    # 7 psi of vacuum at sea level; computed 47.8 kPa.
    assert critical_pressure_ratio() == pytest.approx(0.5283, abs=0.00005)
    limit = (1.0 - critical_pressure_ratio()) * SEA
    assert limit / 1000.0 == pytest.approx(47.8, abs=0.05)
    assert limit / PSI == pytest.approx(7.0, abs=0.5)
    assert inflow(limit) == pytest.approx(inflow(0.9 * SEA), rel=1e-12)
    assert inflow(0.98 * limit) < inflow(limit)


def test_mass_flow__energy_balance_of_the_expansion() -> None:
    # dh = dp/rho along the isentrope, integrated numerically, gives the velocity of the jet.
    p1, p2, warm, gas, r_air = SEA, 75_000.0, 285.0, 1.4, 287.05
    rho1 = p1 / (r_air * warm)
    head, _ = quad(lambda p: (p / p1) ** (-1 / gas) / rho1, p2, p1)
    rho2 = rho1 * (p2 / p1) ** (1 / gas)
    area = math.pi / 4 * 0.03**2
    got = air_mass_flow_kg_s(
        cd=0.7, bore_m=0.03, before_pa=p1, after_pa=p2, temperature_c=warm - 273.15
    )
    assert got == pytest.approx(0.7 * area * rho2 * math.sqrt(2 * head), rel=1e-9)


def test_bores__published_fill_and_break() -> None:
    # Independently computed. DN300: filled at 0.3 m/s against 2 psi, and broken on a slope of
    # sine 0.10 with f 0.014 at 34.5 kPa: V 6.483 m/s, Q 0.4583 m3/s; bores 16.1 and 66.3 mm.
    area = math.pi / 4 * 0.3**2
    assert 1000 * 0.3 * area == pytest.approx(21.2, abs=0.05)
    velocity = math.sqrt(2 * G * 0.3 * 0.10 / 0.014)
    assert velocity == pytest.approx(6.483, abs=0.0005)
    assert velocity * area == pytest.approx(0.4583, abs=0.0001)
    fill, drain, burst = vent_cases(
        fill_m3_s=0.3 * area,
        drain_m3_s=0.0,
        break_m3_s=velocity * area,
        release_m3_s=None,
        release_pa=None,
        vacuum_pa=34_500.0,
        altitude_m=0.0,
        open_length_m=None,
    )
    assert 1000 * fill.bore_m == pytest.approx(16.1, abs=0.05)
    assert 1000 * burst.bore_m == pytest.approx(66.3, abs=0.05)
    assert drain.bore_m == 0.0


def test_break__american_form() -> None:
    # q [scfm] = 0.0472 C root(S D5), D in inches, AWWA Manual M51, from memory of it. The constant
    # is (pi/4)(1/2) 60/12^2.5; C = root(8 g/f) in feet.
    assert math.pi / 4 / 2 * 60 / 12**2.5 == pytest.approx(0.0472, abs=0.00005)
    chezy = math.sqrt(8 * 32.174 / 0.014)
    assert chezy == pytest.approx(135.6, abs=0.05)
    scfm = 0.04723 * chezy * math.sqrt(0.1 * (0.3 / INCH) ** 5)
    area = math.pi / 4 * 0.3**2
    flow = area * math.sqrt(2 * G * 0.3 * 0.1 / 0.014)
    assert scfm * CFM == pytest.approx(flow, rel=5e-4)


def carried(formula):
    return lambda bore, degrees: formula(
        inside_diameter_m=bore, angle_rad=math.radians(degrees), gravity_m_s2=G
    )


CARRY = [
    (0.1, 1, 0.75, 0.85), (0.1, 5, 0.84, 0.89), (0.1, 10, 0.92, 0.92), (0.1, 20, 1.02, 0.96),
    (0.2, 1, 1.05, 1.20), (0.2, 5, 1.19, 1.26), (0.2, 10, 1.30, 1.30), (0.2, 20, 1.44, 1.36),
    (0.3, 1, 1.29, 1.47), (0.3, 5, 1.46, 1.54), (0.3, 10, 1.59, 1.59), (0.3, 20, 1.77, 1.67),
    (0.6, 1, 1.83, 2.08), (0.6, 5, 2.07, 2.18), (0.6, 10, 2.25, 2.25), (0.6, 20, 2.50, 2.36),
]  # fmt: skip

test_air_is_carried__tables = published(
    # bore, angle in degrees, velocity by the first formula and by the second
    table(
        "independently computed",
        CARRY,
        gives(carried(carrying_velocity_m_s), abs=0.0051),
        gives(carried(carrying_velocity_sanks_m_s), abs=0.0051),
    ),
    # a as n = 4 V/(pi D3) passes these limits
    table(
        "HR Wallingford report SR 649, from memory",
        [(0.0, 0.45), (0.06, 0.45), (0.061, 0.50), (0.12, 0.50), (0.121, 0.57), (0.30, 0.57),
         (0.301, 0.61), (50.0, 0.61)],
        gives(lambda n: pocket_factor(n * math.pi * 0.3**3 / 4, 0.3), abs=0.0),
    ),
)  # fmt: skip


def test_air_bore__gives_back_the_bore_over_the_whole_range() -> None:
    for altitude_air in (101_325.0, 79_500.0, 61_600.0):
        for bore in (0.005, 0.0254, 0.1, 0.5):
            for difference in np.geomspace(50.0, 0.99 * altitude_air, 25):
                given = {"atmosphere_pa": altitude_air, "cd": 0.7}
                air = inflow(difference, bore, **given)
                assert air_bore_m(
                    free_air_m3_s=air, difference_pa=difference, inward=True, **given
                ) == pytest.approx(bore, rel=1e-9)
                air = outflow(difference, bore, **given)
                assert air_bore_m(
                    free_air_m3_s=air, difference_pa=difference, inward=False, **given
                ) == pytest.approx(bore, rel=1e-9)


def test_free_air__sweep_is_finite_and_rises_to_the_sonic_limit() -> None:
    vacuum = np.linspace(0.0, SEA, 400)
    air = np.array([inflow(value) for value in vacuum])
    assert np.isfinite(air).all()
    assert air[0] == 0.0
    assert (np.diff(air) >= -1e-15).all()
    pressure = np.linspace(0.0, 1e6, 400)
    out = np.array([outflow(value) for value in pressure])
    assert (np.diff(out) > 0.0).all()
    # for a small difference both ways are the incompressible orifice
    rho = SEA / (287.05 * 288.75)
    plain = 0.7 * math.pi / 4 * INCH**2 * math.sqrt(2 * 50.0 / rho)
    assert inflow(50.0) == pytest.approx(plain, rel=1e-3)
    assert outflow(50.0) == pytest.approx(plain, rel=1e-3)


def test_open_vent__passes_less_than_a_valve_and_less_the_longer() -> None:
    lengths = np.linspace(0.0, 8.0, 30)
    cd = [open_vent_cd(length, 0.05) for length in lengths]
    assert max(cd) <= 0.7
    assert (np.diff(cd) < 0.0).all()
    wider = [open_vent_cd(length, 0.1) for length in lengths]
    assert (np.array(wider[1:]) > np.array(cd[1:])).all()
    # entry 0.5, return bend and screen 1.5, f 0.025 over 60 bores, exit 1: common practice
    assert open_vent_cd(3.0, 0.05) == pytest.approx(1 / math.sqrt(0.5 + 1.5 + 1.5 + 1.0), abs=1e-9)
    # f 0.025 is on the safe side of air in a smooth pipe of 50 mm at 50 m/s (Colebrook).
    assert friction_factor(50.0 * 0.05 / 1.47e-5, 1.5e-6 / 0.05) < 0.025


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("cd", 0.0),
        ("cd", 1.1),
        ("bore_m", -1.0),
        ("difference_pa", 2 * SEA),
        ("difference_pa", math.nan),
    ],
)
def test_orifice_air__refuses_what_cannot_be(name: str, value: float) -> None:
    given = {**GIVEN, "bore_m": 0.03, "difference_pa": 1e4, name: value}
    with pytest.raises(InputError):
        orifice_air_m3_s(inward=True, **given)
