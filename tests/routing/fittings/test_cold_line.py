"""Frost along a line: cover, spans, what must be settled."""

from __future__ import annotations

import math

import pytest

from routing.check import failed_findings
from routing.errors import InputError
from routing.fittings import FrostData, check_cold

HILLS = ([0, 200, 300, 400, 700], [100, 90, 85, 80, 40])


def cold_of(made, frost=None, **more):
    return check_cold(made.line, frost, **more)


def told(check):
    return (*failed_findings(check.checks), *check.findings)


def codes(check):
    return {finding.code for finding in told(check)}


def test_cover__against_the_frost(line) -> None:
    cover = [0.9, 0.9, 0.7, 0.9, 0.9]
    deep = cold_of(line(*HILLS, cover=cover), FrostData(depth_m=0.6))
    assert deep.winter == "below frost"
    assert told(deep) == ()
    shallow = cold_of(line(*HILLS, cover=cover), FrostData(depth_m=0.8))
    assert shallow.winter == "not settled"
    assert shallow.least_cover_m == pytest.approx(0.7)
    assert shallow.least_cover_station_m == 300.0
    assert shallow.in_frost == ((300.0, 300.0),)
    assert codes(shallow) == {"cover_in_frost"}


def test_cover__index_gives_the_depth(line) -> None:
    # Stefan: 500 degC days reach 1.468 m, independently computed.
    check = cold_of(line(*HILLS), FrostData(freezing_index_c_days=500.0))
    assert check.frost_m == pytest.approx(1.468, abs=0.0005)
    assert "cover_in_frost" in codes(check)


def test_winter__drained_settles_it(line) -> None:
    check = cold_of(
        line(*HILLS, spans=[(200, 300)]),
        FrostData(depth_m=2.0, air_c=-20.0, drained_in_winter=True),
    )
    assert check.winter == "drained in winter"
    assert told(check) == ()


def test_winter__nothing_known_must_be_asked(line) -> None:
    check = cold_of(line(*HILLS))
    assert check.frost_m is None
    assert check.winter == "not settled"
    assert codes(check) == {"frost_unknown"}


def test_span__time_and_flow(line) -> None:
    frost = FrostData(depth_m=0.3, air_c=-20.0, arriving_c=1.0)
    check = cold_of(line(*HILLS, spans=[(200, 300)]), frost, flow_m3_s=0.02)
    span = check.spans[0]
    assert (span.from_m, span.to_m) == (200.0, 300.0)
    assert span.length_m == pytest.approx(math.hypot(100, 5))
    assert span.running_holds is True
    assert 0.0 < span.standing_s < 3600.0
    assert "span_freezes" in codes(check)
    less = cold_of(line(*HILLS, spans=[(200, 300)]), frost, flow_m3_s=0.5 * span.least_flow_m3_s)
    assert less.spans[0].running_holds is False


def test_span__water_under_ice_has_no_margin(line) -> None:
    check = cold_of(line(*HILLS, spans=[(200, 300)]), FrostData(air_c=-5.0), flow_m3_s=9.0)
    assert check.spans[0].least_flow_m3_s == math.inf
    assert check.spans[0].running_holds is False
    assert "at once" in " ".join(finding.message for finding in told(check))


def test_span__mild_air_freezes_nothing(line) -> None:
    check = cold_of(line(*HILLS, spans=[(200, 300)]), FrostData(depth_m=0.1, air_c=4.0))
    assert check.spans[0].standing_s == math.inf
    assert check.spans[0].least_flow_m3_s == 0.0
    assert "span_freezes" not in codes(check)


def test_frost_data__refuses_what_cannot_be(line) -> None:
    with pytest.raises(InputError, match="depth of frost"):
        FrostData(depth_m=-0.1)
    with pytest.raises(InputError, match="freezing index"):
        cold_of(line(*HILLS), FrostData(freezing_index_c_days=math.nan))
