"""Areas that a line must not cross, against the geometry library."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from routing.errors import SettingsError
from routing.line import Area
from routing.line.ground.areas import stretches_inside
from routing.settings import read_settings, settings_from_mapping

SQUARE = np.array([[1.0, 1.0], [3.0, 1.0], [3.0, 3.0], [1.0, 3.0], [1.0, 1.0]])
HOLE = np.array([[1.5, 1.5], [2.5, 1.5], [2.5, 2.5], [1.5, 2.5], [1.5, 1.5]])


def along(*places: tuple[float, float]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    lon, lat = np.array(places, dtype=float).T
    return lon, lat, np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(lon), np.diff(lat)))))


@pytest.mark.parametrize(
    ("places", "inside"),
    [
        (((0, 2), (4, 2)), [(1, 1.5), (2.5, 3)]),
        (((0, 1.2), (2, 1.2), (4, 1.2)), [(1, 3)]),
        (((2, 1.2), (2, 0)), [(0, 0.2)]),
        (((0, 0), (0, 4)), []),
        (((0, 0), (1, 1), (0, 2)), []),
        (((0, 0.5), (4, 0.5)), []),
    ],
)
def test_stretches_inside__a_square_with_a_hole(places, inside) -> None:
    found = stretches_inside(*along(*places), Area(name="", rings=(SQUARE, HOLE)))
    assert found == [pytest.approx(pair) for pair in inside]


def test_stretches_inside__a_line_a_turn_away_beyond_the_antimeridian() -> None:
    lon, lat, station = along((179.0, 2.0), (183.0, 2.0))
    area = Area(name="", rings=(SQUARE - np.array([181.0, 0.0]),))
    assert stretches_inside(lon, lat, station, area) == [pytest.approx((1.0, 3.0))]


PLACE = st.tuples(st.floats(-5, 5), st.floats(-5, 5))


@given(st.lists(PLACE, min_size=2, max_size=6, unique=True), st.integers(3, 9), st.floats(0.5, 4))
def test_stretches_inside__as_long_as_the_library_says(places, corners, radius) -> None:
    turn = np.linspace(0.3, 0.3 + 2 * math.pi, corners, endpoint=False)
    size = radius * (1.0 + 0.5 * np.cos(3 * turn))
    ring = np.column_stack([size * np.cos(turn), size * np.sin(turn)])
    ring = np.vstack([ring, ring[:1]])
    polygon = shapely.Polygon(ring)
    assume(polygon.is_valid)
    lon, lat, station = along(*places)
    assume(np.diff(station).min() > 1e-3)
    parts = stretches_inside(lon, lat, station, Area(name="", rings=(ring,)))
    cut = sum(
        shapely.intersection(shapely.LineString(pair), polygon).length
        for pair in zip(
            zip(lon, lat, strict=True), zip(lon[1:], lat[1:], strict=True), strict=False
        )
    )
    assert sum(b - a for a, b in parts) == pytest.approx(cut, abs=2e-2)


def ring_of(coordinates: object, kind: str = "Polygon") -> dict:
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": geometry}]}


@pytest.mark.parametrize(
    ("features", "told"),
    [
        ({}, "FeatureCollection"),
        ({"features": [3]}, "not a polygon"),
        (ring_of([[0, 0], [1, 1]], "LineString"), "LineString"),
        (ring_of([]), "no ring"),
        (ring_of([[[0, 0], [1, 1]]]), "no ring of"),
        (ring_of([[[0, 0], [1, 1], [1, "x"]]]), "no pair of numbers"),
        (ring_of([[[0, 0], [1, 1], [1, 91]]]), "longitudes and latitudes"),
        (ring_of([[[0, 0], [1, 1], [1, float("nan")]]]), "longitudes and latitudes"),
    ],
)
def test_layer__bad_areas_are_named(features, told) -> None:
    with pytest.raises(SettingsError, match=told) as caught:
        settings_from_mapping({"layer": [{"kind": "no-go", "features": features}]})
    assert "layer[0].features" in str(caught.value)


def test_layer__a_file_beside_the_settings_stands_in_them(tmp_path) -> None:
    import json

    many = ring_of([[SQUARE.tolist(), HOLE.tolist()], [(SQUARE + 9).tolist()]], "MultiPolygon")
    (tmp_path / "bog.geojson").write_text(json.dumps(many), encoding="utf-8")
    path = tmp_path / "s.toml"
    path.write_text('[[layer]]\nkind = "no-go"\nfile = "bog.geojson"\n', encoding="utf-8")
    settings = read_settings(path)
    (area,) = settings.layer[0].features
    assert [len(ring) for ring in area.rings] == [5, 5, 5]
    again = settings_from_mapping(dict(settings.given)).layer[0].features[0]
    assert all(np.array_equal(a, b) for a, b in zip(area.rings, again.rings, strict=True))
    path.write_text('[[layer]]\nkind = "no-go"\nfile = "none.geojson"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match=r"layer\[0\]\.file"):
        read_settings(path)
