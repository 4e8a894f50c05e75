"""Friction formulas against published values, the fluids library and a root finder."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids.friction import Colebrook
from published import gives, published, table
from scipy.optimize import brentq

from routing.errors import InputError
from routing.flow import (
    flow_for_gradient,
    friction_factor,
    head_loss_darcy,
    head_loss_hazen_williams,
)

NU = 1.308e-6
"""Kinematic viscosity of water at 10 degC as the tables below take it [m2/s]."""

GPM = 3.785412e-3 / 60.0
INCH = 0.0254
FOOT = 0.3048

# Re, e/D, Colebrook, Haaland, Swamee and Jain; the explicit formulas are right to about 2 %
test_friction_factor__table = published(
    table(
        "independently computed",
        [
            (1e4, 1e-3, 0.032382, 0.032175, 0.032665),
            (1e5, 1e-4, 0.018514, 0.018265, 0.018452),
            (1e5, 1e-3, 0.022175, 0.021966, 0.022342),
            (1e6, 1e-5, 0.011870, 0.011767, 0.011853),
            (1e6, 1e-4, 0.013441, 0.013326, 0.013508),
            (1e6, 1e-2, 0.037965, 0.038036, 0.038012),
            (5e5, 0.0, 0.013158, 0.013067, 0.013090),
        ],
        gives(friction_factor, abs=5e-7),
        gives(friction_factor, rel=0.02),
        gives(friction_factor, rel=0.02),
    )
)


@pytest.mark.parametrize("rough", [0.0, 1e-7, 1e-5, 1e-3, 0.01, 0.05])
def test_friction_factor__colebrook_of_fluids_over_the_whole_range(rough: float) -> None:
    for re in np.geomspace(4000.0, 1e8, 41).tolist():
        assert friction_factor(re, rough) == pytest.approx(Colebrook(re, rough), rel=1e-12)


@pytest.mark.parametrize("rough", [0.0, 1e-5, 1e-3, 0.05])
@pytest.mark.parametrize("re", [4000.0, 1e5, 1e8])
def test_friction_factor__root_finder(re: float, rough: float) -> None:
    def residual(f: float) -> float:
        return 1 / math.sqrt(f) + 2 * math.log10(rough / 3.7 + 2.51 / (re * math.sqrt(f)))

    root = brentq(residual, 1e-3, 0.2, xtol=1e-15, rtol=1e-14)
    assert friction_factor(re, rough) == pytest.approx(root, rel=1e-12)


def test_friction_factor__laminar_and_blend() -> None:
    # Hagen and Poiseuille: f = 64/Re
    for re in (1e-3, 1.0, 100.0, 1999.0, 2000.0):
        assert friction_factor(re, 0.01) == pytest.approx(64.0 / re, rel=1e-15)
    for rough in (0.0, 1e-3, 0.05):
        middle = 0.5 * (0.032 + Colebrook(4000.0, rough))
        assert friction_factor(3000.0, rough) == pytest.approx(middle, rel=1e-12)


@pytest.mark.parametrize("rough", [0.0, 1e-4, 0.05])
def test_friction_factor__continuous_where_formulas_meet(rough: float) -> None:
    for re in (2000.0, 4000.0):
        below, above = (
            friction_factor(re * (1 - 1e-12), rough),
            friction_factor(re * (1 + 1e-12), rough),
        )
        assert below == pytest.approx(above, rel=1e-10)


def test_friction_factor__sweep() -> None:
    re = np.geomspace(1.0, 1e8, 400)[:, None]
    rough = np.concatenate(([0.0], np.geomspace(1e-7, 0.05, 40)))[None, :]
    factor = friction_factor(re, rough)
    assert factor.shape == (400, 41)
    assert np.all(np.isfinite(factor))
    assert np.all(factor > 0)
    # rougher pipe never has less friction; in laminar flow roughness does not count
    assert np.all(np.diff(factor, axis=1) >= -1e-15)
    assert np.all(factor[re[:, 0] <= 2000] == 64 / re[re[:, 0] <= 2000])
    # f Re^2 is head lost without its dimensions: more flow always loses more
    assert np.all(np.diff(factor * re**2, axis=0) > 0)


@pytest.mark.parametrize(
    ("re", "rough"),
    [(0.0, 0.0), (-1.0, 0.0), (math.nan, 0.0), (1e5, -1e-9), (1e5, 0.0501), (1e5, math.nan)],
)
def test_friction_factor__outside_its_range(re: float, rough: float) -> None:
    with pytest.raises(InputError, match=r"is .*finite"):
        friction_factor(re, rough)


def pipe_of(q_l_s: float, d: float, length_m: float = 1000.0) -> dict[str, float]:
    return {"flow_m3_s": q_l_s / 1000, "length_m": length_m, "inside_diameter_m": d}


def darcy(d: float, q: float, e: float) -> float:
    return head_loss_darcy(**pipe_of(q, d), roughness_m=e / 1000, kinematic_viscosity_m2_s=NU)


def hazen(d: float, q: float, c: float) -> float:
    return head_loss_hazen_williams(**pipe_of(q, d), c=c)


def us_feet(bore_in: float, length_m: float, c: float) -> float:
    """Return what 10 gallons a minute lose, by the American form."""
    given = pipe_of(1e4 * GPM, bore_in * INCH, length_m)
    return head_loss_hazen_williams(**given, c=c, form="us")


# D [m], Q [L/s], e [mm], C: Darcy-Weisbach and Hazen-Williams [m/km] at 10 degC
test_head_losses__gradient_tables = published(
    table(
        "independently computed",
        [
            (0.050, 1.5, 0.0015, 150, 14.112, 12.732),
            (0.100, 8, 0.0015, 150, 10.069, 9.664),
            (0.200, 40, 0.0015, 150, 6.522, 6.509),
            (0.200, 40, 0.05, 140, 7.222, 7.396),
            (0.300, 100, 0.0015, 150, 4.866, 4.930),
            (0.300, 100, 0.15, 130, 6.160, 6.426),
            (0.500, 350, 0.05, 140, 4.517, 4.737),
            (0.900, 1600, 0.3, 120, 5.619, 6.006),
        ],
        gives(lambda d, q, e, _c: darcy(d, q, e), abs=6e-4),
        # the constant 10.674 is rounded to five digits
        gives(lambda d, q, _e, c: hazen(d, q, c), rel=2e-4),
    ),
    table(
        "Nevada Administrative Code 444.8396 (law.cornell.edu/regulations/nevada/NAC-444-8396)",
        [(1.049, 100.0, 150.0, 5.50), (1.380, 100.0, 150.0, 1.46), (1.610, 100.0, 150.0, 0.70),
         (2.067, 100.0, 150.0, 0.21)],
        gives(us_feet, rel=0.03),  # the table is rounded to two figures
    ),
    table(
        "livestock watering factsheet (scribd.com/doc/83303824), psi over 100 ft",
        [(1.380, 100 * FOOT, 140.0, 0.72)],
        gives(lambda *given: us_feet(*given) / FOOT * 0.433, abs=0.005),
    ),
)  # fmt: skip


@pytest.mark.parametrize("bore", [1.049, 1.380, 1.610, 2.067])
def test_head_loss_hazen_williams__both_forms_agree(bore: float) -> None:
    flow = pipe_of(1e4 * GPM, bore * INCH, 100.0)
    assert head_loss_hazen_williams(**flow, c=150.0) == pytest.approx(
        us_feet(bore, 100.0, 150.0), rel=0.02
    )


def test_head_loss_hazen_williams__two_forms_differ_by_their_exponents() -> None:
    flow = {"flow_m3_s": 0.008, "length_m": 100.0, "inside_diameter_m": 4 * INCH, "c": 150.0}
    ratio = head_loss_hazen_williams(**flow, form="us") / head_loss_hazen_williams(**flow)
    assert abs(ratio - 1.0) == pytest.approx(0.015, abs=0.001)  # independently computed


def implied_c(d: float, v: float) -> float:
    """Return the C that new plastic (e 0.0015 mm) has at 10 degC."""
    flow = pipe_of(1000.0 * v * math.pi / 4 * d * d, d, 1.0)
    lost = head_loss_darcy(**flow, roughness_m=1.5e-6, kinematic_viscosity_m2_s=NU)
    return 100.0 * (head_loss_hazen_williams(**flow, c=100.0) / lost) ** (1 / 1.852)


def free_flow_l_s(d: float, e_mm: float, gradient: float) -> float:
    return 1000.0 * flow_for_gradient(
        gradient=gradient,
        inside_diameter_m=d,
        roughness_m=e_mm / 1000,
        kinematic_viscosity_m2_s=NU,
    )


test_inverse_formulas__worked_values = published(
    table(
        "C of new plastic at a bore [m] and velocity [m/s]; independently computed",
        [
            (0.05, 0.3, 135), (0.05, 1, 144), (0.05, 2, 147), (0.05, 3, 149),
            (0.1, 0.3, 139), (0.1, 1, 147), (0.1, 2, 150), (0.1, 3, 151),
            (0.3, 0.3, 145), (0.3, 1, 150), (0.3, 2, 152), (0.3, 3, 153),
            (1.0, 0.3, 148), (1.0, 1, 152), (1.0, 2, 153), (1.0, 3, 153),
        ],
        gives(implied_c, abs=0.6),
    ),
    table("independently computed", [(0.2, 0.0015, 0.02, 74.220)], gives(free_flow_l_s, abs=6e-4)),
)  # fmt: skip


@pytest.mark.parametrize("d", [0.025, 0.2, 1.0])
@pytest.mark.parametrize("relative", [0.0, 1e-4, 0.05])
def test_flow_for_gradient__inverse_over_the_whole_range(d: float, relative: float) -> None:
    pipe = {
        "inside_diameter_m": d,
        "roughness_m": relative * d,
        "kinematic_viscosity_m2_s": NU,
    }
    for gradient in np.geomspace(1e-10, 1.0, 61).tolist():
        flow = flow_for_gradient(gradient=gradient, **pipe)
        assert head_loss_darcy(flow_m3_s=flow, length_m=1.0, **pipe) == pytest.approx(
            gradient, rel=1e-10
        )


def test_flow_for_gradient__level_pipe_carries_nothing() -> None:
    assert (
        flow_for_gradient(
            gradient=0.0, inside_diameter_m=0.2, roughness_m=0.0, kinematic_viscosity_m2_s=NU
        )
        == 0.0
    )


def test_head_loss_darcy__laminar_flow_of_hagen_and_poiseuille() -> None:
    # h = 128 nu L Q / (pi g D^4)
    d, q = 0.1, 1e-4
    exact = 128 * NU * 50.0 * q / (math.pi * 9.80665 * d**4)
    assert head_loss_darcy(
        flow_m3_s=q, length_m=50.0, inside_diameter_m=d, roughness_m=1e-4,
        kinematic_viscosity_m2_s=NU,
    ) == pytest.approx(exact, rel=1e-12)  # fmt: skip


def test_head_loss_darcy__still_water_and_arrays() -> None:
    losses = head_loss_darcy(
        flow_m3_s=np.array([0.0, 0.01, 0.02]),
        length_m=100.0,
        inside_diameter_m=0.1,
        roughness_m=1e-5,
        kinematic_viscosity_m2_s=NU,
    )
    assert losses[0] == 0.0
    assert losses[2] > 3.0 * losses[1] > 0.0


@pytest.mark.parametrize(
    "bad",
    [
        {"flow_m3_s": -0.01},
        {"flow_m3_s": math.nan},
        {"length_m": -1.0},
        {"inside_diameter_m": 0.0},
        {"roughness_m": 0.0101},
        {"roughness_m": -1e-6},
        {"kinematic_viscosity_m2_s": 0.0},
    ],
)
def test_head_loss_darcy__bad_input(bad: dict[str, float]) -> None:
    good = {
        "flow_m3_s": 0.04,
        "length_m": 100.0,
        "inside_diameter_m": 0.2,
        "roughness_m": 1e-5,
        "kinematic_viscosity_m2_s": NU,
    }
    with pytest.raises(InputError, match="Give"):
        head_loss_darcy(**(good | bad))


@pytest.mark.parametrize(
    "bad", [{"flow_m3_s": -1.0}, {"length_m": -1.0}, {"inside_diameter_m": 0.0}]
)
def test_empirical_formulas__bad_input(bad: dict[str, float]) -> None:
    good = {"flow_m3_s": 0.04, "length_m": 100.0, "inside_diameter_m": 0.2}
    with pytest.raises(InputError):
        head_loss_hazen_williams(**(good | bad), c=140.0)


def test_empirical_formulas__bad_coefficient() -> None:
    flow = {"flow_m3_s": 0.04, "length_m": 100.0, "inside_diameter_m": 0.2}
    with pytest.raises(InputError, match="coefficient C"):
        head_loss_hazen_williams(**flow, c=0.0)


def test_friction_factor__one_number_as_an_array_of_them() -> None:
    for reynolds in np.concatenate([np.linspace(10.0, 6000.0, 400), np.geomspace(6e3, 1e8, 200)]):
        for relative in (0.0, 1e-5, 1e-3, 0.05):
            (many,) = friction_factor(np.array([reynolds]), relative)
            assert friction_factor(float(reynolds), relative) == pytest.approx(many, rel=1e-14)
