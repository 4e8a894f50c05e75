"""Relief valves against independently computed values and the trade's rules."""

from __future__ import annotations

import math

import numpy as np
import pytest

from routing.errors import InputError
from routing.fittings.size.relief import (
    ReliefValve,
    relief_bore_m,
    relief_capacity_m3_s,
    relief_stages,
    size_relief_valve,
)
from routing.fittings.sizes import next_nominal

RHO = 999.7


def test_relief_capacity__independently_computed() -> None:
    # Q = 0.62 A root(2 p/rho): 25 mm at 10 bar passes 13.6 L/s.
    got = relief_capacity_m3_s(bore_m=0.025, pressure_pa=1e6, density_kg_m3=RHO)
    assert 1000 * got == pytest.approx(13.6, abs=0.05)


def _valve(**asked: float) -> ReliefValve:
    """Return the valve of a pipe of 200 mm with 5 bar at rest."""
    return size_relief_valve(
        station_m=0.0, static_pa=5e5, inside_diameter_m=0.2, density_kg_m3=RHO, **asked
    )


def test_relief_setting__rules_of_the_trade() -> None:
    # A tenth above static, common practice; a quarter inch per inch of pipe, NRCS Conservation
    # Practice Standard 430, from memory of it: 8 in pipe, 2 in valve.
    valve = _valve(allowed_pa=6e5, flow_m3_s=0.001)
    assert valve.least_setting_pa == pytest.approx(5.5e5)
    assert valve.can_be_set
    assert valve.bore_m == 0.05


def test_relief_setting__rating_too_near_static() -> None:
    valve = _valve(allowed_pa=5.4e5, flow_m3_s=0.02)
    assert not valve.can_be_set


def test_relief__sweep_passes_the_whole_flow() -> None:
    for static in np.geomspace(1e4, 3e6, 15):
        for flow in np.geomspace(1e-3, 0.3, 12):
            valve = size_relief_valve(
                station_m=0.0,
                static_pa=static,
                allowed_pa=2 * static,
                inside_diameter_m=0.3,
                flow_m3_s=flow,
                density_kg_m3=RHO,
            )
            assert valve.capacity_m3_s >= flow * (1 - 1e-9)
            assert valve.bore_m >= 0.075 - 1e-12
            bore = relief_bore_m(flow_m3_s=flow, pressure_pa=static, density_kg_m3=RHO)
            assert relief_capacity_m3_s(
                bore_m=bore, pressure_pa=static, density_kg_m3=RHO
            ) == pytest.approx(flow)


def test_relief__refuses_what_cannot_be() -> None:
    with pytest.raises(InputError, match="pressure"):
        relief_capacity_m3_s(bore_m=0.03, pressure_pa=math.nan, density_kg_m3=RHO)
    with pytest.raises(InputError, match="flow"):
        relief_bore_m(flow_m3_s=-1.0, pressure_pa=1e5, density_kg_m3=RHO)


@pytest.mark.parametrize("flow", [0.005, 0.02, 0.08, 0.2])
def test_relief_stages__pass_the_flow_within_the_window_and_none_is_large(flow: float) -> None:
    """Orifice law (Cd 0.62) summed over the valves; several small ones are common practice."""
    least, most, density = 7.0e5, 9.0e5, 1000.0
    bore = next_nominal(relief_bore_m(flow_m3_s=flow, pressure_pa=least, density_kg_m3=density))
    stages = relief_stages(
        least_pa=least, most_pa=most, flow_m3_s=flow, bore_m=bore, density_kg_m3=density
    )
    settings = [stage.setting_pa for stage in stages]
    assert settings == sorted(set(settings))
    assert settings[0] == least
    assert settings[-1] < most
    # By hand: 0.2 m3/s want 0.105 m at 700 kPa, four of 50 mm; three larger ones take their place.
    assert all(stage.bore_m <= 0.05 + 1e-9 for stage in stages) == (flow < 0.2)
    assert len(stages) == {0.005: 1, 0.02: 1, 0.08: 3, 0.2: 3}[flow]
    passed = sum(
        relief_capacity_m3_s(
            bore_m=stage.bore_m, pressure_pa=stage.setting_pa, density_kg_m3=density
        )
        for stage in stages
    )
    assert passed >= flow * (1.0 - 1e-9)
    # Torricelli: the jet of the first is sqrt(2 p / rho).
    assert stages[0].jet_m_s == pytest.approx((2.0 * least / density) ** 0.5)


def test_relief_setting__stays_shut_in_the_usual_closures() -> None:
    """Common practice: a valve that lifts at every stop wears out and floods its place."""
    given = {"station_m": 900.0, "static_pa": 793e3, "inside_diameter_m": 0.15}
    given |= {"flow_m3_s": 0.025, "density_kg_m3": RHO}
    calm = size_relief_valve(**given, allowed_pa=1200e3, usual_pa=850e3)
    assert calm.least_setting_pa == pytest.approx(1.1 * 793e3)
    harder = size_relief_valve(**given, allowed_pa=1200e3, usual_pa=892e3)
    assert harder.least_setting_pa == 892e3
    assert harder.stages[0].setting_pa >= 892e3
    assert harder.capacity_m3_s >= 0.025
    assert not size_relief_valve(**given, allowed_pa=880e3, usual_pa=892e3).can_be_set


def test_relief_stages__have_a_quarter_of_the_bore_of_the_pipe_between_them() -> None:
    """NRCS Conservation Practice Standard 430, from memory: a quarter inch per inch of pipe.

    Of several valves it is the area of all that counts: our own reading.
    """
    for pipe_m in (0.15, 0.3, 0.5, 0.8):
        valve = size_relief_valve(
            station_m=0.0,
            static_pa=5e5,
            allowed_pa=8e5,
            inside_diameter_m=pipe_m,
            flow_m3_s=0.001,
            density_kg_m3=RHO,
        )
        together = math.sqrt(sum(stage.bore_m**2 for stage in valve.stages))
        assert together >= pipe_m / 4.0 - 1e-12


def test_relief_stages__open_soon_after_each_other_however_strong_the_pipe() -> None:
    """Common practice: a tenth apart at most. By hand: 128 x 1.1 = 140.8, 128 x 1.2 = 153.6."""
    given = {"flow_m3_s": 0.11, "density_kg_m3": RHO, "bore_m": 0.125}
    stages = relief_stages(**given, least_pa=128e3, most_pa=1600e3)
    assert [stage.setting_pa for stage in stages[:3]] == pytest.approx([128e3, 140.8e3, 153.6e3])
    assert stages[-1].setting_pa == pytest.approx(128e3 * (1.0 + 0.1 * (len(stages) - 1)))
    narrow = relief_stages(**given, least_pa=128e3, most_pa=142e3)
    assert narrow[-1].setting_pa < 142e3
    assert narrow[1].setting_pa - 128e3 == pytest.approx(14e3 / len(narrow))
