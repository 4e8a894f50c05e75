"""Records of crews in a study: what may come in, and what becomes of a place that moved."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from made_study import made_document

from routing.crew import conflicts, records_from
from routing.errors import InputError
from routing.laid_line import simple_line
from routing.line.ground.places import degree_m
from routing.papers.things import things
from routing.record import check_records, place_records, with_records
from routing.record.relief import _way_deg


def tick(of: str, station_m: float | None, **more: Any) -> dict[str, Any]:
    return {"kind": "tick", "of": of, "station_m": station_m, "done": True, "device": "a",
            "time": "2026-06-01T08:00:00Z", **more}  # fmt: skip


@pytest.fixture(scope="module")
def doc() -> dict[str, Any]:
    return made_document()


def test_place_records__what_stands_where_it_was_says_nothing(doc) -> None:
    at = {thing.id: thing.station_m for thing in things(doc)}
    for off in (0.0, 0.4, -0.4):
        (placed,) = place_records(doc, records_from([tick("V1", at["V1"] + 0.5 + off)]))
        assert ("was_m" in placed) is (0.5 + off > 0.5)


def test_place_records__moved_and_gone_are_told_apart(doc) -> None:
    at = {thing.id: thing.station_m for thing in things(doc)}
    moved, gone, act = place_records(
        doc, records_from([tick("V1", at["V1"] + 28.0), tick("V99", 10.0), tick("L120", 12.0)])
    )
    assert (moved["was_m"], moved["now_m"]) == (at["V1"] + 28.0, at["V1"])
    assert gone["was_m"] == 10.0
    assert "now_m" not in gone
    assert "was_m" not in act


def test_place_records__what_a_study_said_before_is_said_anew(doc) -> None:
    at = {thing.id: thing.station_m for thing in things(doc)}
    (placed,) = place_records(doc, [{**records_from([tick("V1", at["V1"])])[0], "was_m": 1.0}])
    assert "was_m" not in placed


def test_with_records__the_same_ones_again_change_nothing_and_order_does_not_matter(doc) -> None:
    north, south = (
        records_from([tick("V1", None)]),
        records_from([tick("V1", None, device="b", time="2026-06-01T09:00:00Z")]),
    )
    one = with_records(with_records(doc, north), south)
    other = with_records(with_records(doc, south), north)
    assert one["records"] == other["records"]
    assert with_records(one, north)["records"] == one["records"]
    assert len(one["records"]) == 2
    assert with_records(doc, []) == dict(doc)


@pytest.mark.parametrize(
    ("record", "said"),
    [
        (tick("V99", 10.0), "V99"),
        ({**tick("V1", None), "of": None, "station_m": 9_000.0, "kind": "asbuilt",
          "invert_m": 300.0}, "the line ends"),
        (tick("L99999", 10.0), "L99999"),
    ],
)  # fmt: skip
def test_check_records__what_is_not_there_is_refused_by_name(doc, record, said: str) -> None:
    with pytest.raises(InputError, match=said):
        check_records(doc, records_from([record]))


@pytest.mark.parametrize(("apart", "told"), [(0.0, 0), (0.0299, 0), (0.0305, 1)])
def test_conflicts__levels_as_built_agree_within_three_centimetres(apart: float, told: int) -> None:
    # Common practice for setting out: a crew lays an invert within 30 mm.
    said = [
        {"kind": "asbuilt", "of": "V1", "station_m": 10.0, "invert_m": level, "device": device,
         "time": "2026-06-01T08:00:00Z"}
        for device, level in (("a", 300.0), ("b", 300.0 + apart))
    ]  # fmt: skip
    assert len(conflicts(records_from(said))) == told


def test_way_of_a_relief_valve__five_metres_up_and_down_the_line() -> None:
    # By hand: 4 m before a square corner, from 5 m above to 5 m below, it goes 9 m east, 1 north.
    wide, high = degree_m(0.0)
    line = simple_line(
        [0.0, 100.0, 200.0],
        [30.0, 20.0, 10.0],
        "PE100-SDR17-200",
        intake_m=31.0,
        lon=np.array([0.0, 100.0, 100.0]) / wide,
        lat=np.array([0.0, 0.0, 100.0]) / high,
    )
    assert _way_deg(line, 96.0) == pytest.approx(math.degrees(math.atan2(9.0, 1.0)), abs=1e-6)
