"""The stake-out list: places, coordinates, cuts."""

from __future__ import annotations

import csv
import io
import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_study import as_read_from_disk, made_document, moved_document
from pyproj import Transformer

from routing.errors import InputError
from routing.papers.stakes import stakes, stakes_csv


def rows(doc, crs=None) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(stakes_csv(doc, crs))))


def test_stakes__every_fitting_vertex_and_joint_has_one() -> None:
    doc = made_document()
    read = rows(doc)
    station = np.array([float(row["station_m"]) for row in read])
    assert np.all(np.diff(station) > 0)
    wanted = [item["station_m"] for key in ("vents", "drains", "bends") for item in doc[key]]
    wanted += [*doc["route"]["station_m"], *(pipe["from_m"] for pipe in doc["pipes"])]
    wanted += [span[key] for span in doc["trench"]["spans"] for key in ("from_m", "to_m")]
    wanted += list(np.arange(0.0, station[-1], 20.0))
    for at in wanted:
        assert np.min(np.abs(station - at)) < 0.056, at
    wanted += [straight["to_m"] for straight in doc["grades"]]
    notes = " ".join(row["note"] for row in read)
    for item in (*doc["vents"], *doc["drains"], *doc["bends"]):
        assert item["id"] in notes


def test_stakes__each_break_has_the_grade_ahead_and_its_radius() -> None:
    doc = made_document()
    read = rows(doc)
    station = np.array([float(row["station_m"]) for row in read])
    for before, ahead in itertools.pairwise(doc["grades"]):
        row = read[int(np.argmin(np.abs(station - before["to_m"])))]
        assert "grade changes" in row["note"]
        assert ("bent to 6.8 m" in row["note"]) == (before["made_as"] == "curve")
        assert float(row["grade_ahead_percent"]) == pytest.approx(100 * ahead["grade"], abs=0.006)
    for row, at in zip(read, station, strict=True):
        inside = [g for g in doc["grades"] if g["from_m"] + 0.1 < at < g["to_m"] - 0.1]
        for each in inside:
            assert float(row["grade_ahead_percent"]) == pytest.approx(
                100 * each["grade"], abs=0.006
            )


def test_stakes__closer_where_the_line_curves_or_is_steep() -> None:
    doc = made_document()
    station, pipe = doc["stations"]["station_m"], doc["stations"]["pipe_m"]
    at = {round(float(row["station_m"]), 2) for row in rows(doc)}
    for place in np.arange(10.0, station[-1] - 10.0, 20.0):
        z0, z1 = np.interp([place - 10.0, place + 10.0], station, pipe)
        steep = abs(z1 - z0) >= 0.15 * 20.0
        curved = any(
            abs(bend["station_m"] - place) <= 10.0 and abs(bend["plan_deg"]) >= 5.0
            for bend in doc["bends"]
        )
        if steep or curved:
            assert round(float(place), 2) in at


def test_stakes__cut_reaches_the_bottom_of_the_trench() -> None:
    doc = made_document()
    table = doc["stations"]
    for row in rows(doc):
        at = float(row["station_m"])
        span = any(s["from_m"] + 0.06 < at < s["to_m"] - 0.06 for s in doc["trench"]["spans"])
        if span:
            assert row["cut_to_trench_bottom_m"] == ""
            continue
        if row["cut_to_trench_bottom_m"] == "":
            continue
        cover = np.interp(at, table["station_m"], table["cover_m"])
        wanted = cover + doc["pipes"][0]["outside_diameter_m"] + doc["trench"]["bedding_m"]
        assert float(row["cut_to_trench_bottom_m"]) == pytest.approx(wanted, abs=2e-3)
        assert float(row["ground_m"]) - float(row["invert_m"]) < float(
            row["cut_to_trench_bottom_m"]
        )


@pytest.mark.parametrize(
    ("crs", "unit", "lon", "lat"),
    [
        ("EPSG:32633", "m", 12.4, 61.2),
        ("EPSG:2226", "usft", -121.6, 38.5),
        ("EPSG:2222", "ft", -110.3, 33.0),
    ],
)
def test_stakes__coordinates_in_the_chosen_system(crs, unit, lon, lat) -> None:
    doc = moved_document(lon, lat)
    transform = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    for row in rows(doc, crs):
        x, y = transform.transform(float(row["longitude_deg"]), float(row["latitude_deg"]))
        assert float(row[f"easting_{unit}"]) == pytest.approx(x, abs=0.01)
        assert float(row[f"northing_{unit}"]) == pytest.approx(y, abs=0.01)
        assert row["coordinate_system"].startswith(crs)


def test_stakes__a_system_made_for_elsewhere_is_refused() -> None:
    with pytest.raises(InputError, match="cannot be set out from"):
        stakes(made_document(), "EPSG:2226")


def test_stakes__us_stakes_stand_at_round_feet() -> None:
    doc = made_document(units="us")
    at = [float(row["station_ft"]) for row in rows(doc)]
    for place in np.arange(50.0, at[-1], 50.0):
        assert min(abs(place - x) for x in at) < 0.2


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "nonsense", "EPSG:4979"])
def test_stakes__a_system_without_true_lengths_is_refused(crs: str) -> None:
    with pytest.raises(InputError, match="cannot be set out from"):
        stakes(made_document(), crs)


@pytest.mark.parametrize("crs", [None, "EPSG:4326", "EPSG:3857", "hill grid"])
def test_stakes__otherwise_the_utm_zone_of_the_line(crs) -> None:
    doc = made_document()
    doc["terrain"]["crs"] = crs
    # 12.4 degrees east lies in zone 33 (12 to 18 degrees east).
    assert stakes(doc).survey.name.startswith("EPSG:32633")


def test_stakes_csv__same_text_from_disk() -> None:
    assert stakes_csv(made_document()) == stakes_csv(as_read_from_disk(made_document()))


@settings(max_examples=15, deadline=None)
@given(count=st.integers(60, 900), units=st.sampled_from(["metric", "us"]))
def test_stakes__always_rise_and_stay_on_the_line(count: int, units: str) -> None:
    doc = made_document(count=count, units=units)
    made = stakes(doc).subject
    keys = [column.key for column in made.columns]
    station = [row[keys.index("station")] for row in made.rows]
    assert all(b > a for a, b in itertools.pairwise(station))
    assert station[0] == 0.0
    metre = 1.0 if units == "metric" else 1.0 / 0.3048
    assert station[-1] == pytest.approx(doc["stations"]["station_m"][-1] * metre)
