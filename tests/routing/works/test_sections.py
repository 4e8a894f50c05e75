"""Sections of the pressure test: no point below what is asked, none above what it bears."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.laid_line import LaidLine, simple_line
from routing.pipe import Pipe, load_catalogue
from routing.strength import HydrotestBounds, check_hydrotest, hydrotest_bounds
from routing.works.sections import Section, cut_sections

CATALOGUE = load_catalogue()
LIGHT = CATALOGUE.find("PVC-D2241IPS-SDR41-8in")
HEAVY = CATALOGUE.find("PVC-D2241IPS-SDR17-8in")


def check_everywhere(
    line: LaidLine, bounds: HydrotestBounds, sections: tuple[Section, ...]
) -> None:
    """Go along every piece of pipe of every section on its own."""
    assert sections[0].from_m == 0.0
    assert sections[-1].to_m == line.station_m[-1]
    assert all(a.to_m == b.from_m for a, b in pairwise(sections))
    weight, z = line.water.weight_n_m3, line.pipe_m
    for part in sections:
        low = float(np.interp(part.bottom_station_m, line.station_m, z))
        first, last = np.searchsorted(line.station_m, [part.from_m, part.to_m])
        here = part.bottom_pa - (z[first : last + 1] - low) * weight
        assert here.max() == pytest.approx(part.bottom_pa)
        assert here.min() == pytest.approx(part.top_pa)
        rating = bounds.allowed_pa[first:last]
        assert (here[:-1] <= rating * (1 + 1e-9)).all()
        assert (here[1:] <= rating * (1 + 1e-9)).all()
        share = np.max(np.maximum(here[:-1], here[1:]) / rating)
        assert part.share == pytest.approx(share)
        assert part.meets == bool((here >= bounds.asked_pa[first : last + 1] * (1 - 1e-9)).all())
        pump = float(np.interp(part.pump_station_m, line.station_m, z))
        assert part.pump_pa == pytest.approx(part.bottom_pa - (pump - low) * weight)


def test_cut_sections__one_class_is_one_section_with_the_pressure_of_the_rule() -> None:
    line = simple_line(np.linspace(0, 800, 41), np.linspace(400, 340, 41), HEAVY, intake_m=400.0)
    bounds = hydrotest_bounds(line)
    (part,) = cut_sections(line, bounds)
    assert part.bottom_pa == pytest.approx(1.5 * line.static_pressure_pa[-1])
    assert part.bottom_pa == pytest.approx(check_hydrotest(line).bottom_pa)
    assert part.meets
    assert part.pump_station_m == 800.0
    assert part.proposed == ()
    assert part.hold_s == 7200.0
    check_everywhere(line, bounds, (part,))


def test_cut_sections__the_indian_rule_allows_water_by_bore_length_and_head() -> None:
    """1.5 L for each 10 mm of bore, km, day and 30 m of mean head in the test, by hand."""
    line = simple_line(np.linspace(0, 800, 41), np.linspace(400, 340, 41), HEAVY, intake_m=400.0)
    (part,) = cut_sections(line, hydrotest_bounds(line, rule="Indian"))
    head = 0.5 * (part.bottom_pa + part.top_pa) / line.water.weight_n_m3
    length = float(np.hypot(800.0, 60.0))
    litres = 1.5 * HEAVY.inside_diameter_m * 100.0 * length / 1e3 * head / 30.0 / 6.0
    assert part.hold_s == 4 * 3600.0
    assert 1e3 * part.makeup_m3 == pytest.approx(litres, rel=1e-6)


def test_cut_sections__weak_pipe_above_strong_gets_a_section_of_its_own() -> None:
    """In one section 1.5 x 80 m at the bottom would put 100 m on a class for 70 m."""
    station = np.linspace(0, 800, 81)
    pipes = [(0.0, LIGHT), (400.0, HEAVY)]
    line = simple_line(station, np.linspace(400, 320, 81), pipes, intake_m=400.0)
    bounds = hydrotest_bounds(line)
    assert not all(check.passed for check in check_hydrotest(line).checks)
    sections = cut_sections(line, bounds)
    assert len(sections) == 2
    assert all(part.meets for part in sections)
    assert 400.0 in {sections[0].to_m} or sections[0].to_m > 0.0
    assert sections[0].proposed == (sections[0].to_m,)
    check_everywhere(line, bounds, sections)
    valves = cut_sections(line, bounds, [400.0])
    assert [part.to_m for part in valves] == [400.0, 800.0]
    assert all(part.proposed == () for part in valves)
    check_everywhere(line, bounds, valves)


def test_cut_sections__class_too_light_gets_what_it_bears_and_says_so() -> None:
    line = simple_line(np.linspace(0, 800, 81), np.linspace(400, 320, 81), LIGHT, intake_m=400.0)
    bounds = hydrotest_bounds(line)
    sections = cut_sections(line, bounds)
    check_everywhere(line, bounds, sections)
    assert [part.meets for part in sections] == [True, False]
    assert sections[0].to_m == pytest.approx(
        float(LIGHT.rating_pa or 0.0) / 1.5 / line.water.weight_n_m3 * 10.0, abs=10.0
    )
    assert sections[-1].share == pytest.approx(1.0)


def test_cut_sections__pipe_too_light_for_the_water_at_rest_is_not_tested_at_all() -> None:
    # SDR 41 bears 690 kPa in a test; under 100 m the water at rest alone is 981 kPa.
    line = simple_line(np.linspace(0, 800, 41), np.linspace(400, 300, 41), LIGHT, intake_m=400.0)
    light = [part for part in cut_sections(line, hydrotest_bounds(line)) if not part.meets]
    rest = [
        float(np.interp(part.pump_station_m, line.station_m, line.static_pressure_pa))
        for part in light
    ]
    assert [bool(part.phases) for part in light] == [
        part.pump_pa >= still for part, still in zip(light, rest, strict=True)
    ]
    assert not light[-1].phases
    assert light[-1].elastic_m3 is None


def light_or_heavy(ratio: str) -> Pipe:
    return CATALOGUE.find(f"PVC-D2241IPS-{ratio}-8in")


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(300.0, 399.0), min_size=3, max_size=10),
    st.lists(st.sampled_from(["SDR41", "SDR26", "SDR17"]), min_size=1, max_size=4),
    st.sampled_from(["municipal", "EN 805", "Indian"]),
    st.lists(st.floats(1.0, 199.0), max_size=2),
)
def test_cut_sections__every_point_of_any_line(
    levels: list[float], classes: list[str], rule: str, valves: list[float]
) -> None:
    station = np.linspace(0.0, 200.0, 10 * len(levels) + 1)
    z = np.interp(station, np.linspace(0.0, 200.0, len(levels) + 1), [399.5, *levels])
    pipes = [
        (
            float(station[k * (station.size // len(classes))]),
            CATALOGUE.find(f"PVC-D2241IPS-{c}-8in"),
        )
        for k, c in enumerate(classes)
    ]
    line = simple_line(station, z, pipes, intake_m=400.0)
    bounds = hydrotest_bounds(line, rule=rule)  # type: ignore[arg-type]
    check_everywhere(line, bounds, cut_sections(line, bounds, valves))
