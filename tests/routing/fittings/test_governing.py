"""Where two values meet, the one that is on the safe side counts."""

from __future__ import annotations

import math

import pytest
from made_line import sizes_of, wished

from routing.fittings.air_carry import carrying_velocity_m_s, carrying_velocity_sanks_m_s
from routing.fittings.place.kind import vent_kind
from routing.fittings.requirements import asked, tightest
from routing.fittings.size.breaks import break_flow_m3_s, falling_limbs

G = 9.80665


def test_vent__foot_is_never_narrower_than_the_vent_on_it(line, sizing_of) -> None:
    # NRCS Conservation Practice Standard 430, from memory: the foot keeps half the pipe's area up
    # to one bore above it; air for the vent must pass it, so it is not narrower than the vent.
    steep = line([0, 200, 400, 500], [2000, 1980, 1999, 1799], bore=0.6)
    sized = sizes_of(sizing_of(steep, pipe="PVC-D2241PIP-SDR81-15in")).vents
    wide = [vent for vent in sized if vent.foot_m is not None]
    # half the area asks for 0.424 m
    assert any(vent.bore_m > 0.45 for vent in wide)
    for vent in wide:
        assert vent.foot_m >= max(vent.bore_m, math.sqrt(0.5) * 0.6)


@pytest.mark.parametrize(("fall_m", "sanks_governs"), [(8.0, True), (150.0, False)])
def test_air_is_carried__only_above_both_published_velocities(
    line, sizing_of, fall_m, sanks_governs
) -> None:
    # HR Wallingford SR 649 and Sanks' table disagree: gentle reaches need the one, steep the other.
    angle = math.atan(fall_m / 300.0)
    given = {"inside_diameter_m": 0.2, "angle_rad": angle, "gravity_m_s2": G}
    both = carrying_velocity_m_s(**given), carrying_velocity_sanks_m_s(**given)
    assert (both[1] > both[0]) == sanks_governs
    hill = line([0, 200, 400, 700], [300, 280, 295, 295 - fall_m])
    area = 0.25 * math.pi * 0.2**2
    for velocity, carries in ((sum(both) / 2.0, False), (1.001 * max(both), True)):
        (reach,) = sizes_of(sizing_of(hill, flow_m3_s=velocity * area)).air_carry
        assert (reach.critical_m_s, reach.sanks_m_s) == pytest.approx(both, rel=1e-6)
        assert reach.carries is carries


def test_break__is_never_faster_than_a_free_fall(line, sizing_of) -> None:
    # Torricelli: from 1.5 m above it no water runs faster than root(2 g h), however smooth the
    # pipe; down a long reach friction holds it below that.
    inputs = sizing_of(line([0, 200, 400, 402, 430], [100, 80, 85, 83.5, 99], bore=0.2))
    limbs = falling_limbs(inputs.line, None)
    area = 0.25 * math.pi * 0.2**2
    free = area * math.sqrt(2.0 * G * 1.5)
    assert break_flow_m3_s(inputs.line, limbs, 400.0) == pytest.approx(free, rel=1e-6)


@pytest.mark.parametrize(("apart_m", "vents"), [(14.5, 1), (15.4, 2)])
def test_vents__a_steepening_less_than_fifteen_metres_below_a_summit_has_its_vent(
    line, apart_m, vents
) -> None:
    # Common practice, no source: one valve serves a pipe of a few sticks.
    first, second = 200.0, 200.0 + apart_m
    made = line(
        [0.0, 100.0, first, second, second + 200.0],
        [100.0, 94.0, 96.0, 96.0 - 0.02 * apart_m, 96.0 - 0.02 * apart_m - 0.12 * 200.0],
    )
    beside = [vent.station_m for vent in wished(made) if first <= vent.station_m <= second]
    assert beside == pytest.approx([first, second][:vents])


@pytest.mark.parametrize("fall_m", [0.02, 0.5])
def test_drain__head_is_that_over_the_bottom_of_the_pipe(line, sizing_of, fall_m) -> None:
    # Torricelli: the drain leaves the invert, half a bore below the centreline; its bore is an
    # eighth of the pipe's, so friction takes next to nothing.
    inputs = sizing_of(line([0, 30, 60], [30.0 + fall_m, 30.0, 30.0 + fall_m], bore=0.4))
    (drain,) = [each for each in sizes_of(inputs).drains if each.station_m == 30.0]
    through = 0.6 * 0.25 * math.pi * drain.bore_m**2
    free = through * math.sqrt(2.0 * G * (fall_m + 0.5 * 0.4))
    assert drain.first_flow_m3_s == pytest.approx(free, rel=5e-3)


@pytest.mark.parametrize(("height_m", "kind"), [(5.99, "open vent"), (6.01, "vacuum valve")])
def test_open_vent__stands_guyed_up_to_six_metres(height_m, kind) -> None:
    # Common practice, no source.
    assert vent_kind(("below the intake",), height_m) == kind


def test_tightest__all_that_fail_and_one_of_each_subject_that_holds() -> None:
    jets = [
        asked("drain_jet").judge(head, "", place=f"D{head}") for head in (5.0, 12.0, 30.0, 25.0)
    ]
    hours = [asked("drain_time").judge(time, "", limit=8.0) for time in (1.0, 6.0, 2.0)]
    kept = tightest([*jets, *hours])
    assert [check.demand for check in kept] == [30.0, 25.0, 6.0]
