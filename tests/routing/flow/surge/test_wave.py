"""Wave speed of pipes: bounds, order of materials, what cannot be."""

from __future__ import annotations

import math

import numpy as np
import pytest

from routing.errors import PipeError
from routing.flow.surge import pipe_wave_speed_m_s, restraint_factor, wave_speed_m_s
from routing.pipe import load_catalogue, pipe_by_hand
from routing.water import water_at

COLD = water_at(10.0)


def test_pipe_wave_speed_m_s__whole_catalogue() -> None:
    open_water = math.sqrt(COLD.bulk_modulus_pa / COLD.density_kg_m3)
    bounds = {"PVC": (150, 700), "PE": (150, 560), "STEEL": (900, 1440), "DI": (950, 1350)}
    for pipe in load_catalogue():
        speed = pipe_wave_speed_m_s(pipe, COLD)
        low, high = bounds[pipe.material[:2] if pipe.material.startswith("PE") else pipe.material]
        assert low < speed < min(high, open_water), pipe.id


def test_pipe_wave_speed_m_s__default_is_the_safe_side() -> None:
    for pipe in load_catalogue():
        default = pipe_wave_speed_m_s(pipe, COLD)
        thick = pipe_wave_speed_m_s(pipe, COLD, thick_wall=True)
        jointed = pipe_wave_speed_m_s(pipe, COLD, restraint="expansion joints")
        upstream = pipe_wave_speed_m_s(pipe, COLD, restraint="anchored upstream")
        assert max(thick, jointed) < default
        assert upstream < 1.03 * default


def test_wave_speed_m_s__sweep() -> None:
    ratios = np.linspace(2.0, 200.0, 100)
    for elastic in np.geomspace(1e8, 2.1e11, 12).tolist():
        speeds = [
            wave_speed_m_s(
                bulk_modulus_pa=2.1e9, density_kg_m3=1000.0, elastic_pa=elastic, bore_per_wall=each
            )
            for each in ratios.tolist()
        ]
        assert np.all(np.isfinite(speeds))
        assert np.all(np.diff(speeds) < 0.0)
        assert max(speeds) < math.sqrt(2.1e6)


def test_restraint_factor__thick_form_meets_the_thin_one() -> None:
    for restraint in ("anchored", "anchored upstream", "expansion joints"):
        thin = restraint_factor(0.4, restraint)
        assert restraint_factor(0.4, restraint, bore_per_wall=1e6) == pytest.approx(thin, rel=1e-5)


def test_restraint_factor__thick_form_by_hand() -> None:
    # DR 7.3, nu 0.45: 2 / 5.3 * 1.45 + 5.3 / 6.3 * 0.7975
    factor = restraint_factor(0.45, bore_per_wall=5.3)
    assert factor == pytest.approx(0.547170 + 0.670913, abs=2e-6)


def test_pipe_wave_speed_m_s__what_cannot_be() -> None:
    pipe = load_catalogue().find("PVC-C900-DR18-8in")
    assert pipe_wave_speed_m_s(pipe, COLD, speed_m_s=420.0) == 420.0
    for speed in (99.0, 1500.0, math.nan):
        with pytest.raises(PipeError, match="wave speed"):
            pipe_wave_speed_m_s(pipe, COLD, speed_m_s=speed)
    unknown = pipe_by_hand(material="bamboo", inside_diameter_m=0.1, wall_m=0.01, roughness_m=1e-4)
    with pytest.raises(PipeError, match="bamboo"):
        pipe_wave_speed_m_s(unknown, COLD)
    assert pipe_wave_speed_m_s(unknown, COLD, speed_m_s=600.0) == 600.0
    by_hand = pipe_by_hand(material="GRP", inside_diameter_m=0.4, wall_m=0.008, roughness_m=1e-4)
    assert 600.0 < pipe_wave_speed_m_s(by_hand, COLD) < 700.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: restraint_factor(0.6),
        lambda: restraint_factor(0.3, "glued"),
        lambda: restraint_factor(0.3, bore_per_wall=0.0),
        lambda: wave_speed_m_s(
            bulk_modulus_pa=2e9, density_kg_m3=0.0, elastic_pa=1e9, bore_per_wall=20.0
        ),
    ],
)
def test_wave__refuses_what_cannot_be(call: object) -> None:
    with pytest.raises(PipeError):
        call()
