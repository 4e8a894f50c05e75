"""Records of crews in a study: what may come in, and what becomes of a place that moved."""

from __future__ import annotations

from typing import Any

import pytest
from made_study import made_document

from routing.crew import records_from
from routing.errors import InputError
from routing.papers.things import things
from routing.record import check_records, place_records, with_records


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
