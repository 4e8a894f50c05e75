from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_line import drains_of, made_job, sizes_of

from routing.fittings import size_text
from routing.fittings.place.ends import rises_from_intake
from routing.fittings.volume import cumulative_volume, pool_volume

AREA = math.pi * 0.2**2 / 4.0


def told(drains):
    return [(d.rule, d.station_m) for d in drains]


def test_place_drains__a_falling_line_has_its_end(line):
    (drain,) = drains_of(line([0, 100, 200], [50, 45, 30]))
    assert (drain.id, drain.rule, drain.need, drain.station_m) == (
        "D1",
        "lowest end",
        "must",
        200.0,
    )
    length = math.hypot(100, 5) + math.hypot(100, 15)
    assert drain.drained_m3 == pytest.approx(AREA * length)
    assert drain.left_m3 == 0.0
    assert drain.size_m == 0.05
    assert drain.flush_size_m == 0.08


def test_place_drains__every_sag_and_the_end(line):
    drains = drains_of(line([0, 100, 200, 300], [50, 40, 45, 30]))
    assert told(drains) == [("sag", 100.0), ("lowest end", 300.0)]
    sag, end = drains
    assert sag.drained_m3 == pytest.approx(AREA * (math.hypot(100, 10) + math.hypot(100, 5)))
    assert end.drained_m3 == pytest.approx(AREA * math.hypot(100, 15))


def test_place_drains__what_stays_without_one(line):
    """The pool reaches from the summit's invert, 5 m above the sag, back into the falling limb."""
    sag = drains_of(line([0, 100, 200, 300], [50, 40, 45, 30]))[0]
    # Sharp V of round pipe cut level at the spill: each limb's mean axis ends half a bore short of
    # the level, so each holds area x (5 - 0.1) / sin, and the ends are symmetric about the axis.
    limbs = (5.0 - 0.1) * (math.hypot(100, 10) / 10.0 + math.hypot(100, 5) / 5.0)
    assert sag.left_m3 == pytest.approx(AREA * limbs, rel=0.001)
    assert sag.left_m3 < sag.drained_m3


def test_place_drains__a_shallow_dip_keeps_a_part_full_pool(line):
    sag = drains_of(line([0, 100, 200, 300], [50, 40, 40.05, 30]))[0]
    # Depth over the sag's invert is 0.05 m of a 0.2 m bore: far less than the full pipe.
    assert 0.0 < sag.left_m3 < 0.25 * sag.drained_m3


def test_place_drains__a_line_that_rises_to_its_end_has_no_low_end(line):
    drains = drains_of(line([0, 100, 200], [50, 30, 40]))
    assert told(drains) == [("sag", 100.0)]
    total = AREA * (math.hypot(100, 20) + math.hypot(100, 10))
    assert drains[0].drained_m3 == pytest.approx(total)


def test_place_drains__an_uphill_line_drains_at_its_intake(line):
    (drain,) = drains_of(line([0, 100], [30, 50]))
    assert (drain.rule, drain.station_m, drain.left_m3) == ("lowest end", 0.0, 0.0)


def test_place_drains__a_riser_to_the_outlet_holds_water(line):
    low = drains_of(line([0, 100], [50, 30]))[0]
    high = drains_of(line([0, 100], [50, 30], outlet_level=32.0))[0]
    assert low.left_m3 == 0.0
    assert high.left_m3 == pytest.approx(AREA * 1.9 * math.hypot(100, 20) / 20.0, rel=0.01)


def test_place_drains__low_point_of_a_crossing(line):
    made = line([0, 100, 110, 120, 200], [50, 40, 39, 41, 30], spans=[(100, 120)])
    assert told(drains_of(made)) == [("crossing", 110.0), ("lowest end", 200.0)]


def test_place_drains__above_a_valve_on_a_falling_line(line):
    made = line([0, 100, 200, 300], [50, 40, 45, 30], valves_m=(60.0, 150.0, 250.0))
    drains = drains_of(made)
    # The valve at 150 m stands on a rising limb, which drains back by itself.
    assert told(drains) == [
        ("above a valve", 60.0),
        ("sag", 100.0),
        ("above a valve", 250.0),
        ("lowest end", 300.0),
    ]
    first, sag, second, end = drains
    grade = math.hypot(1.0, 0.1)
    assert first.drained_m3 == first.left_m3 == pytest.approx(AREA * 60.0 * grade)
    assert sag.drained_m3 == pytest.approx(AREA * (40.0 * grade + math.hypot(100, 5)))
    assert second.drained_m3 == pytest.approx(end.drained_m3)


@pytest.mark.parametrize("valve", [0.0, 99.5, 100.0])
def test_place_drains__a_valve_at_an_end_needs_none_of_its_own(line, valve):
    (drain,) = drains_of(line([0, 100], [50, 30], valves_m=(valve,)))
    assert (drain.rule, drain.station_m) == ("lowest end", 100.0)
    assert drain.drained_m3 == pytest.approx(AREA * math.hypot(100, 20))


def test_sized_drains__jet_and_pump_in_the_reason(line):
    made = line([0, 100, 200, 300], [150, 130, 145, 50], intake_level=150.0)
    drains = sizes_of(made_job(made)).found.drains
    assert "sump with a pump" in drains[0].reason
    assert "the jet leaves at 44.29 m/s" in drains[1].reason  # 100 m of head
    assert "stilling pipe" not in drains[0].reason  # 20 m is not above the limit


def test_sized_drains__flushing_is_the_same_in_text_and_table(line):
    # A third of the bore is what the table has; what the line's own head passes is what is sized.
    for units in ("metric", "us"):
        made = line([0, 400, 800, 900], [50, 40, 45, 30], units=units)
        for drain in sizes_of(made_job(made)).found.drains:
            told = re.findall(r"Flushing asks for ([^.]*(?:\.\d+ \w+)?)\.", drain.reason)
            wider = drain.flush_size_m is not None and drain.flush_size_m > drain.size_m
            assert told == ([size_text(drain.flush_size_m, units)] if wider else [])
            assert f"Wide open, {size_text(drain.size_m, units)} empties" in drain.reason


def test_place_drains__what_would_stay_in_the_reason(line):
    sag, end = drains_of(line([0, 100, 200, 300], [50, 40, 45, 30]))
    assert f"without it {sag.left_m3:.2f} m³ would stay" in sag.reason
    assert "would stay" not in end.reason
    us = drains_of(line([0, 100, 200, 300], [50, 40, 45, 30], units="us"))[0]
    assert f"{sag.left_m3 / 0.003785411784:.0f} US gal would stay" in us.reason


def test_place_drains__bore_of_its_own_pipe(line):
    made = line([0, 100, 200, 300], [50, 40, 45, 30], bore=[0.3, 0.3, 0.1, 0.1])
    assert [d.size_m for d in drains_of(made)] == [0.08, 0.025]


SHARES = st.one_of(st.floats(0.0, 1.0), st.sampled_from([0.0, 1.0]))
LINES = st.tuples(st.integers(0, 10_000), st.integers(2, 50), st.floats(-0.1, 0.2))


@settings(deadline=None, max_examples=80)
@given(made=LINES, valves=st.lists(SHARES, max_size=3))
def test_place_drains__volumes_add_up_to_the_line(line, made, valves):
    seed, n, fall = made
    rng = np.random.default_rng(seed)
    station = np.concatenate(([0.0], np.cumsum(rng.uniform(2.0, 60.0, n))))
    pipe = 300.0 - fall * station + np.cumsum(rng.normal(0.0, 1.0, station.size))
    bore = np.where(station < 0.4 * station[-1], 0.3, 0.2)
    at = tuple(float(share * station[-1]) for share in valves)
    inputs = line(station, pipe, bore=bore, valves_m=at)
    drains = drains_of(inputs)
    volume = cumulative_volume(inputs.slope_station_m, inputs.inside_diameter_m)
    back = 0.0
    if rises_from_intake(inputs.line) and not any(
        d.rule == "lowest end" and d.station_m == 0.0 for d in drains
    ):
        back = volume[inputs.summits[0]] if inputs.summits.size else 0.0
    assert sum(d.drained_m3 for d in drains) + back == pytest.approx(volume[-1])
    assert all(0.0 <= d.left_m3 <= d.drained_m3 for d in drains)
    assert [d.id for d in drains] == [f"D{k}" for k in range(1, len(drains) + 1)]
    sags = inputs.station_m[inputs.sags].tolist()
    assert [d.station_m for d in drains if d.rule == "sag"] == sags


def test_left__is_the_pool_below_the_lower_summit(line):
    inputs = line([0, 50, 100, 160, 200, 300], [50, 44, 46, 41, 45, 30])
    second = drains_of(inputs)[1]
    assert second.station_m == 160.0
    part = slice(2, 5)
    pool = pool_volume(
        45.0 - 0.1,
        inputs.slope_station_m[part],
        inputs.pipe_m[part],
        inputs.inside_diameter_m[part],
    )
    assert second.left_m3 == pytest.approx(pool)
