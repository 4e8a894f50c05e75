"""Offset stakes: where they stand, by a geodesic and a plane of other libraries."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
import pyproj
import pytest
from made_study import made_document
from sample_study import sample_document
from shapely.geometry import LineString, Point

from routing.papers.offsets import Beside
from routing.papers.stakes import stakes_csv
from routing.papers.things import things

GEOD = pyproj.Geod(ellps="WGS84")


def straight(bearing_deg: float, *, slope: float = 0.3, **trench: object) -> dict[str, object]:
    """Return 100 m of line on a bearing, its pipe 1 m below level ground, the right side uphill."""
    lon, lat, _ = GEOD.fwd([10.0] * 11, [60.0] * 11, [bearing_deg] * 11, np.arange(11) * 10.0)
    return cornered(np.asarray(lon), np.asarray(lat), slope, **trench)


def cornered(lon: np.ndarray, lat: np.ndarray, slope: float, **trench: object) -> dict[str, object]:
    count = lon.size
    return {
        "units": "metric",
        "stations": {
            "station_m": np.arange(count) * 10.0,
            "lon": lon,
            "lat": lat,
            "ground_m": np.full(count, 50.0),
            "invert_m": np.full(count, 49.0),
            "side_slope": np.full(count, slope),
        },
        "trench": {"width_m": 0.6, "bedding_m": 0.1, **trench},
        "pipes": [{"from_m": 0.0, "wall_m": 0.01}],
    }


@pytest.mark.parametrize("bearing_deg", [0.0, 37.0, 90.0, 201.0, 315.0])
def test_beside__square_to_the_line_uphill_and_clear_of_the_slope(bearing_deg: float) -> None:
    doc = straight(bearing_deg)
    found = Beside(doc).at(50.0)
    assert found is not None
    assert found.side == "right"
    # 0.3 m of half width, 1.11 m of wall sloped one to one, 0.6 m (two feet) clear: 2.01, so 2.5 m.
    assert [stake.distance_m for stake in found.stakes] == [2.5, 4.5]
    assert (found.level_m, found.level_of) == (pytest.approx(48.89), "trench bottom")
    for stake in found.stakes:
        lon, lat = doc["stations"]["lon"][5], doc["stations"]["lat"][5]
        azimuth, _, away = GEOD.inv(stake.lon, stake.lat, lon, lat)
        assert away == pytest.approx(stake.distance_m, abs=1e-4)
        assert (azimuth - found.bearing_deg + 180.0) % 360.0 == pytest.approx(180.0, abs=0.01)
        assert (azimuth - bearing_deg) % 360.0 == pytest.approx(270.0, abs=0.05)
        assert stake.ground_m == pytest.approx(50.0 + 0.3 * stake.distance_m)


def test_beside__left_where_the_left_is_uphill_or_nothing_is_known() -> None:
    for slope in (-0.2, math.nan):
        found = Beside(straight(90.0, slope=slope)).at(50.0)
        assert found is not None
        assert found.side == "left"
    assert found.stakes[0].ground_m is None


def test_beside__a_bench_and_a_span_move_the_stakes() -> None:
    bench = {"width_m": 3.0, "stretches": [{"from_m": 40.0, "to_m": 60.0}]}
    spans = [{"from_m": 80.0, "to_m": 90.0}]
    beside = Beside(straight(90.0, bench=bench, spans=spans))
    near = {at: beside.at(at) for at in (20.0, 50.0, 85.0)}
    assert [each.stakes[0].distance_m for each in near.values() if each] == [2.5, 4.0, 1.0]
    over = near[85.0]
    assert over is not None
    assert (over.level_m, over.level_of) == (pytest.approx(48.99), "underside of the pipe")


@pytest.mark.parametrize("turn_deg", [-150.0, -90.0, -40.0, 40.0, 90.0, 150.0])
@pytest.mark.parametrize("block", [False, True])
def test_beside__no_stake_stands_in_the_trench_of_a_corner(turn_deg: float, block: bool) -> None:
    lon, lat, _ = GEOD.fwd([10.0] * 6, [60.0] * 6, [0.0] * 6, np.arange(6) * 10.0)
    on, up, _ = GEOD.fwd([lon[-1]] * 5, [lat[-1]] * 5, [turn_deg] * 5, np.arange(1, 6) * 10.0)
    doc = cornered(np.append(lon, on), np.append(lat, up), 0.3)
    if block:  # it pushes outwards, away from the middle of the corner
        push = turn_deg / 2.0 + (-90.0 if turn_deg > 0.0 else 90.0)
        doc["blocks"] = [
            {"station_m": 50.0, "bearing_deg": push % 360.0, "length_m": 0.5, "height_m": 0.8,
             "width_m": 0.8, "pipe_m": 49.0}
        ]  # fmt: skip
    found = Beside(doc).at(50.0)
    assert found is not None
    outside = "left" if turn_deg > 0.0 else "right"
    assert (found.side == outside) is not block
    assert found.level_of == ("bottom of the concrete" if block else "trench bottom")
    plane = pyproj.Transformer.from_crs(
        "EPSG:4326", f"+proj=tmerc +lat_0={lat[-1]} +lon_0={lon[-1]} +k=1", always_xy=True
    )
    line = LineString(np.column_stack(plane.transform(doc["stations"]["lon"],
                                                      doc["stations"]["lat"])))  # fmt: skip
    clear = 0.3 + 50.0 - found.level_m + 0.6
    for stake in found.stakes:
        away = line.distance(Point(*plane.transform(stake.lon, stake.lat)))
        # Within a corner sharper than 120 degrees there is no room; there only the edge is kept.
        assert away >= (clear if abs(turn_deg) <= 120.0 or not block else 0.5 * clear) - 1e-3


def test_beside__feet_are_round_in_the_us() -> None:
    doc = straight(90.0)
    doc["units"] = "us"
    found = Beside(doc).at(50.0)
    assert found is not None
    feet = [stake.distance_m / 0.3048 for stake in found.stakes]
    assert feet == [pytest.approx(8.0), pytest.approx(14.0)]  # 2.01 m are 6.6 ft


def test_stakes__the_list_the_kit_and_the_card_tell_the_same_stakes() -> None:
    doc = sample_document()
    kits, shared = {kit["of"]: kit for kit in doc["kits"]}, 0
    rows = list(csv.DictReader(io.StringIO(stakes_csv(doc))))
    system = rows[0]["coordinate_system"].split(" (")[0]
    grid = pyproj.Transformer.from_crs("EPSG:4326", system, always_xy=True)
    told = 0
    for thing in things(doc):
        kit, facts = kits.get(thing.id), dict(thing.kit)
        east, north = grid.transform(thing.lon, thing.lat)
        assert facts["Grid"].startswith(f"E {east:.2f}, N {north:.2f} m, {system}")
        if kit is None:
            assert "Offset stakes" not in facts
            continue
        row = min(rows, key=lambda each: abs(float(each["station_m"]) - kit["station_m"]))
        assert abs(float(row["station_m"]) - kit["station_m"]) < 0.056, thing.id
        # What stands within 5 cm of another shares its row, and stakes a step nearer or farther.
        same = [float(row["offset_1_m"]), float(row["level_to_dig_to_m"])] == [
            pytest.approx(kit["offset"]["stakes"][0]["distance_m"]),
            pytest.approx(kit["offset"]["level_m"], abs=2e-3),
        ]
        shared += not same
        assert row["offset_side"] == kit["offset"]["side"]
        for number, stake in enumerate(kit["offset"]["stakes"], start=1):
            place = (float(row[f"offset_{number}_{key}_deg"]) for key in ("longitude", "latitude"))
            if same:
                assert GEOD.inv(stake["lon"], stake["lat"], *place)[2] < 0.01
            east, north = grid.transform(stake["lon"], stake["lat"])
            assert facts[f"Stake {number}"].startswith(f"E {east:.2f}, N {north:.2f} m")
        level = kit["offset"]["level_m"]
        assert facts[f"Level of the {kit['offset']['level_of']}"].startswith(f"{level:.2f} m")
        told += 1
    assert told > 40
    assert shared <= 2


def test_kits__lengths_along_pipe_and_ground_end_as_the_study_says() -> None:
    doc = sample_document()
    last = max(doc["kits"], key=lambda kit: kit["station_m"])
    assert last["station_m"] == doc["summary"]["plan_length_m"]
    assert last["along_pipe_m"] == pytest.approx(doc["summary"]["pipe_length_m"], abs=2e-3)
    assert last["along_ground_m"] == pytest.approx(doc["summary"]["ground_length_m"], abs=2e-3)


def test_stakes__a_study_without_kits_tells_the_grid_alone() -> None:
    doc = made_document()
    assert {label for thing in things(doc) for label, _ in thing.kit} == {"Grid"}
