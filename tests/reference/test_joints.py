"""Joints, curves and made bends against published and independently computed numbers."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import gives, published, table

from routing.anchors import (
    arc_departure_m,
    available_radius_m,
    check_curves,
    joint_offset_m,
    joint_radius_m,
    least_bend_radius_m,
    split_deflection,
    thermal_movement_m,
)
from routing.errors import InputError
from routing.laid_line import simple_line
from routing.pipe import find_joint, joint_names, pipe_by_hand, with_jointing
from routing.trench import Bend

INCH, FOOT = 0.0254, 0.3048


# Radius at 1 degree for sticks of 6.1 m; 4 in for a 20 ft stick at 1 degree; 237.9 m from tangents.
test_joints__published_and_computed = published(
    table(
        "independently computed",
        [(6.1, 1.0, 349.5), (5.5, 5.0, 63.0), (6.0, 0.0, math.inf)],
        gives(joint_radius_m, abs=0.05),
    ),
    # DN 200 of SDR 26 bent to 34 diameters: from a drawing of the arc by coordinates.
    table(
        "independently computed",
        [(6.8, 6.0, 0.0093), (6.8, 20.0, 0.1049), (6.8, 0.0, 0.0), (10.0, 90.0, 4.1421)],
        gives(arc_departure_m, abs=5e-5),
    ),
    table("independently computed", [(6.1, 1.0, 0.106)], gives(joint_offset_m, abs=5e-4)),
    table(
        "eng-tips.com threads 294764, feet and inches",
        [(20, 1.0, 4.0)],
        gives(lambda feet, angle: joint_offset_m(feet * FOOT, angle) / INCH, abs=0.5),
    ),
    table("independently computed", [(25.0, 12.0, 237.9)], gives(available_radius_m, abs=0.05)),
    table(
        "undergroundsolutions.com/pipe-dimensional-data.php, fused PVC, inches and feet",
        [(6.625, 138), (12.75, 266)],
        gives(
            lambda od: least_bend_radius_m("PVC", od * INCH, od * INCH / 25) / FOOT, abs=0.5
        ),
    ),
    table(
        "comparison of PE4710 and PE3608, de.scribd.com/document/437569697",
        [(11, 25), (13.5, 25)],
        gives(lambda ratio: least_bend_radius_m("PE4710", 0.3, 0.3 / ratio) / 0.3, rel=1e-6),
    ),
    table(
        "PPI Handbook of polyethylene pipe, from memory",
        [(7.3, 20, 100), (9, 20, 100), (11, 25, 100), (17, 27, 100), (21, 27, 100), (26, 34, 100),
         (32.5, 42, 100), (41, 52, 100)],
        gives(lambda ratio: least_bend_radius_m("PE4710", 0.3, 0.3 / ratio) / 0.3, rel=1e-6),
        gives(
            lambda ratio: least_bend_radius_m("PE100", 0.3, 0.3 / ratio, fitting_in_bend=True)
            / 0.3,
            rel=1e-6,
        ),
    ),
    table(
        "independently computed", [(1.4e-4, 6.0, 30.0, 0.025)], gives(thermal_movement_m, abs=5e-4)
    ),
)  # fmt: skip


def test_split_deflection__twelve_degrees():
    # Independently computed: 237.9 m is less than 349.5 m, so a fitting: 12 = 11.25 + 0.75.
    bend = Bend(id="B1", index=1, station_m=50, plan_deg=12, vertical_deg=0, deflection_deg=12)
    pipe = pipe_by_hand(material="PVC", inside_diameter_m=0.19, wall_m=0.005)
    line = simple_line(
        np.array([0.0, 50.0, 130.0]), np.full(3, 100.0),
        with_jointing(pipe, allowance_deg=1.0, stick_m=6.1), intake_m=110.0, bends=(bend,),
    )  # fmt: skip
    curve = check_curves(line)[0]
    assert curve.tangent_m == 25.0
    assert curve.verdict == "fittings"
    assert curve.made.fittings_deg == (11.25,)
    assert curve.made.rest_deg == pytest.approx(0.75)


def test_least_bend_radius__no_table_no_bend():
    assert math.isinf(least_bend_radius_m("steel", 0.2, 0.005))
    assert math.isinf(least_bend_radius_m("PE100", 0.2, 0.2 / 64))


def test_find_joint__allowances():
    # Some makers of gasketed PVC allow none: eng-tips.com threads 294764. The usual 1 degree and
    # ductile iron 5 degrees to 12 in, 3 to 36 in: from memory of AWWA C600.
    assert find_joint("gasket PVC", 0.2).allowance_deg == 0.0
    assert find_joint("gasket PVC", 0.2).allowance_usual_deg == 1.0
    assert find_joint("gasket di", 12 * INCH).allowance_deg == 5.0
    assert find_joint("gasket di", 14 * INCH).allowance_deg == 3.0
    assert find_joint("gasket di", 36 * INCH).allowance_deg == 3.0
    carry = {name for name in joint_names() if find_joint(name, 0.2).carries_thrust}
    # Solvent cement holds small pipe together, but not one of 200 mm: common practice.
    assert carry == {"fused", "welded", "flanged"}
    assert find_joint("solvent", 0.1).carries_thrust
    with pytest.raises(InputError, match=r"'glued'.*gasket pvc"):
        find_joint("glued", 0.2)


@given(st.floats(0.0, 180.0), st.floats(0.0, 6.0))
def test_split_deflection__adds_up_and_is_the_shortest(theta, allowance):
    made = split_deflection(theta, allowance)
    assert sum(made.fittings_deg) + made.rest_deg == pytest.approx(theta)
    assert set(made.fittings_deg) <= {90.0, 45.0, 22.5, 11.25}
    if made.possible:
        assert abs(made.rest_deg) <= allowance + 1e-8
    else:
        assert abs(made.rest_deg) > allowance
        assert abs(made.rest_deg) <= 11.25 / 2.0 + 1e-9
    # Brute force: no sum of fewer fittings leaves a rest within the allowance.
    counts = {}
    for a in range(3):
        for b in range(5):
            for c in range(5):
                for d in range(5):
                    total, n = 90.0 * a + 45.0 * b + 22.5 * c + 11.25 * d, a + b + c + d
                    counts[total] = min(n, counts.get(total, 99))
    fewest = min((n for total, n in counts.items() if abs(theta - total) <= allowance), default=99)
    if made.possible and fewest < 99:
        assert len(made.fittings_deg) <= fewest


@given(st.floats(3.0, 12.0), st.floats(0.05, 10.0))
def test_joint_radius__polygon_of_sticks(stick, allowance):
    # Two sticks of a regular polygon: the outer angle at each joint is that of a chord's centre.
    radius = joint_radius_m(stick, allowance)
    assert 2.0 * math.degrees(math.asin(stick / (2.0 * radius))) == pytest.approx(allowance)
    assert joint_radius_m(stick, 1.05 * allowance) < radius
    assert radius < joint_radius_m(1.05 * stick, allowance)


@given(st.floats(0.5, 170.0), st.floats(1.0, 200.0))
def test_available_radius__arc_touches_both_legs(theta, tangent):
    radius = available_radius_m(tangent, theta)
    # Turning by theta along the arc must advance by both tangents: geometry of the arc's chord.
    chord = 2.0 * radius * math.sin(math.radians(theta) / 2.0)
    across = 2.0 * tangent * math.cos(math.radians(theta) / 2.0)
    assert chord == pytest.approx(across)
    assert available_radius_m(tangent, theta * 1.05) < radius


def test_least_bend_radius__ratio_of_the_rounded_wall():
    # Walls are made to 0.1 mm (ISO 4427-2, from memory), so DR 13.5 may measure 13.7; not 14.
    assert least_bend_radius_m("PE100", 0.3, 0.3 / 13.7) == pytest.approx(25 * 0.3)
    assert least_bend_radius_m("PE100", 0.3, 0.3 / 14.0) == pytest.approx(27 * 0.3)
