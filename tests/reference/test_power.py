"""Power and the greatest power of a pipe, against worked values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from published import gives, published, table
from scipy.optimize import minimize_scalar

from routing.errors import InputError
from routing.flow import (
    find_turbine,
    head_loss_hazen_williams,
    power_kw,
)
from routing.water import water_at

COLD = water_at(10.0)


def watts(gallons: float, feet: float) -> float:
    return 1000 * power_kw(gallons * 3.785412e-3 / 60, feet * 0.3048, 1.0, COLD)


test_power_kw__worked_values = published(
    table(
        "independently computed at 10 degC",
        [(0.05, 60.0, 0.7, 20.588)],
        gives(lambda q, h, share: power_kw(q, h, share, COLD), abs=5e-4),
    ),
    # the thumb rule of landowners, W = gpm x ft/12, gives 100 W of these
    table(
        "westcoastgreen.com/micro-hydro-power",
        [(30, 40, 226.3, 0.442)],
        gives(watts, abs=0.3),
        gives(lambda gallons, feet: 100 / watts(gallons, feet), abs=0.0006),
    ),
)


def _best_share(exponent_loss: object) -> float:
    """Return the share of the gross head that is lost where power is greatest."""
    gross = 60.0

    def minus_power(flow: float) -> float:
        return -power_kw(flow, gross - exponent_loss(flow), 1.0, COLD)  # type: ignore[operator]

    best = minimize_scalar(
        minus_power, bounds=(1e-4, 0.2), method="bounded", options={"xatol": 1e-9}
    )
    return float(exponent_loss(best.x)) / gross  # type: ignore[operator]


def test_power_kw__greatest_where_a_third_of_the_head_is_lost() -> None:
    # loss ~ Q^2: a third; loss ~ Q^1.852: 1/2.852 = 0.3506; both from the derivative
    pipe = {"length_m": 1200.0, "inside_diameter_m": 0.2}
    assert _best_share(lambda q: 4e3 * q * q) == pytest.approx(1 / 3, abs=1e-4)
    smooth = _best_share(lambda q: head_loss_hazen_williams(flow_m3_s=q, c=150.0, **pipe))
    assert smooth == pytest.approx(0.3506, abs=1e-4)


def test_power_kw__sweep_is_linear_and_never_negative() -> None:
    for head in np.linspace(-20.0, 300.0, 33).tolist():
        power = power_kw(0.02, head, 0.64, COLD)
        assert power >= 0.0
        assert power_kw(0.04, head, 0.64, COLD) == pytest.approx(2 * power)
        assert power_kw(0.02, head, 0.32, COLD) == pytest.approx(power / 2)
        assert (power == 0.0) == (head <= 0.0)


@pytest.mark.parametrize("efficiency", [0.0, -0.1, 1.01, 64.0, math.nan])
def test_power_kw__bad_efficiency(efficiency: float) -> None:
    with pytest.raises(InputError, match="efficiency"):
        power_kw(0.02, 60.0, efficiency, COLD)


def test_power_kw__bad_flow() -> None:
    with pytest.raises(InputError, match="flow"):
        power_kw(-0.02, 60.0, 0.64, COLD)


def test_find_turbine__assumed_efficiency() -> None:
    # hydrover.co.uk/efficiency-and-part-load: half of the water power is often quoted below
    # 10 kW, good small machines 70 to 75 %
    assert find_turbine(None).water_to_wire == 0.5
    assert find_turbine("wheel").kind == "any"
    assert find_turbine(" PAT ").kind == "pump as turbine"
    for kind in ("pelton", "turgo", "crossflow", "francis", "pump as turbine"):
        turbine = find_turbine(kind)
        assert turbine.kind == kind
        assert 0.45 <= turbine.water_to_wire <= 0.75
        assert turbine.part_load_efficiency[-1] == turbine.efficiency_design
        assert len(turbine.part_load_efficiency) == len(turbine.part_load_fraction)
