"""The order in which an undulating line fills, against parcels of water walked cell by cell."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from routing.laid_line import LaidLine, simple_line
from routing.pipe import load_catalogue
from routing.works.basins import fill_stages, pool_volume_m3

PIPE = load_catalogue().find("PE100-SDR17-200")
AREA = np.pi / 4.0 * PIPE.inside_diameter_m**2


def line_of(levels: list[float], intake: float, step: float = 100.0) -> LaidLine:
    station = np.arange(len(levels)) * step
    return simple_line(station, np.array(levels, dtype=float), PIPE, intake_m=intake)


def walked(line: LaidLine, cells: int) -> tuple[list[float], list[float], np.ndarray]:
    """Walk parcels of one cell each into the line; volume, level over the end, cells full.

    A parcel runs down empty cells until it stands in a low place. Where it meets a pool it goes on
    from the lower of the two empty cells beside that pool: it stays there, if it came from there or
    the ground beyond is higher, and else runs on, away from the pool.
    """
    slope = line.slope_station_m
    z = np.interp((np.arange(cells) + 0.5) * slope[-1] / cells, slope, line.pipe_m)
    parcel = AREA * slope[-1] / cells
    full, top = np.zeros(cells, dtype=bool), line.levels.intake_m
    volumes, ends = [], []
    while (place := _rest(z, full)) is not None and z[place] <= top:
        full[place] = True
        volumes.append(parcel * full.sum())
        last = cells - 1
        while last > 0 and full[last - 1]:
            last -= 1
        ends.append(float(z[last:].max()) if full[-1] else -np.inf)
    return volumes, ends, full


def _rest(z: np.ndarray, full: np.ndarray) -> int | None:
    """Return the cell in which a parcel let in at the top comes to rest, None where it runs out."""
    here, way = -1, 1
    while 0 <= here + way < z.size:
        ahead = here + way
        if not full[ahead]:
            if here >= 0 and z[ahead] > z[here]:
                return here
            here = ahead
            continue
        left = right = ahead
        while left > 0 and full[left - 1]:
            left -= 1
        while right < z.size - 1 and full[right + 1]:
            right += 1
        beside = [cell for cell in (left - 1, right + 1) if 0 <= cell < z.size]
        if not beside:
            return None
        lowest = min(beside, key=lambda cell: z[cell])
        if lowest == here:
            return here
        here, way = lowest, 1 if lowest > right else -1
    return here


def test_fill_stages__two_limbs_each_before_the_next() -> None:
    stages = fill_stages(line_of([50.0, 30.0, 45.0, 20.0, 40.0, 5.0], 51.0))
    spans = [(stage.first, stage.last) for stage in stages]
    assert spans == [(0, 2), (2, 4), (4, 5), (2, 5), (0, 5)]
    assert [stage.level_m for stage in stages] == [45.0, 40.0, 40.0, 45.0, 51.0]


def test_fill_stages__volumes_by_hand() -> None:
    """Two straight limbs of 3-4-5 triangles: lengths of 50 m a fall of 30 m over 40 m of plan."""
    line = line_of([30.0, 0.0, 30.0, 0.0], 31.0, step=40.0)
    stages = fill_stages(line)
    assert [stage.after_m3 / AREA for stage in stages] == pytest.approx([100.0, 150.0, 150.0])
    assert pool_volume_m3(line, 0, 2, 15.0) / AREA == pytest.approx(50.0)
    assert stages[0].level_at(line, 50.0 * AREA) == pytest.approx(15.0, abs=1e-6)


@pytest.mark.parametrize(
    "levels",
    [
        [50.0, 30.0, 45.0, 20.0, 40.0, 5.0],
        [50.0, 20.0, 30.0, 10.0, 40.0, 5.0],
        [50.0, 40.0, 48.0, 12.0, 20.0, 18.0, 30.0, 2.0],
        [50.0, 10.0, 25.0, 15.0, 45.0, 30.0, 35.0, 28.0],
    ],
)
def test_fill_stages__end_sees_water_when_the_parcels_say(levels: list[float]) -> None:
    line = line_of(levels, 51.0)
    stages = fill_stages(line)
    volumes, ends, full = walked(line, 1500)
    assert full.all()
    assert volumes[-1] == pytest.approx(stages[-1].after_m3, rel=1e-3)
    for stage in stages:
        if stage.last < len(levels) - 1:
            continue
        middle = 0.5 * (stage.before_m3 + stage.after_m3)
        found = ends[int(np.searchsorted(volumes, middle))]
        assert stage.level_at(line, middle) == pytest.approx(found, abs=0.4)
    first = next(stage for stage in stages if stage.last == len(levels) - 1)
    dry = volumes[int(np.argmax(np.isfinite(ends)))]
    assert dry == pytest.approx(first.before_m3, abs=2.5 * volumes[0])


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(1.0, 60.0), min_size=3, max_size=9), st.floats(30.0, 61.0))
def test_fill_stages__as_the_parcels_on_any_line(levels: list[float], intake: float) -> None:
    # Within the size of a cell the parcels cannot tell whether a summit stands above the intake.
    assume(min(abs(level - intake) for level in levels) > 2.0)
    levels = [intake - 0.5, *levels]
    line = line_of(levels, intake)
    stages = fill_stages(line)
    volumes, _, _ = walked(line, 400)
    held = stages[-1].after_m3 if stages else 0.0
    assert held == pytest.approx(
        volumes[-1] if volumes else 0.0, abs=12 * volumes[0] * len(levels) if volumes else 0.0
    )
    assert all(b.before_m3 == a.after_m3 for a, b in pairwise(stages))
    assert all(stage.level_m > stage.before_m for stage in stages)
