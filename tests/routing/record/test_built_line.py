"""The line as built, on a line with one corner: distances by the geodesic of another library."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyproj
import pytest

from routing.crew import records_from
from routing.errors import InputError
from routing.record import built_line

GEOD = pyproj.Geod(ellps="WGS84")
STICK = 6.0


def cornered() -> dict[str, Any]:
    """A line 100 m north, then 100 m east, pipe 1 m below level ground."""
    lon, lat = 12.0, 61.0
    up, top, _ = GEOD.fwd(lon, lat, 0.0, 100.0)
    east, end, _ = GEOD.fwd(up, top, 90.0, 100.0)
    station = np.array([0.0, 100.0, 200.0])
    columns = {"station_m": station, "lon": np.array([lon, up, east]),
               "lat": np.array([lat, top, end])}  # fmt: skip
    return {
        "name": "corner", "units": "metric", "summary": {"plan_length_m": 200.0},
        "route": {"name": "corner", **columns}, "vents": [], "drains": [], "pipes": [],
        "terrain": {"crs": "EPSG:32633"},
        "stations": {**columns, "ground_m": np.full(3, 50.0), "pipe_m": np.full(3, 49.0),
                     "invert_m": np.full(3, 48.9), "depth_m": np.full(3, 1.1)},
        "levels_to_shoot": [], "grades": [],
    }  # fmt: skip


def built(station_m: float | None, **more: Any) -> dict[str, Any]:
    return {"kind": "asbuilt", "of": None, "station_m": station_m, "device": "a",
            "time": "2026-06-01T08:00:00Z", **more}  # fmt: skip


def line(*records: dict[str, Any]) -> Any:
    return built_line(cornered(), records_from(list(records)), STICK)


def far(made: Any, vertex: int, lon: float, lat: float) -> float:
    return float(GEOD.inv(made.route.lon[vertex], made.route.lat[vertex], lon, lat)[2])


def test_built_line__nothing_beside_it_is_the_drawn_line() -> None:
    doc = cornered()
    for made in (line(), line(built(50.0, invert_m=48.9)), line(built(50.0, offset_m=0.0))):
        assert not made.moved
        assert np.array_equal(made.route.lon, doc["route"]["lon"])
        assert made.station(77.0) == 77.0


@pytest.mark.parametrize("off", [-4.0, 3.0])
def test_built_line__a_taped_place_lies_square_to_the_line_and_the_corner_stays(off) -> None:
    doc, made = cornered(), line(built(50.0, offset_m=off))
    assert made.moved
    at = made.planned_m.tolist().index(50.0)
    lon, lat, _ = GEOD.fwd(doc["route"]["lon"][0], doc["route"]["lat"][0], 0.0, 50.0)
    lon, lat, _ = GEOD.fwd(lon, lat, 90.0, off)  # to the right of the way north lies the east
    assert far(made, at, lon, lat) < 0.01
    assert far(made, -2, doc["route"]["lon"][1], doc["route"]["lat"][1]) < 1e-6
    # Two sides of a flat triangle instead of its base.
    longer = 2.0 * np.hypot(50.0, off) - 100.0
    assert made.built_m[-1] - 200.0 == pytest.approx(longer, abs=2e-3)
    assert float(made.station(200.0)) == made.built_m[-1]


def test_built_line__at_the_corner_both_legs_keep_the_distance() -> None:
    doc, made = cornered(), line(built(100.0, offset_m=2.0))
    at = made.planned_m.tolist().index(100.0)
    # 2 m inside of both legs of a right angle: 2 m south and 2 m east of it.
    lon, lat, _ = GEOD.fwd(doc["route"]["lon"][1], doc["route"]["lat"][1], 135.0, np.sqrt(8.0))
    assert far(made, at, lon, lat) < 0.01


def test_built_line__a_vertex_within_a_stick_follows() -> None:
    doc, made = cornered(), line(built(97.0, offset_m=1.0))
    assert far(made, -2, doc["route"]["lon"][1], doc["route"]["lat"][1]) > 0.9
    beyond = line(built(92.0, offset_m=1.0))
    assert far(beyond, -2, doc["route"]["lon"][1], doc["route"]["lat"][1]) < 1e-6


def test_built_line__a_position_moves_it_only_where_it_is_better_than_that() -> None:
    doc = cornered()
    lon, lat, _ = GEOD.fwd(doc["route"]["lon"][0], doc["route"]["lat"][0], 0.0, 40.0)
    lon, lat, _ = GEOD.fwd(lon, lat, 270.0, 1.5)
    for accuracy, moves in ((0.3, True), (1.6, False)):
        (place,) = line(built(None, lon=lon, lat=lat, accuracy_m=accuracy, of="I1")).places
        assert place.station_m == pytest.approx(40.0, abs=0.01)
        assert place.off_m == pytest.approx(-1.5, abs=0.01)
        assert place.moves is moves


def test_built_line__the_later_word_on_a_place_counts() -> None:
    made = line(built(50.0, offset_m=9.0),
                built(50.02, offset_m=1.0, time="2026-06-02T08:00:00Z"))  # fmt: skip
    assert [place.off_m for place in made.places] == [1.0]


def test_built_line__refuses_what_is_of_another_line() -> None:
    with pytest.raises(InputError, match="60 m off the line at station 50"):
        line(built(50.0, offset_m=-60.0))
