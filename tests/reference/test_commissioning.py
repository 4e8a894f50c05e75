"""Filling, testing and draining against published and independently computed values."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from routing.errors import InputError
from routing.fittings import FittingInputs, SizedFittings, place_drains, place_vents, size_fittings
from routing.flow import friction_factor
from routing.laid_line import LaidLine, simple_line
from routing.pipe import load_catalogue, pipe_by_hand
from routing.works.draining import drain_down
from routing.works.filling import FillRate, fill_line, fill_rate
from routing.works.flushing import flush_line
from routing.works.front import front_table, water_front
from routing.works.gauge import full_scale_pa, gauge_error_pa, tolerance_pa
from routing.works.holds import end_thrust_n
from routing.works.makeup import (
    air_makeup_m3,
    elastic_makeup_m3,
    indian_makeup_m3,
    municipal_makeup_m3,
)

PIPE = load_catalogue().find("PE100-SDR17-200")
FOOT, INCH, PSI, GALLON = 0.3048, 0.0254, 6894.757, 3.785411784e-3


def falling(height: float = 60.0, length: float = 800.0) -> LaidLine:
    station = np.linspace(0.0, length, 81)
    return simple_line(station, 410.0 - height * station / length, PIPE, intake_m=410.0)


@pytest.mark.parametrize(
    ("bore_in", "psi", "published"),
    # AWWA C600 tables as quoted by US municipal specifications, gallons an hour for 1000 ft.
    [
        (10, 100, 0.68),
        (12, 100, 0.81),
        (10, 150, 0.83),
        (12, 150, 0.99),
        (4, 150, 0.33),
        (6, 150, 0.50),
        (24, 150, 1.99),
    ],
)
def test_municipal_makeup__as_the_published_table(
    bore_in: float, psi: float, published: float
) -> None:
    found = municipal_makeup_m3(
        length_m=1000.0 * FOOT, bore_m=bore_in * INCH, pressure_pa=psi * PSI, hold_s=3600.0
    )
    assert found / GALLON == pytest.approx(published, abs=0.006)
    # The formula itself: L D sqrt(P) / 148 000.
    assert found / GALLON == pytest.approx(1000.0 * bore_in * psi**0.5 / 148_000.0, rel=1e-4)


def test_indian_makeup__as_the_manual_has_it() -> None:
    """Manual on Water Supply and Treatment, New Delhi, clauses 6.10.5 and 6.4.4.

    1.5 L for each 10 mm of nominal bore, km, 24 h and 30 m of head; 0.1 L for each mm otherwise.
    """
    day = 86400.0
    unit = indian_makeup_m3(length_m=1000.0, bore_m=0.010, head_m=30.0, hold_s=day)
    assert 1e3 * unit == pytest.approx(1.5, rel=1e-9)
    # The worked value: 200 mm, 1 km, 60 m.
    given = {"length_m": 1000.0, "bore_m": 0.2, "head_m": 60.0}
    assert 1e3 * indian_makeup_m3(**given, hold_s=day) == pytest.approx(60.0, rel=1e-9)
    assert 1e3 * indian_makeup_m3(**given, hold_s=day / 6.0) == pytest.approx(10.0, rel=1e-9)
    other = indian_makeup_m3(**given, hold_s=day, plastic=False)
    assert 1e3 * other == pytest.approx(0.1 * 200.0 * 2.0, rel=1e-6)


@pytest.mark.parametrize("bore_m", [0.05, 0.2, 0.6])
@pytest.mark.parametrize("head_m", [0.0, 10.0, 300.0])
def test_indian_makeup__in_proportion_to_everything(bore_m: float, head_m: float) -> None:
    one = indian_makeup_m3(length_m=500.0, bore_m=bore_m, head_m=head_m, hold_s=3600.0)
    twice = indian_makeup_m3(length_m=1000.0, bore_m=bore_m, head_m=2.0 * head_m, hold_s=7200.0)
    assert twice == pytest.approx(8.0 * one)
    with pytest.raises(InputError, match="bore"):
        indian_makeup_m3(length_m=1.0, bore_m=0.0, head_m=head_m, hold_s=1.0)


def test_elastic_and_air_makeup__of_a_thin_plastic_pipe() -> None:
    """8 in SDR 26, 1 km, up by 700 kPa from the air's pressure; computed independently."""
    volume = 31.79
    elastic = elastic_makeup_m3(
        volume_m3=volume,
        rise_pa=700e3,
        bulk_modulus_pa=2.094e9,
        bore_per_wall=201.2 / 8.94,
        elastic_pa=2.76e9,
    )
    assert 1e3 * elastic == pytest.approx(192.3, rel=0.01)
    air = air_makeup_m3(air_m3=0.01 * volume, before_pa=101_325.0, after_pa=801_325.0)
    assert 1e3 * air == pytest.approx(277.7, rel=1e-3)


@pytest.mark.parametrize(
    ("inches", "printed", "formula"),
    [(2, 25, 24.5), (4, 100, 97.9), (6, 220, 220.3), (8, 390, 391.7), (10, 610, 612.0),
     (12, 880, 881.0), (16, 1567, 1567.0)],
)  # fmt: skip
def test_flush_line__flows_of_the_municipal_table(
    inches: float, printed: float, formula: float
) -> None:
    """2.5 ft/s by bore in gallons a minute, as US municipal codes print it, rounded."""
    bore = 0.0254 * inches
    pipe = pipe_by_hand(material="PVC", inside_diameter_m=bore, wall_m=0.01)
    line = simple_line(np.linspace(0, 400, 9), np.linspace(460, 380, 9), pipe, intake_m=461.0)
    sized = fitted(line)
    (flush,) = flush_line(line, sized.drains, sized.drain_sizes)
    gpm = flush.flow_m3_s / 6.30901964e-5
    assert gpm == pytest.approx(formula, rel=0.004)
    assert gpm == pytest.approx(printed, rel=0.025)


def test_municipal_makeup__the_divisor_in_the_units_of_the_standard() -> None:
    """ANSI/AWWA C600: L ft x D in x root(psi) / 148 000 gallons an hour, 7400 x 20 ft joints."""
    gallons = 1000.0 * 8.0 * 10.0 / 148_000.0
    got = municipal_makeup_m3(
        length_m=304.8, bore_m=8 * 0.0254, pressure_pa=100 * 6894.757293168, hold_s=3600.0
    )
    assert got / 3.785411784e-3 == pytest.approx(gallons, rel=1e-5)
    assert gallons == pytest.approx(50 * 8 * 10 / 7400.0)


def test_gauge__class_of_a_gauge_in_metres_of_water() -> None:
    """EN 837-1: class 1.6 on 0 to 10 bar errs by 0.16 bar, 1.63 m of water; ours is class 1."""
    class_16 = 1.6 * gauge_error_pa(10e5)
    assert class_16 == pytest.approx(0.16e5)
    assert class_16 / (999.7 * 9.80665) == pytest.approx(1.63, abs=0.005)


def test_end_thrust__of_a_blank_end() -> None:
    """DN 200, outside diameter 0.219 m, at 700 kPa: 26.4 kN."""
    assert end_thrust_n(700e3, 0.219) / 1e3 == pytest.approx(26.4, abs=0.05)


def test_gauge__ranges_are_the_preferred_numbers() -> None:
    """EN 837-1 takes its ranges in bar from the R5 series of ISO 3, 6.3 as 6; from memory."""
    series = (1.0, 1.6, 2.5, 4.0, 6.0)
    ladder = [0.6, *series, *(10.0 * each for each in series), 100.0]
    for full in ladder:
        assert full_scale_pa(0.75 * full * 0.999e5) == pytest.approx(full * 1e5)
    for full, larger in itertools.pairwise(ladder):  # three quarters of the scale, common practice
        assert full_scale_pa(0.75 * full * 1.001e5) == pytest.approx(larger * 1e5)


def test_gauge__class_is_of_the_whole_scale_and_static_sits_in_its_middle() -> None:
    """EN 837-1: class 1.6 on 0 to 10 bar is 0.16 bar; here class 1, so 0.10 bar."""
    assert gauge_error_pa(1e6) == pytest.approx(0.10e5)
    for static in np.geomspace(45e3, 7.4e6, 60):
        assert 0.44 <= static / full_scale_pa(float(static)) <= 0.75
    assert tolerance_pa(1e6, 3e4) == pytest.approx(2.0 * (1e4**2 + 3e4**2) ** 0.5)


def test_fill_rate__a_foot_a_second() -> None:
    """AWWA C605: 0.3 m/s; 0.3 m/s in 0.176 m of bore are 7.4 L/s."""
    line = falling()
    rate = fill_rate(line, ())
    assert rate.rate_m3_s == pytest.approx(0.3 * np.pi / 4.0 * PIPE.inside_diameter_m**2)
    filling = fill_line(line, rate, (), ())
    assert filling.time_s == pytest.approx(line.slope_station_m[-1] / 0.3, rel=1e-6)
    assert filling.steps[-1].gauge_pa == pytest.approx(line.static_pressure_pa[-1])
    assert filling.full


def test_water_front__is_the_inverse_of_the_filling() -> None:
    station = np.array([0.0, 100.0, 150.0, 300.0])
    line = simple_line(station, np.array([50.0, 30.0, 35.0, 10.0]), PIPE, intake_m=51.0)
    for step in fill_line(line, FillRate(0.005, "stream"), (), ()).steps:
        if step.gauge_pa > 0.0:
            front = water_front(line, step.gauge_pa)
            assert front.volume_m3 == pytest.approx(step.cumulative_m3, abs=1e-6)
            at = float(np.interp(front.station_m, station, line.pipe_m))
            assert at == pytest.approx(min(step.level_m, 50.0), abs=1e-6)


def test_front_table__every_row_is_the_front_of_its_gauge() -> None:
    station = np.array([0.0, 100.0, 150.0, 300.0])
    line = simple_line(station, np.array([50.0, 30.0, 35.0, 10.0]), PIPE, intake_m=51.0)
    table = front_table(line)
    assert (table[0].level_m, table[-1].level_m) == (10.0, 51.0)
    for row in table:
        front = water_front(line, (row.level_m - 10.0) * line.water.weight_n_m3)
        assert row == pytest.approx(front, abs=1e-6)
    assert np.all(np.diff([row.station_m for row in table]) <= 0.0)
    # 41 m above the outlet the line is full: its length times its area.
    area = np.pi / 4.0 * PIPE.inside_diameter_m**2
    assert table[-1].volume_m3 == pytest.approx(area * line.slope_station_m[-1], rel=1e-6)


def fitted(line: LaidLine) -> SizedFittings:
    given = FittingInputs()
    return size_fittings(line, place_vents(line, given).vents, place_drains(line, given), given)


def test_drain_down__one_even_limb_in_the_closed_form() -> None:
    """Integral of Torricelli's law with Darcy's friction over one limb of even slope."""
    line = falling()
    sized = fitted(line)
    (step,) = drain_down(line, sized.drains, sized.drain_sizes, sized.vent_sizes)
    size = sized.drain_sizes[0]
    rise = 60.0 / float(np.hypot(60.0, 800.0))
    bore = size.bore_m * step.opening**0.5
    speed = 0.6 * (bore / PIPE.inside_diameter_m) ** 2 * (2 * 9.80665 * 30.0) ** 0.5
    factor = friction_factor(
        speed * PIPE.inside_diameter_m / line.water.kinematic_viscosity_m2_s,
        PIPE.roughness_m / PIPE.inside_diameter_m,
    )
    a = ((PIPE.inside_diameter_m / bore) ** 2 / 0.6) ** 2
    b = factor / (PIPE.inside_diameter_m * rise)

    def emptied(h: float) -> float:
        root = (h * (a + b * h)) ** 0.5 + a / b**0.5 * np.arcsinh((b * h / a) ** 0.5)
        return float(root / (rise * (2.0 * 9.80665) ** 0.5))

    # The drain leaves the bottom of the pipe.
    lift = 0.5 * PIPE.inside_diameter_m
    exact = emptied(60.0 + lift) - emptied(lift)
    assert step.time_s == pytest.approx(exact, rel=0.005)
    whole = np.pi / 4.0 * PIPE.inside_diameter_m**2 * line.slope_station_m[-1]
    assert step.drained_m3 == pytest.approx(whole)
    assert step.left_m3 == pytest.approx(0.0, abs=1e-9)


def test_flush_line__gives_the_speed_that_carries_silt() -> None:
    """0.76 m/s, 2.5 ft/s, of US municipal codes; 0.176 m of bore then pass 18.6 L/s."""
    line = falling()
    sized = fitted(line)
    (flush,) = flush_line(line, sized.drains, sized.drain_sizes)
    assert flush.velocity_m_s == pytest.approx(0.76, rel=1e-6)
    assert 0.0 < flush.opening <= 1.0
    area = 0.25 * np.pi * flush.bore_m**2
    through = 0.6 * flush.opening * area * flush.jet_m_s
    assert through == pytest.approx(flush.flow_m3_s, rel=1e-6)
    assert flush.time_s * flush.flow_m3_s == pytest.approx(
        3.0 * np.pi / 4.0 * PIPE.inside_diameter_m**2 * line.slope_station_m[-1]
    )
    (slow,) = flush_line(line, sized.drains, sized.drain_sizes, 0.005)
    assert slow.flow_m3_s == pytest.approx(0.005)
    assert not slow.flushes
