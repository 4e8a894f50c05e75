"""Trench quantities and directions against handbook numbers."""

import numpy as np
import pytest
from published import gives, published, table

from routing.errors import InputError
from routing.inputs import find_limits
from routing.settings import settings_from_mapping
from routing.trench import LEAST_BEND_DEG, embedment_m2, excavate, least_cover_m, trench_width_m
from routing.trench.bends import deflection_rad
from routing.trench.grades import usual_break

# Least width beside the outside diameter [m], by outside diameter [mm]; slopes and turn in degrees.
test_trench__published_values = published(
    table(
        "independently computed from unit vectors",
        [(-10.0, -25.0, 30.0, 32.183)],
        gives(lambda *given: np.degrees(deflection_rad(*np.radians(given))), abs=5e-4),
    ),
    table(
        "EN 1610 table 1, extract at baunormenlexikon.de",
        [(110, 0.40), (225, 0.40), (250, 0.50), (350, 0.50)],
        gives(lambda mm: trench_width_m(mm / 1000) - mm / 1000, rel=1e-6),
    ),
    table(
        "EN 1610 table 1, from memory",
        [(400, 0.70), (700, 0.70)],
        gives(lambda mm: trench_width_m(mm / 1000) - mm / 1000, rel=1e-6),
    ),
)


def test_trench_width__rises_with_the_pipe():
    widths = [trench_width_m(d) for d in np.linspace(0.02, 1.5, 300)]
    assert np.all(np.diff(widths) > 0)


def test_excavate__sloped_sides_by_the_prismoid():
    # Independently computed: width 0.62 m, sides 1:1, depth 1 to 2 m over 20 m: 65.27 m3; the mean
    # of the end areas gives 68.60, too much by m (d1 - d2)^2 L / 6.
    od, bedding = 0.22, 0.1
    depth = np.array([1.0, 2.0])
    ground = np.zeros(2)
    pipe = ground - depth + od / 2 + bedding
    dug = excavate(np.array([0.0, 20.0]), ground, pipe, np.zeros(2, dtype=bool),
                   outside_diameter_m=od, bedding_m=bedding)  # fmt: skip
    assert dug.width_m == pytest.approx(0.62)
    assert dug.sloped_volume_m3 == pytest.approx(65.27, abs=5e-3)
    assert dug.volume_m3 == pytest.approx(0.62 * 1.5 * 20)


def test_embedment__per_metre():
    # Independently computed: outside diameter 219.08 mm, bedding 0.10 m, width 0.619 m, 0.15 m over
    # the crown: 0.253 m3/m; of a trench as wide as nothing but the pipe, the corners of its square.
    got = embedment_m2(0.619, outside_diameter_m=0.21908, bedding_m=0.10)
    assert got == pytest.approx(0.253, abs=5e-4)
    square = embedment_m2(1.0, outside_diameter_m=1.0, bedding_m=0.0)
    assert square == pytest.approx(1.0 - np.pi / 4.0 + 0.15)
    fill = [embedment_m2(w, outside_diameter_m=0.3, bedding_m=0.1) for w in np.linspace(0.3, 2, 40)]
    assert np.all(np.diff(fill) > 0.0)
    with pytest.raises(InputError, match="width"):
        embedment_m2(0.2, outside_diameter_m=0.3, bedding_m=0.1)


def test_excavate__per_metre():
    # Independently computed: outside diameter 219.08 mm, cover 0.76 m, bedding 0.10 m: depth
    # 1.079 m, width 0.619 m, 0.668 m3/m vertical, 1.832 m3/m at 1:1.
    pipe = np.full(2, -0.76 - 0.21908 / 2)
    dug = excavate(np.array([0.0, 1.0]), np.zeros(2), pipe, np.zeros(2, dtype=bool),
                   outside_diameter_m=0.21908, bedding_m=0.10)  # fmt: skip
    assert dug.depth_m == pytest.approx([1.079, 1.079], abs=5e-4)
    assert dug.width_m == pytest.approx(0.619, abs=5e-4)
    assert dug.volume_m3 == pytest.approx(0.668, abs=5e-4)
    assert dug.sloped_volume_m3 == pytest.approx(1.832, abs=5e-4)


@pytest.mark.parametrize(
    ("nominal", "outside_in", "inches"),
    # NRCS conservation practice standard 430, from memory: least cover by nominal size in inches;
    # outside diameters of ASME B36.10M. The tables are in whole centimetres.
    [("1/2", 0.840, 18), ("2 1/2", 2.875, 18), ("3", 3.500, 24), ("5", 5.563, 24),
     ("6", 6.625, 30), ("24", 24.0, 30)],
)  # fmt: skip
def test_least_cover__by_size(nominal: str, outside_in: float, inches: int) -> None:
    found = least_cover_m(outside_in * 0.0254)
    assert found == pytest.approx(inches * 0.0254, abs=0.005), nominal


def test_least_grades__three_hundredths_and_five_hundredths() -> None:
    # An engineer's practice seen second-hand: 1:500 towards an air valve, 1:300 away from it.
    limits, _ = find_limits(settings_from_mapping({}).trench, 0.2)
    assert 1.0 / limits.min_grade == pytest.approx(500.0)
    assert 1.0 / limits.min_grade_falling == pytest.approx(300.0)


def test_least_bend__the_smallest_that_is_sold() -> None:
    # ANSI/AWWA C110, from memory: bends of 90, 45, 22 1/2 and 11 1/4 degrees.
    assert pytest.approx(90.0 / 2**3, rel=1e-12) == LEAST_BEND_DEG


def test_usual_breaks__as_the_guide_states_them() -> None:
    # Our own estimates: digging that one break may save, and the shortest straight.
    assert usual_break(fused=True, stick_m=6.0) == (0.5, 3.0)
    assert usual_break(fused=False, stick_m=6.0) == (2.0, 6.0)
