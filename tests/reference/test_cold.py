"""Frost and freezing times against published and independently computed values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from published import gives, published, table, value
from scipy.integrate import solve_ivp

from routing.errors import InputError
from routing.fittings.frost.cold import (
    frost_depth_m,
    heat_resistance_m_k_w,
    least_running_flow_m3_s,
    standing_time_s,
)

INCH = 0.0254
BTU_IN = 0.1442279
"""1 Btu in/(h ft2 F) in W/(m K), exact from the units."""


def frozen_ground(**more: float) -> float:
    return frost_depth_m(freezing_index_c_days=500.0, **more)


def hours_of_two_inch_pipe(air_f: float) -> float:
    """Return when water of 42 F stands frozen under 1.5 in of insulation."""
    resistance = heat_resistance_m_k_w(
        outside_diameter_m=2.375 * INCH,
        insulation_m=1.5 * INCH,
        insulation_w_m_k=0.30 * BTU_IN,
        film_w_m2_k=math.inf,
    )
    seconds = standing_time_s(
        inside_diameter_m=2.067 * INCH,
        resistance_m_k_w=resistance,
        start_c=(42 - 32) / 1.8,
        air_c=(air_f - 32) / 1.8,
    )
    return seconds / 3600


def bridge(layer_m: float) -> float:
    """Return the heat resistance of a pipe of 219 mm in the wind, 25 W/(m2 K)."""
    return heat_resistance_m_k_w(outside_diameter_m=0.219, insulation_m=layer_m)


def running(layer_m: float) -> float:
    """Return the least flow [L/s] over a bridge of 30 m, air -20 degC, water +1 degC."""
    return 1000 * least_running_flow_m3_s(
        length_m=30.0, resistance_m_k_w=bridge(layer_m), start_c=1.0, air_c=-20.0
    )


def cooling_min() -> float:
    return standing_time_s(
        inside_diameter_m=0.2027, resistance_m_k_w=bridge(0.0), start_c=1.0, air_c=-20.0
    ) / 60  # fmt: skip


COMPUTED = "independently computed"
test_cold__published_and_computed = published(
    # k 2.0, index 500, 1600 kg/m3, 15 % of water; US Army cold-regions manuals, from memory
    value("Stefan's formula", 1.468, frozen_ground, abs=0.0005),
    value(
        "Stefan's formula, all given", 1.468,
        lambda: frozen_ground(conductivity_w_m_k=2.0, dry_density_kg_m3=1600.0, moisture=0.15,
                              surface_factor=1.0),
        abs=0.0005,
    ),
    table(
        "engineersedge.com/calculators/time_to_freeze_piping_15700",
        [(-18, 1.4), (20, 4.6)],
        gives(hours_of_two_inch_pipe, abs=0.05),
    ),
    # The page counts 1 Btu/(lb F), 0.1 % less than taken here.
    table(COMPUTED, [(-18, 1.38), (20, 4.58)], gives(hours_of_two_inch_pipe, abs=0.0085)),
    table(COMPUTED, [(0.0, 0.0581)], gives(bridge, abs=0.00005)),
    table(COMPUTED, [(0.05, 1.750)], gives(bridge, abs=0.0005)),
    table(COMPUTED, [(0.0, 2.52)], gives(running, abs=0.0051)),
    table(COMPUTED, [(0.05, 0.084)], gives(running, abs=0.0005)),
    value("independently computed, bare pipe cools by 1 K", 6.0, cooling_min, abs=0.5),
)  # fmt: skip


def test_frost_depth__heat_of_a_growing_layer() -> None:
    # The same by marching the layer's growth: what conduction draws off is what freezing gives.
    drawn, latent = 2.0 * 10.0, 334_000.0 * 1600.0 * 0.15
    done = solve_ivp(
        lambda _t, x: [drawn / (latent * x[0])], (0.0, 50 * 86_400.0), [1e-3], rtol=1e-8, atol=1e-9
    )
    assert frost_depth_m(freezing_index_c_days=500.0) == pytest.approx(done.y[0, -1], abs=1e-5)


def test_running_flow__outlet_temperature_by_marching() -> None:
    resistance, flow = 0.06, 0.003
    held = 1000.0 * 4190.0 * flow
    done = solve_ivp(
        lambda _x, t: [-(t[0] + 20.0) / (resistance * held)],
        (0.0, 30.0),
        [1.0],
        rtol=1e-10,
        atol=1e-12,
    )
    end = float(done.y[0, -1])
    got = least_running_flow_m3_s(
        length_m=30.0, resistance_m_k_w=resistance, start_c=1.0, air_c=-20.0, end_c=end
    )
    assert got == pytest.approx(flow, rel=1e-7)


def test_water_under_ice__no_flow_is_enough_and_no_time_is_left() -> None:
    # The trap: streams under ice arrive at 0.0 degC.
    flow = least_running_flow_m3_s(length_m=1.0, resistance_m_k_w=1.0, start_c=0.0, air_c=-5.0)
    assert flow == math.inf
    assert (
        standing_time_s(inside_diameter_m=0.2, resistance_m_k_w=1.0, start_c=0.0, air_c=-5.0) == 0.0
    )


def test_cold__sweeps() -> None:
    index = np.linspace(0.0, 4000.0, 60)
    depth = [frost_depth_m(freezing_index_c_days=value) for value in index]
    assert depth[0] == 0.0
    assert (np.diff(depth) > 0.0).all()
    wet = [frost_depth_m(freezing_index_c_days=500.0, moisture=w) for w in (0.05, 0.15, 0.4)]
    assert wet[0] > wet[1] > wet[2]
    for air in np.linspace(-40.0, -0.5, 20):
        layers = np.linspace(0.0, 0.2, 15)
        held = [
            heat_resistance_m_k_w(outside_diameter_m=0.1, insulation_m=layer) for layer in layers
        ]
        times = [
            standing_time_s(inside_diameter_m=0.09, resistance_m_k_w=r, start_c=4.0, air_c=air)
            for r in held
        ]
        flows = [
            least_running_flow_m3_s(length_m=20.0, resistance_m_k_w=r, start_c=4.0, air_c=air)
            for r in held
        ]
        assert (np.diff(times) > 0.0).all()
        assert (np.diff(flows) < 0.0).all()
        assert np.isfinite([*times, *flows]).all()


def test_cold__refuses_what_cannot_be() -> None:
    with pytest.raises(InputError, match="freezing index"):
        frost_depth_m(freezing_index_c_days=-1.0)
    with pytest.raises(InputError, match="moisture"):
        frost_depth_m(freezing_index_c_days=1.0, moisture=0.0)
    with pytest.raises(InputError, match="does not cool"):
        standing_time_s(inside_diameter_m=0.2, resistance_m_k_w=1.0, start_c=3.0, air_c=5.0)
    with pytest.raises(InputError, match="conductivity"):
        frost_depth_m(freezing_index_c_days=1.0, conductivity_w_m_k=-2.0)
