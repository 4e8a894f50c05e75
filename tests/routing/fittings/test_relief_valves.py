"""Relief valves asked for and proposed: their window, what they pass, and what is said of them.

Pressures are rho g h by hand (water of 10 degC weighs 9803.7 N/m3); the tenth over rest is common
practice, the quarter of the bore NRCS Conservation Practice Standard 430, from memory.
"""

from __future__ import annotations

import itertools
import math

import pytest
from made_line import sizes_of

from routing.errors import InputError
from routing.fittings.inputs import GivenRelief

HILL = ([0.0, 400.0, 700.0], [100.0, 60.0, 40.0])
WEIGHT = 999.7 * 9.80665
REST = 61.0 * WEIGHT
"""At the end: the intake's water stands 1 m over the first station [Pa]."""


def valves_of(line, sizing_of, *given: GivenRelief, flow: float = 0.02):
    found = sizes_of(sizing_of(line(*HILL, flow_m3_s=flow, relief=given)))
    return found.relief_valves, {finding.code for finding in found.findings}


def test_proposed__within_the_window_at_the_end(line, sizing_of) -> None:
    valves, codes = valves_of(line, sizing_of)
    assert valves
    for valve in valves:
        assert valve.proposed
        assert valve.station_m == 700.0
        assert valve.static_pa == pytest.approx(REST, rel=1e-3)
        assert valve.least_setting_pa == pytest.approx(1.1 * REST, rel=1e-3)
        assert valve.least_setting_pa <= valve.setting_pa <= valve.most_setting_pa
    assert not codes & {"relief_lifts", "relief_too_high", "relief_too_small"}


def test_asked__keeps_what_was_said_and_takes_the_rest_from_its_own_place(line, sizing_of) -> None:
    asked = (
        GivenRelief(setting_pa=8e5, bore_m=0.04, side="left", reason="yard"),
        GivenRelief(station_m=400.0),
    )
    (upper, lower), _ = valves_of(line, sizing_of, *asked)
    assert (upper.station_m, lower.station_m) == (400.0, 700.0)
    assert upper.static_pa == pytest.approx(41.0 * WEIGHT, rel=1e-3)
    assert upper.setting_pa == pytest.approx(1.1 * 41.0 * WEIGHT, rel=1e-3)
    # What the weakest pipe bears counts at the valve's level: 20 m higher, so much less.
    assert lower.most_setting_pa - upper.most_setting_pa == pytest.approx(20.0 * WEIGHT, rel=1e-3)
    assert (lower.setting_pa, lower.bore_m, lower.side, lower.reason) == (8e5, 0.04, "left", "yard")
    # Orifice law, Cd 0.62, and Torricelli.
    assert lower.jet_m_s == pytest.approx(math.sqrt(2.0 * 8e5 / 999.7), rel=1e-3)
    assert lower.flow_m3_s == pytest.approx(0.62 * math.pi / 4.0 * 0.04**2 * lower.jet_m_s)


def test_several_asked_for_without_a_setting__open_one_after_the_other(line, sizing_of) -> None:
    valves, codes = valves_of(line, sizing_of, GivenRelief(), GivenRelief(), GivenRelief())
    settings = [valve.setting_pa for valve in valves]
    steps = [after - before for before, after in itertools.pairwise(settings)]
    assert steps[0] > 0.0
    assert steps[1] == pytest.approx(steps[0])
    assert settings[-1] < valves[-1].most_setting_pa
    assert "relief_too_small" not in codes


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        (GivenRelief(setting_pa=1.09 * REST), "relief_lifts"),
        (GivenRelief(setting_pa=60e5), "relief_too_high"),
        (GivenRelief(setting_pa=7e5, bore_m=0.02), "relief_too_small"),
    ],
)
def test_asked__what_is_wrong_with_it_is_said(line, sizing_of, asked, code: str) -> None:
    _, codes = valves_of(line, sizing_of, asked)
    assert code in codes


def test_asked__right_ones_are_said_nothing_of(line, sizing_of) -> None:
    _, codes = valves_of(line, sizing_of, GivenRelief(setting_pa=7e5, bore_m=0.05))
    assert not codes & {"relief_lifts", "relief_too_high", "relief_too_small"}


@pytest.mark.parametrize("at_m", [700.001, 5000.0, math.inf])
def test_asked__beside_the_line_is_refused(line, sizing_of, at_m: float) -> None:
    with pytest.raises(InputError, match=r"relief valve at station .* from 0.0 to 700.0 m"):
        valves_of(line, sizing_of, GivenRelief(station_m=at_m))
