"""The test with water: its pressure by each rule, and every stretch against its class."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.errors import InputError
from routing.laid_line import simple_line
from routing.pipe import load_catalogue, with_jointing
from routing.strength import check_hydrotest, usual_rule
from routing.water import water_at

PSI = 6894.757293168
WEIGHT = water_at(10.0).weight_n_m3
FIND = load_catalogue().find


def line_of(*ids, head_m=60.0, sag_m=0.0):
    """Return a line of one pipe after the other, 100 m each, down to ``head_m``."""
    station = np.linspace(0.0, 100.0 * len(ids), 2 * len(ids) + 1)
    head = head_m * station / station[-1]
    head[1] += sag_m
    pipes = [(100.0 * number, FIND(id)) for number, id in enumerate(ids)]
    return simple_line(station, 500.0 - head, pipes, intake_m=500.0)


def test_hydrotest__municipal_is_one_and_a_half_times_the_static_at_the_low_point():
    # ANSI/AWWA C600 and C605, from memory: 1.5 times the working pressure at the low point.
    test = check_hydrotest(line_of("PVC-D2241IPS-SDR26-8in"))
    assert test.rule == "municipal"
    assert test.bottom_pa == pytest.approx(1.5 * 60.0 * WEIGHT)
    # Along the line it falls by the weight of the water above the gauge, not in proportion.
    assert test.pressure_pa[0] == pytest.approx(0.5 * 60.0 * WEIGHT)


def test_hydrotest__en_805_adds_to_the_surge_or_takes_the_lesser():
    # EN 805, from memory: STP = MDPc + 100 kPa where surge is computed; else the lesser of
    # 1.5 MDPa and MDPa + 500 kPa.
    steep, low = line_of("PVCU-S8-200", head_m=140.0), line_of("PVCU-S8-200")
    rise = np.array([0.0, 10.0, 20.0])
    with_surge = check_hydrotest(low, rule="EN 805", rise_m=rise)
    assert with_surge.bottom_pa == pytest.approx(80.0 * WEIGHT + 100e3)
    assert check_hydrotest(low, rule="EN 805").bottom_pa == pytest.approx(90.0 * WEIGHT)
    assert check_hydrotest(steep, rule="EN 805").bottom_pa == pytest.approx(140 * WEIGHT + 500e3)


def test_hydrotest__the_indian_rule_takes_the_greater():
    # Manual on Water Supply and Treatment, New Delhi, 6.4.4: 1.5 times the static pressure, or
    # static pressure and surge together where that is more.
    line = line_of("PVCU-S8-200")
    test = check_hydrotest(line, rule="Indian")
    assert (test.rule, test.bottom_pa) == ("Indian", pytest.approx(90.0 * WEIGHT))
    assert test.checks[0].limit == pytest.approx(line.pipes.runs[0].pipe.rating_pa / 1e3)
    small, large = (np.array([0.0, 10.0, rise]) for rise in (20.0, 45.0))
    assert check_hydrotest(line, rule="Indian", rise_m=small).bottom_pa == test.bottom_pa
    surged = check_hydrotest(line, rule="Indian", rise_m=large)
    assert surged.bottom_pa == pytest.approx(105.0 * WEIGHT)


def test_hydrotest__fused_polyethylene_may_go_to_one_and_a_half_times_its_rating():
    # ASTM F2164, from memory.
    fused = line_of("PE100-SDR17-200", head_m=80.0)
    assert usual_rule(fused) == "polyethylene"
    (check,) = check_hydrotest(fused).checks
    assert check.limit == pytest.approx(1.5 * 1000.0)
    assert check.passed
    flanged = simple_line(
        np.array([0.0, 100.0]), np.array([500.0, 420.0]), intake_m=500.0,
        pipes=with_jointing(FIND("PE100-SDR17-200"), joint="gasket pvc"),
    )  # fmt: skip
    (loose,) = check_hydrotest(flanged).checks
    assert (loose.limit, loose.passed) == (pytest.approx(1000.0), False)


def test_hydrotest__one_other_pipe_makes_the_line_municipal():
    mixed = line_of("PE100-SDR17-200", "PVCU-S16-200")
    assert usual_rule(mixed) == "municipal"
    assert [round(check.limit) for check in check_hydrotest(mixed).checks] == [1000, 800]


def test_hydrotest__every_stretch_is_held_against_its_own_class():
    weak_above = line_of("PVC-D2241IPS-SDR64-8in", "PVC-D2241IPS-SDR17-8in", head_m=70.0)
    upper, lower = check_hydrotest(weak_above).checks
    # 105 m at the bottom leave 70 m where the classes meet, more than the 63 psi of SDR 64.
    assert upper.station_m == 100.0
    assert upper.demand == pytest.approx(70.0 * WEIGHT / 1e3)
    assert upper.limit == pytest.approx(63 * PSI / 1e3)
    assert (upper.passed, lower.passed) == (False, True)
    assert (upper.code, upper.severity) == ("test_over_class", "warning")
    most = 63 * PSI / 1e3 + 35.0 * WEIGHT / 1e3
    assert f"no more than {most:.0f} kPa at the lowest point" in upper.message


def test_hydrotest__the_lowest_point_may_be_a_sag():
    test = check_hydrotest(line_of("PVC-D2241IPS-SDR26-8in", head_m=60.0, sag_m=50.0))
    assert int(np.argmax(test.pressure_pa)) == 1
    assert test.bottom_pa == pytest.approx(1.5 * 80.0 * WEIGHT)


@given(st.floats(10.0, 200.0), st.floats(1.0, 2.0), st.floats(0.0, 5.0))
def test_hydrotest__more_head_factor_or_flood_never_tests_softer(head, factor, flood):
    line = line_of("PVC-D2241IPS-SDR26-8in", head_m=head)
    base = check_hydrotest(line, factor=factor).bottom_pa
    assert check_hydrotest(line, factor=min(2.0, factor * 1.1)).bottom_pa >= base
    assert check_hydrotest(line, factor=factor, flood_rise_m=flood).bottom_pa >= base
    assert base >= head * WEIGHT * (1 - 1e-12)


def test_hydrotest__a_factor_below_one_is_refused():
    with pytest.raises(InputError, match="factor of the test"):
        check_hydrotest(line_of("PVC-D2241IPS-SDR26-8in"), factor=0.8)
