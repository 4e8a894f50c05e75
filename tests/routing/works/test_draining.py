"""What stays in the line once drains have run, against cells emptied one by one."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.fittings import FittingInputs, SizedFittings, place_drains, place_vents, size_fittings
from routing.laid_line import LaidLine, simple_line
from routing.pipe import load_catalogue
from routing.works.draining import (
    _deepest_pa,
    _opening,
    _vacuum_pa,
    drain_down,
    water_left,
    water_left_m3,
)

PIPE = load_catalogue().find("PE100-SDR17-200")
AREA = np.pi / 4.0 * PIPE.inside_diameter_m**2


def line_of(levels: list[float]) -> LaidLine:
    station = np.arange(len(levels)) * 100.0
    return simple_line(station, np.array(levels), PIPE, intake_m=max(levels) + 1.0)


def fitted(line: LaidLine) -> SizedFittings:
    given = FittingInputs()
    return size_fittings(line, place_vents(line, given).vents, place_drains(line, given), given)


def emptied(line: LaidLine, drains_m: list[float], cells: int = 2000) -> float:
    """Let cells run out over wet neighbours that are no higher, until none moves any more."""
    slope = line.slope_station_m
    edge = np.linspace(0.0, slope[-1], cells + 1)
    z = np.interp(0.5 * (edge[:-1] + edge[1:]), slope, line.pipe_m)
    outlets = np.interp(drains_m, line.station_m, slope)
    dry = np.zeros(cells, dtype=bool)
    for outlet in outlets:
        k = min(int(outlet / slope[-1] * cells), cells - 1)
        k = min(range(max(k - 1, 0), min(k + 2, cells)), key=lambda cell: z[cell])
        for way in (1, -1):
            top, i = float(np.interp(outlet, slope, line.pipe_m)), k
            while 0 <= i < cells:
                top = max(top, z[i])
                dry[i] |= z[i] >= top - 1e-9
                i += way
    return float((~dry).sum()) * AREA * slope[-1] / cells


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(1.0, 60.0), min_size=3, max_size=9), st.data())
def test_water_left__as_the_cells(levels: list[float], data: st.DataObject) -> None:
    line = line_of([61.0, *levels])
    lows = [float(line.station_m[k]) for k in line.pipe.sags] + [float(line.station_m[-1])]
    opened = data.draw(st.lists(st.sampled_from(lows), min_size=1, unique=True))
    left = float(water_left_m3(line, opened).sum())
    whole = AREA * float(line.slope_station_m[-1])
    assert left == pytest.approx(emptied(line, opened), abs=0.01 * whole)
    assert float(water_left_m3(line, ()).sum()) == pytest.approx(whole)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(1.0, 60.0), min_size=3, max_size=9))
def test_drain_down__all_water_goes_once_and_lowest_first(levels: list[float]) -> None:
    line = line_of([61.0, *levels])
    sized = fitted(line)
    steps = drain_down(line, sized.drains, sized.drain_sizes, sized.vent_sizes, 0.8)
    whole = AREA * float(line.slope_station_m[-1])
    assert sum(step.drained_m3 for step in steps) + steps[-1].left_m3 == pytest.approx(whole)
    served = {drain.id: drain.serves_m for drain in sized.drains}
    heights = [float(np.interp(served[s.drain_id], line.station_m, line.pipe_m)) for s in steps]
    assert heights == sorted(heights)
    for step in steps:
        assert step.time_s > 0.0
        assert 0.0 < step.opening <= 1.0
        assert -34_500.0 <= step.lowest_pa <= 0.0
        assert (step.frost == "dry") == (step.left_m3 < 1e-3)


def runs_out_s(line: LaidLine, step, size, cells: int = 4000) -> tuple[float, float]:
    """Let the cells that a drain empties out of a full line run out from the top down, one by one.

    Time and volume; an orifice without friction, the water's surface at the highest wet cell.
    """
    slope = line.slope_station_m
    edge = np.linspace(0.0, slope[-1], cells + 1)
    z = np.interp(0.5 * (edge[:-1] + edge[1:]), slope, line.pipe_m)
    k = int(np.argmin(np.abs(edge[:-1] - np.interp(size.serves_m, line.station_m, slope))))
    k = min(range(max(k - 3, 0), min(k + 4, cells)), key=lambda cell: z[cell])
    gone = np.zeros(cells, dtype=bool)
    for way in (1, -1):
        top, i = -np.inf, k
        while 0 <= i < cells:
            top = max(top, z[i])
            gone[i] |= z[i] >= top - 1e-9
            i += way
    cell = AREA * slope[-1] / cells
    hole = size.cd * step.opening * np.pi / 4.0 * size.bore_m**2
    half = 0.5 * PIPE.inside_diameter_m
    heads = np.sort(z[gone])[::-1] - z[k] + half
    seconds = float(np.sum(cell / (hole * np.sqrt(2.0 * 9.80665 * heads))))
    return seconds, float(gone.sum()) * cell


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(1.0, 60.0), min_size=3, max_size=9))
def test_drain_down__the_first_drain_takes_as_long_as_the_cells(levels: list[float]) -> None:
    """Friction makes it longer, by less than the fifth within which such times are told."""
    line = line_of([61.0, *levels])
    sized = fitted(line)
    first = drain_down(line, sized.drains, sized.drain_sizes, sized.vent_sizes)[0]
    size = next(each for each in sized.drain_sizes if each.drain_id == first.drain_id)
    seconds, volume = runs_out_s(line, first, size)
    assert first.drained_m3 == pytest.approx(volume, rel=0.02)
    assert 0.97 * seconds <= first.time_s <= 1.2 * seconds


def test_drain_down__two_sags_by_hand() -> None:
    """The lowest drain takes the last limb and all that stands over the summit before it."""
    line = line_of([50.0, 20.0, 30.0, 0.0])
    sized = fitted(line)
    steps = drain_down(line, sized.drains, sized.drain_sizes, sized.vent_sizes)
    lengths = np.diff(line.slope_station_m)
    over = lengths[2] + lengths[0] * 20.0 / 30.0
    assert [step.drained_m3 / AREA for step in steps] == pytest.approx([over, lengths.sum() - over])
    assert steps[0].frost == "not known"
    assert steps[-1].frost == "dry"


def test_water_left__sag_by_sag_with_its_frost() -> None:
    """By hand: two sags of 5 m and 10 m below the summit between, which one drain leaves."""
    line = line_of([61.0, 40.0, 45.0, 35.0, 45.0, 10.0])
    first, second = water_left(line, [500.0], frost_m=float(line.cover_m.min()))
    assert (first.from_m, first.to_m) == (0.0, 200.0)
    assert (second.from_m, second.to_m) == (200.0, 400.0)
    # Each limb is filled to 45 m: along the slope, the share of its length below that.
    limbs = [(61.0, 40.0), (45.0, 40.0), (45.0, 35.0), (45.0, 35.0)]
    litres = [AREA * np.hypot(100.0, a - b) * (45.0 - b) / (a - b) for a, b in limbs]
    assert first.volume_m3 == pytest.approx(sum(litres[:2]), rel=1e-4)
    assert second.volume_m3 == pytest.approx(sum(litres[2:]), rel=1e-4)
    assert {first.frost, second.frost} == {"below frost"}
    deeper = float(line.cover_m.max()) + 0.1
    assert {each.frost for each in water_left(line, [500.0], frost_m=deeper)} == {"may freeze"}
    assert water_left(line, [500.0])[0].frost == "not known"
    assert water_left(line, [100.0, 300.0, 500.0]) == ()


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(1.0, 60.0), min_size=3, max_size=9), st.data())
def test_water_left__its_sags_hold_all_of_it(levels: list[float], data: st.DataObject) -> None:
    line = line_of([61.0, *levels])
    lows = [float(line.station_m[k]) for k in line.pipe.sags] + [float(line.station_m[-1])]
    opened = data.draw(st.lists(st.sampled_from(lows), min_size=1, unique=True))
    found = water_left(line, opened)
    whole = float(water_left_m3(line, opened).sum())
    assert sum(each.volume_m3 for each in found) == pytest.approx(whole, abs=0.01)
    assert all(a.to_m <= b.from_m for a, b in itertools.pairwise(found))
    assert len(found) <= len(lows)


def test_drain_down__the_lowest_pressure_is_that_of_the_vent_that_draws_most() -> None:
    line = line_of([61.0, 30.0, 45.0, 20.0, 38.0, 12.0, 25.0, 5.0])
    sized = fitted(line)
    vents = [replace(each, bore_m=0.01 * (1 + k)) for k, each in enumerate(sized.vent_sizes)]
    for order in (vents, vents[::-1]):
        for flow in (1e-4, 3e-3, 1.0):
            alone = [_vacuum_pa(line, vent, flow) for vent in order]
            assert _deepest_pa(line, order, flow) == pytest.approx(max(alone), rel=1e-6)
    assert _deepest_pa(line, [], 1.0) == 0.0


def test_opening__a_drain_draws_half_of_what_the_least_vent_lets_in() -> None:
    """The other half is left for what stands wrong on the hill: common practice."""
    line = line_of([61.0, 30.0, 50.0, 5.0])
    sized = fitted(line)
    drain, size = sized.drains[-1], sized.drain_sizes[-1]
    head = line.levels.intake_m - float(np.interp(drain.serves_m, line.station_m, line.pipe_m))
    wide = size.cd * np.pi / 4.0 * size.bore_m**2 * (2.0 * line.water.gravity_m_s2 * head) ** 0.5
    narrow = [replace(vent, capacity_m3_s=share * wide) for vent in sized.vent_sizes[:1]
              for share in (0.8, 3.0)]  # fmt: skip
    assert _opening(line, drain, size, narrow) == pytest.approx(0.4, rel=1e-6)
    assert _opening(line, drain, size, narrow[1:]) == 1.0
