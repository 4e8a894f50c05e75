"""What the gauges read while the line is filled, against parcels of water walked cell by cell."""

from __future__ import annotations

import numpy as np
import pytest

from routing.errors import InputError
from routing.fittings import FittingInputs, place_drains, place_vents, size_fittings
from routing.laid_line import LaidLine, simple_line
from routing.pipe import load_catalogue
from routing.works.filling import FillRate, fill_line, fill_rate
from routing.works.front import water_front
from routing.works.gauge import place_taps

PIPE = load_catalogue().find("PE100-SDR17-200")
LEVELS = [50.0, 30.0, 45.0, 20.0, 40.0, 5.0]


def undulating() -> LaidLine:
    return simple_line(np.arange(6) * 100.0, np.array(LEVELS), PIPE, intake_m=51.0)


def test_fill_line__gauges_of_pools_that_are_not_yet_joined() -> None:
    """By hand: the first sag stands at 45 m of level while the last limb is still empty."""
    line = undulating()
    taps = place_taps(line)
    assert [tap.place for tap in taps] == ["below the intake", "sag", "sag", "powerhouse"]
    filling = fill_line(line, FillRate(0.004, "stream"), (), taps)
    weight = line.water.weight_n_m3
    first = next(step for step in filling.steps if step.level_m == 45.0)
    heads = [reading.gauge_pa / weight for reading in first.readings]
    assert heads == pytest.approx([0.0, 15.0, 0.0, 0.0])
    assert first.gauge_pa == 0.0
    last = filling.steps[-1]
    heads = [reading.gauge_pa / weight for reading in last.readings]
    assert heads == pytest.approx([1.0, 21.0, 31.0, 46.0])
    assert last.gauge_pa == pytest.approx(46.0 * weight)
    assert all(r.tolerance_pa >= 0.02 * r.tap.full_scale_pa for r in last.readings)
    times = [step.time_s for step in filling.steps]
    assert times == sorted(times)
    assert times[-1] == pytest.approx(filling.volume_m3 / 0.004)
    assert all(
        b.level_m - a.level_m <= 10.0 + 1e-9
        for a, b in zip(filling.steps, filling.steps[1:], strict=False)
        if a.from_m == b.from_m and a.to_m == b.to_m
    )


def test_fill_line__every_vent_hisses_before_it_shuts_and_shuts_once() -> None:
    line = undulating()
    given = FittingInputs()
    sized = size_fittings(line, place_vents(line, given).vents, place_drains(line, given), given)
    filling = fill_line(line, FillRate(0.004, "stream"), sized.vent_sizes, ())
    shut = [vent for step in filling.steps for vent in step.vents_shut]
    assert sorted(shut) == sorted(vent.vent_id for vent in sized.vent_sizes)
    for step in filling.steps:
        assert set(step.vents_shut) <= set(step.vents_hissing)
    summit = next(vent for vent in sized.vent_sizes if vent.serves_m == 400.0)
    covered = next(step for step in filling.steps if summit.vent_id in step.vents_shut)
    # The summit is at 40 m: it shuts once both limbs beside it are full.
    assert covered.level_m > 40.0
    assert covered.to_m == 500.0


def test_fill_rate__the_smallest_vent_may_set_it() -> None:
    line = undulating()
    given = FittingInputs()
    sized = size_fittings(line, place_vents(line, given).vents, place_drains(line, given), given)
    from dataclasses import replace

    small = replace(sized.vent_sizes[1], bore_m=0.004, kind="combination air valve")
    small = replace(small, open_top_m=None)
    rate = fill_rate(line, (sized.vent_sizes[0], small), 0.01)
    assert rate.limited_by == f"vent {small.vent_id}"
    # 112.3 scfm at 2 psi through 25.4 mm (AWWA M51 charts), by the square of the bore, is 1.3 L/s.
    assert rate.rate_m3_s == pytest.approx(0.0530 * (4.0 / 25.4) ** 2, rel=0.02)
    with pytest.raises(InputError, match="residual"):
        fill_rate(line, (), 0.0)


def test_fill_line__a_summit_above_the_intake_keeps_water_out() -> None:
    line = simple_line(np.arange(4) * 100.0, np.array([50.0, 30.0, 60.0, 5.0]), PIPE, intake_m=51.0)
    filling = fill_line(line, FillRate(0.004, "stream"), (), ())
    assert not filling.full
    assert all(step.gauge_pa == 0.0 for step in filling.steps)


def test_water_front__refuses_what_cannot_be() -> None:
    with pytest.raises(InputError, match="kPa"):
        water_front(undulating(), 5e6)
