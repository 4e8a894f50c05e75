"""Isolating valves proposed: at the ends, on both banks of wide streams, at branches."""

from __future__ import annotations

import numpy as np
import pytest

from routing.laid_line import LaidLine, simple_line
from routing.pipe import load_catalogue
from routing.works import place_valves, with_section_valves


@pytest.fixture(scope="module")
def line() -> LaidLine:
    station = np.linspace(0.0, 600.0, 121)
    pipe = load_catalogue().find("PE100-SDR17-200")
    return simple_line(station, 100.0 - 0.1 * station, pipe, intake_m=101.0)


def places(line: LaidLine, **given: object) -> list[tuple[float, str]]:
    return [(each.station_m, each.place) for each in place_valves(line, **given)]  # type: ignore[arg-type]


def test_place_valves__the_ends_of_a_plain_line(line: LaidLine) -> None:
    assert places(line) == [(0.0, "intake"), (600.0, "powerhouse")]


@pytest.mark.parametrize(("width", "banks"), [(4.5, 0), (4.7, 2), (20.0, 2)])
def test_place_valves__both_banks_of_a_stream_wider_than_4_6_m(
    line: LaidLine, width: float, banks: int
) -> None:
    # NRCS Conservation Practice Standard 430, 15 ft (4.6 m); seen second-hand.
    found = [at for at, place in places(line, streams_m=[(300.0, 300.0 + width)])
             if place == "stream bank"]  # fmt: skip
    assert len(found) == banks
    if banks:
        assert found[0] <= 300.0 - 5.0 + 1e-6
        assert found[1] >= 300.0 + width + 5.0 - 1e-6
        assert found[1] - found[0] < width + 10.0 + 2 * 5.0


def test_place_valves__five_metres_from_either_edge() -> None:
    """Out of the flood's reach and clear of the digging: common practice."""
    station = np.linspace(0.0, 600.0, 2401)
    pipe = load_catalogue().find("PE100-SDR17-200")
    fine = simple_line(station, 100.0 - 0.1 * station, pipe, intake_m=101.0)
    banks = [at for at, place in places(fine, streams_m=[(300.0, 310.0)]) if place == "stream bank"]
    assert banks == pytest.approx([295.0, 315.0])


def test_place_valves__what_was_asked_for_stands_in_the_place_of_a_proposal(line: LaidLine) -> None:
    found = place_valves(line, [2.0, 597.0, 293.0], [(300.0, 310.0)])
    assert [(each.station_m, each.place, each.proposed) for each in found] == [
        (2.0, "as given", False),
        (293.0, "as given", False),
        (315.0, "stream bank", True),
        (597.0, "as given", False),
    ]


def test_place_valves__a_branch_has_its_own_and_does_not_cut_the_line(line: LaidLine) -> None:
    (branch,) = [each for each in place_valves(line, branches_m=[250.0]) if each.place == "branch"]
    assert branch.station_m == 250.0
    assert not branch.in_line


def test_with_section_valves__once_for_two_sections_and_none_beside_another(
    line: LaidLine,
) -> None:
    valves = place_valves(line, [100.0])
    more = with_section_valves(valves, [100.4, 300.0, 300.0, 600.0])
    assert [each.station_m for each in more if each.place == "test section"] == [300.0]
    stations = [each.station_m for each in more]
    assert stations == sorted(stations)
