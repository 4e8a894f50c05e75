"""The ground profile: exact, complete, and the same however the line is cut or turned."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import rasterio
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod
from rasterio.transform import Affine
from rasterio.warp import transform as warp_points

from routing.errors import InputError, MissingElevation, NotElevation, OutsideTerrain
from routing.line import Route, find_extremes, ground_profile
from routing.terrain import GridWindow, Terrain, open_terrain, read_window

Make = Callable[..., Path]
GEOD = Geod(ellps="WGS84")


def on_grid(terrain: Terrain, rows: object, cols: object) -> Route:
    """Return the line through node coordinates."""
    lon, lat = terrain.reference.to_lonlat(np.asarray(rows, float), np.asarray(cols, float))
    return Route(name="test", lon=lon, lat=lat)


def bilinear(z: np.ndarray, row: np.ndarray, col: np.ndarray) -> np.ndarray:
    """Return the surface by the textbook formula, apart from the code under test."""
    r, c = np.clip(row, 0, z.shape[0] - 1), np.clip(col, 0, z.shape[1] - 1)
    r0, c0 = (
        np.minimum(np.floor(v), n - 2).astype(int) for v, n in ((r, z.shape[0]), (c, z.shape[1]))
    )
    f, g = r - r0, c - c0
    return (
        z[r0, c0] * (1 - f) * (1 - g) + z[r0, c0 + 1] * (1 - f) * g
        + z[r0 + 1, c0] * f * (1 - g) + z[r0 + 1, c0 + 1] * f * g
    )  # fmt: skip


@pytest.fixture(scope="module")
def rough(tmp_path_factory: pytest.TempPathFactory) -> tuple[Terrain, np.ndarray, GridWindow]:
    """Return a rough terrain of 60 x 80 cells, its values, and all of it in memory."""
    path = tmp_path_factory.mktemp("rough") / "rough.tif"
    z = np.random.default_rng(11).uniform(200, 260, (60, 80))
    with rasterio.open(
        path, "w", driver="GTiff", height=60, width=80, count=1, dtype="float64",
        crs="EPSG:32633", transform=Affine(10, 0, 500_000, 0, -10, 5_200_000),
    ) as dataset:  # fmt: skip
        dataset.write(z, 1)
    terrain = open_terrain([path])
    lon, lat = terrain.reference.to_lonlat([-0.5, 59.5], [-0.5, 79.5])
    return terrain, z, read_window(terrain, lon.min(), lat.min(), lon.max(), lat.max())


inside = st.tuples(st.floats(-0.5, 59.5), st.floats(-0.5, 79.5))
lines = st.lists(inside, min_size=2, max_size=5).filter(
    lambda points: all(np.hypot(*np.subtract(a, b)) > 0.01 for a, b in pairwise(points))
)


@given(lines)
def test_ground_profile__is_the_surface_and_misses_nothing(
    rough: tuple[Terrain, np.ndarray, GridWindow], points: list[tuple[float, float]]
) -> None:
    terrain, z, window = rough
    rows, cols = np.array(points).T
    profile = ground_profile(terrain, on_grid(terrain, rows, cols), window=window)
    row, col = terrain.reference.to_nodes(profile.lon, profile.lat)
    assert profile.ground_m == pytest.approx(bilinear(z, row, col), abs=1e-5)
    assert np.diff(profile.station_m).min() >= 0.9e-3
    assert profile.station_m[0] == 0.0
    # Dense samples of each leg stay within the chord tolerance and between the extremes.
    for leg in range(len(points) - 1):
        share = np.linspace(0, 1, 701)
        dense = bilinear(
            z,
            rows[leg] + share * (rows[leg + 1] - rows[leg]),
            cols[leg] + share * (cols[leg + 1] - cols[leg]),
        )
        begin, end = profile.vertex_station_m[leg : leg + 2]
        chord = np.interp(begin + share * (end - begin), profile.station_m, profile.ground_m)
        # 60 m of range over a cell and a millimetre merged may cost a centimetre.
        assert np.abs(chord - dense).max() < 0.02 + 0.015
        assert dense.max() <= profile.ground_m.max() + 0.01
        assert dense.min() >= profile.ground_m.min() - 0.01


@given(lines)
def test_ground_profile__backwards_is_the_mirror(
    rough: tuple[Terrain, np.ndarray, GridWindow], points: list[tuple[float, float]]
) -> None:
    terrain, _, window = rough
    rows, cols = np.array(points).T
    route = on_grid(terrain, rows, cols)
    back = Route(name="back", lon=route.lon[::-1], lat=route.lat[::-1])
    one = ground_profile(terrain, route, window=window)
    two = ground_profile(terrain, back, window=window)
    length = one.station_m[-1]
    assert two.station_m[-1] == pytest.approx(length, abs=1e-6)
    at = np.linspace(0, length, 500)
    mirrored = np.interp(length - at, two.station_m, two.ground_m)
    assert np.interp(at, one.station_m, one.ground_m) == pytest.approx(mirrored, abs=0.02)
    assert two.ground_length_m == pytest.approx(one.ground_length_m, rel=1e-4, abs=0.02)


@given(lines, st.floats(0.05, 0.95))
def test_ground_profile__splitting_a_leg_changes_nothing(
    rough: tuple[Terrain, np.ndarray, GridWindow], points: list[tuple[float, float]], share: float
) -> None:
    terrain, _, window = rough
    rows, cols = np.array(points).T
    more = np.insert(rows, 1, rows[0] + share * (rows[1] - rows[0]))
    also = np.insert(cols, 1, cols[0] + share * (cols[1] - cols[0]))
    whole = ground_profile(terrain, on_grid(terrain, rows, cols), window=window)
    split = ground_profile(terrain, on_grid(terrain, more, also), window=window)
    assert split.vertex_station_m[[0, *range(2, len(more))]] == pytest.approx(
        whole.vertex_station_m, abs=1e-6
    )
    shared = ground_profile(
        terrain, on_grid(terrain, rows, cols), window=window, at_m=split.station_m
    )
    at = np.searchsorted(shared.station_m, split.station_m - 1e-3)
    at = np.minimum(at, shared.station_m.size - 1)
    same = np.abs(shared.station_m[at] - split.station_m) < 1e-6
    assert same.mean() > 0.9
    assert shared.ground_m[at][same] == pytest.approx(split.ground_m[same], abs=1e-5)


def test_ground_profile__stations_stand_where_they_must(make_raster: Make) -> None:
    # A saddle in one cell: z = 4 r c; along r = c it is 4 t**2, along r = 1 - c it turns at 1/2.
    terrain = open_terrain([make_raster(np.array([[0.0, 0.0], [0.0, 4.0]]), dtype="float64")])
    turning = ground_profile(terrain, on_grid(terrain, [0, 1], [1, 0]), chord_tolerance_m=10.0)
    length = turning.station_m[-1]
    assert length == pytest.approx(10 * np.sqrt(2) / 0.9996, rel=1e-6)  # the scale of UTM
    assert turning.station_m == pytest.approx([0.0, length / 2, length])
    assert turning.ground_m == pytest.approx([0.0, 1.0, 0.0], abs=1e-6)
    straight = ground_profile(terrain, on_grid(terrain, [0, 1], [0, 1]), chord_tolerance_m=0.04)
    # A chord over 1/n leaves 4 t**2 by 1/n**2: five steps keep within 0.04 m.
    assert straight.ground_m == pytest.approx(4 * (np.arange(6) / 5) ** 2, abs=1e-6)


def test_ground_profile__crossings_and_vertices(make_raster: Make) -> None:
    z = np.add.outer(np.zeros(5), np.array([0.0, 3.0, 1.0, 4.0, 2.0, 6.0]))
    terrain = open_terrain([make_raster(z)])
    profile = ground_profile(terrain, on_grid(terrain, [2, 2, 2], [0.5, 2.25, 4.5]))
    assert profile.ground_m.tolist() == pytest.approx([1.5, 3.0, 1.0, 1.75, 4.0, 2.0, 4.0])
    assert profile.vertex.tolist() == [True, False, False, True, False, False, True]
    highs, lows = find_extremes(profile.station_m, profile.ground_m)
    assert [high.height_m for high in highs] == [3.0, 4.0]
    assert [low.height_m for low in lows] == [1.0, 2.0]


@pytest.mark.parametrize("cell", [2.5, 5.0, 10.0, 25.0])
def test_ground_profile__a_plane_is_a_plane_whatever_the_cell(
    make_raster: Make, cell: float
) -> None:
    count = round(1000 / cell)
    east = (np.arange(count) + 0.5) * cell
    z = 400 + 0.05 * east[None, :] - 0.12 * east[:, None]
    terrain = open_terrain([make_raster(z, cell=cell, dtype="float64")])
    to_lonlat = warp_points("EPSG:32633", "EPSG:4326", [500_100, 500_800], [5_199_850, 5_199_200])
    profile = ground_profile(terrain, Route(name="plane", lon=to_lonlat[0], lat=to_lonlat[1]))
    assert profile.ground_m[[0, -1]] == pytest.approx([400 + 5 - 18, 400 + 40 - 96], abs=1e-6)
    share = profile.station_m / profile.station_m[-1]
    assert profile.ground_m == pytest.approx(387 + share * (344 - 387), abs=1e-5)
    assert profile.ground_length_m == pytest.approx(np.hypot(profile.station_m[-1], 43.0), abs=1e-6)


@pytest.mark.parametrize(
    "transform",
    [
        Affine(10, 0, 500_000, 0, 10, 5_199_000),
        Affine(8, 3, 500_000, 2, -9, 5_200_000),
        Affine(-10, 0, 500_400, 0, -10, 5_200_000),
        Affine(0, 10, 500_000, -10, 0, 5_200_000),
        Affine(10, 0, 500_000, 0, -25, 5_200_000),
    ],
)
def test_ground_profile__turned_and_flipped_rasters(make_raster: Make, transform: Affine) -> None:
    # The same plane of the map sampled on every grid must come back as that plane.
    row, col = np.mgrid[0:40, 0:40] + 0.5
    x, y = transform @ (col, row)
    z = 300 + 0.03 * (x - 500_000) + 0.07 * (y - 5_199_500)
    terrain = open_terrain([make_raster(z, transform=transform, dtype="float64")])
    route = on_grid(terrain, [3.2, 30.7, 22.2], [5.1, 12.9, 36.4])
    profile = ground_profile(terrain, route)
    px, py = warp_points("EPSG:4326", "EPSG:32633", profile.lon, profile.lat)
    expected = 300 + 0.03 * (np.array(px) - 500_000) + 0.07 * (np.array(py) - 5_199_500)
    assert profile.ground_m == pytest.approx(expected, abs=1e-5)


def test_ground_profile__integers_are_not_rounded(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(np.array([[10, 11], [12, 14]]), dtype="int16")])
    profile = ground_profile(terrain, on_grid(terrain, [0.5, 0.5], [0.25, 0.75]))
    assert profile.ground_m[[0, -1]] == pytest.approx([11.375, 12.125], abs=1e-6)


def test_ground_profile__feet_become_metres(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(np.full((4, 4), 1000.0), unit="ft")])
    profile = ground_profile(terrain, on_grid(terrain, [1, 2], [1, 2]))
    assert profile.ground_m == pytest.approx(304.8, abs=1e-9)


def test_ground_profile__outer_half_cell_holds_the_edge(make_raster: Make) -> None:
    z = np.add.outer(np.arange(4.0) * 10, np.arange(5.0))
    terrain = open_terrain([make_raster(z)])
    profile = ground_profile(terrain, on_grid(terrain, [-0.5, 3.5], [-0.5, 4.5]))
    assert profile.ground_m[[0, -1]].tolist() == [0.0, 34.0]
    last = ground_profile(terrain, on_grid(terrain, [3, 3], [0, 4]))
    assert last.ground_m == pytest.approx([30, 31, 32, 33, 34], abs=1e-6)
    corner = ground_profile(terrain, on_grid(terrain, [3.5, 3.5], [3.9, 4.5]))
    assert corner.ground_m == pytest.approx([33.9, 34, 34], abs=1e-6)


def test_ground_profile__one_cell(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(np.array([[123.0]]))])
    profile = ground_profile(terrain, on_grid(terrain, [-0.4, 0.4], [-0.3, 0.5]))
    assert (profile.ground_m == 123.0).all()
    assert profile.station_m.size >= 2


@pytest.mark.parametrize(
    ("rows", "cols", "station_m"),
    [([-1, 5], [5, 5], 0.0), ([5, 5], [5, 14.5], 50.0), ([5, 5, -20], [2, 7, 7], 105.0)],
)
def test_ground_profile__leaves_the_raster(
    make_raster: Make, rows: list[float], cols: list[float], station_m: float
) -> None:
    terrain = open_terrain([make_raster(np.full((10, 10), 5.0))])
    with pytest.raises(OutsideTerrain, match=r"station .* m") as caught:
        ground_profile(terrain, on_grid(terrain, rows, cols))
    error = caught.value
    assert error.station_m == pytest.approx(station_m * (0.9 if station_m == 50 else 1), rel=1e-3)
    assert error.lon is not None
    assert f"{error.lat:.7f}" in str(error)


def test_ground_profile__line_folding_back(make_raster: Make) -> None:
    z = np.add.outer(np.zeros(4), np.arange(10.0))
    terrain = open_terrain([make_raster(z)])
    profile = ground_profile(terrain, on_grid(terrain, [2, 2, 2], [1, 7, 1]))
    assert profile.station_m[-1] == pytest.approx(120 / 0.9996, rel=1e-6)
    assert profile.ground_m == pytest.approx([1, 2, 3, 4, 5, 6, 7, 6, 5, 4, 3, 2, 1], abs=1e-6)


def test_ground_profile__repeated_points_are_one(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(np.full((9, 9), 5.0))])
    lon, lat = terrain.reference.to_lonlat([1, 1, 5, 5], [1, 1, 5, 5])
    profile = ground_profile(terrain, Route(name="twice", lon=lon, lat=lat))
    assert profile.vertex.sum() == 2
    assert [found.code for found in profile.findings] == ["points_dropped"]


def test_ground_profile__wanted_stations(rough: tuple[Terrain, np.ndarray, GridWindow]) -> None:
    terrain, z, _ = rough
    route = on_grid(terrain, [3, 50], [4, 71])
    wanted = [0.0, 12.5, 310.0, 310.0005, 640.25]
    profile = ground_profile(terrain, route, at_m=wanted)
    for station in (0.0, 12.5, 310.0, 640.25):
        at = int(np.argmin(np.abs(profile.station_m - station)))
        assert profile.station_m[at] == pytest.approx(station, abs=1e-9)
        row, col = terrain.reference.to_nodes(profile.lon[at : at + 1], profile.lat[at : at + 1])
        assert profile.ground_m[at] == pytest.approx(bilinear(z, row, col)[0], abs=1e-6)
    length = float(profile.station_m[-1])
    assert ground_profile(terrain, route, at_m=[length]).station_m[-1] == length
    beyond = ground_profile(terrain, route, at_m=[length + 1.0])
    assert beyond.station_m[-1] == length
    for wrong in (-1.0, float("nan")):
        with pytest.raises(InputError, match="not on the line"):
            ground_profile(terrain, route, at_m=[wrong])
    for name in ("bridge_m", "chord_tolerance_m"):
        with pytest.raises(InputError, match=name):
            ground_profile(terrain, route, **{name: 0.0})


def test_ground_profile__wanted_where_vertices_are(
    rough: tuple[Terrain, np.ndarray, GridWindow],
) -> None:
    terrain, _, window = rough
    route = on_grid(terrain, [3, 17, 17, 50], [4, 29, 61.5, 71])
    plain = ground_profile(terrain, route, window=window)
    asked = ground_profile(terrain, route, window=window, at_m=plain.vertex_station_m)
    assert np.array_equal(asked.station_m, plain.station_m)
    assert np.array_equal(asked.ground_m, plain.ground_m)


def test_ground_profile__missing_elevation(make_raster: Make) -> None:
    z = np.add.outer(np.zeros(5), np.arange(20.0))
    z[2, 8] = np.nan
    terrain = open_terrain([make_raster(z)])
    route = on_grid(terrain, [2.0, 2.0], [1.5, 17.5])
    with pytest.raises(MissingElevation) as caught:
        ground_profile(terrain, route)
    # The cells beside the missing centre, from column 7 to column 9: 55 m to 75 m on the map.
    assert caught.value.station_m == pytest.approx(55 / 0.9996, abs=0.01)
    assert "55.0 m" in str(caught.value)
    assert "75.0 m" in str(caught.value)
    assert 'bridge = "21 m"' in caught.value.remedy
    with pytest.raises(MissingElevation, match="more than the 19 m"):
        ground_profile(terrain, route, bridge_m=19.0)
    profile = ground_profile(terrain, route, bridge_m=21.0)
    gap = profile.assumed
    assert gap.any()
    assert (profile.station_m[gap] > 55.0).all()
    assert (profile.station_m[gap] < 75.1).all()
    assert profile.ground_m == pytest.approx(1.5 + profile.station_m * 0.09996, abs=1e-5)
    assert [(f.code, f.severity) for f in profile.findings] == [("gap_bridged", "warning")]
    # Through centres that are all there, a missing neighbour has no weight.
    beside = ground_profile(terrain, on_grid(terrain, [1.0, 1.0], [1.5, 17.5]))
    assert not beside.assumed.any()


def test_ground_profile__missing_at_an_end_cannot_be_bridged(make_raster: Make) -> None:
    z = np.full((5, 9), 7.0)
    z[:, :3] = np.nan
    terrain = open_terrain([make_raster(z)])
    for cols in ([1, 7], [7, 1]):
        with pytest.raises(MissingElevation, match="end of the line cannot be bridged"):
            ground_profile(terrain, on_grid(terrain, [2, 2], cols), bridge_m=500.0)


def test_ground_profile__no_ground_is_so_high(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(np.full((5, 5), 12_000.0))])
    with pytest.raises(NotElevation, match=r"12000 m at station 0\.0 m.*unit"):
        ground_profile(terrain, on_grid(terrain, [1, 3], [1, 3]))


def test_ground_profile__steep_means_a_wrong_unit(make_raster: Make) -> None:
    z = np.add.outer(np.arange(6.0) * 40, np.zeros(6))
    terrain = open_terrain([make_raster(z)])
    profile = ground_profile(terrain, on_grid(terrain, [0, 5], [2, 2]))
    assert [found.code for found in profile.findings] == ["steep_profile"]


@pytest.mark.parametrize("origin", [179.7, -180.3])
def test_ground_profile__across_the_antimeridian(make_raster: Make, origin: float) -> None:
    z = np.add.outer(np.zeros(40), np.arange(60.0))
    path = make_raster(z, crs="EPSG:4326", cell=0.01, origin=(origin, -16.8))
    terrain = open_terrain([path])
    route = Route(name="date line", lon=[179.905, -179.895], lat=[-17.005, -17.005])
    profile = ground_profile(terrain, route)
    assert profile.ground_m[[0, -1]] == pytest.approx([20.0, 40.0], abs=1e-6)
    assert np.abs(profile.lon).max() <= 180.0
    _, _, steps = GEOD.inv(profile.lon[:-1], profile.lat[:-1], profile.lon[1:], profile.lat[1:])
    assert np.diff(profile.station_m) == pytest.approx(steps, abs=1e-5)
    assert (profile.lon[0], profile.lon[-1]) == (179.905, pytest.approx(-179.895, abs=1e-12))


def test_ground_profile__a_leg_across_a_continent(make_raster: Make) -> None:
    z = np.random.default_rng(2).uniform(0, 900, (120, 240))
    path = make_raster(z, crs="EPSG:4326", cell=0.25, origin=(-20.0, 60.0), dtype="float64")
    terrain = open_terrain([path])
    route = Route(name="long", lon=[-19.0, 38.0], lat=[31.0, 58.0])
    profile = ground_profile(terrain, route)
    # Straight in the raster's degrees, so longitude stays in proportion to latitude.
    expected = -19.0 + (profile.lat - 31.0) / 27.0 * 57.0
    assert profile.lon == pytest.approx(expected, abs=1e-9)
    # Its length as 200 000 short geodesics.
    share = np.linspace(0, 1, 200_001)
    lon, lat = -19.0 + share * 57.0, 31.0 + share * 27.0
    _, _, steps = GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    assert profile.station_m[-1] == pytest.approx(steps.sum(), abs=1e-3)


def test_ground_profile__window_or_files(rough: tuple[Terrain, np.ndarray, GridWindow]) -> None:
    terrain, _, window = rough
    route = on_grid(terrain, [-0.5, 40, 59.5], [-0.5, 20, 79.5])
    small = GridWindow(row0=10, col0=10, heights_m=np.zeros((5, 5)))
    profiles = [ground_profile(terrain, route, window=w) for w in (None, window, small)]
    for other in profiles[1:]:
        assert np.array_equal(other.ground_m, profiles[0].ground_m)
        assert np.array_equal(other.station_m, profiles[0].station_m)


def test_ground_profile__a_level_top_is_one_high(make_raster: Make) -> None:
    z = np.full((12, 30), 344.0)
    z[:, 8:20] = 345.0
    terrain = open_terrain([make_raster(z, dtype="int16")])
    for rows in ([2.123, 9.7], [9.31, 1.07], [5.0, 5.0]):
        profile = ground_profile(terrain, on_grid(terrain, rows, [1.234, 28.6]))
        highs, _ = find_extremes(profile.station_m, profile.ground_m)
        assert [high.height_m for high in highs] == [345.0]


def test_ground_profile__tiles_are_one_terrain(make_raster: Make) -> None:
    z = np.random.default_rng(8).uniform(100, 200, (30, 40)).astype("float32")
    whole = open_terrain([make_raster(z, name="whole.tif")])
    tiles = open_terrain(
        [
            make_raster(z[:, 18:], name="east.tif", origin=(500_180.0, 5_200_000.0)),
            make_raster(z[:, :18], name="west.tif"),
        ]
    )
    route = on_grid(whole, [2, 27, 15], [1, 38, 3])
    one, two = ground_profile(whole, route), ground_profile(tiles, route)
    assert two.station_m == pytest.approx(one.station_m, abs=1e-9)
    assert two.ground_m == pytest.approx(one.ground_m, abs=1e-9)


def test_ground_profile__arrays_are_read_only(
    rough: tuple[Terrain, np.ndarray, GridWindow],
) -> None:
    terrain, _, window = rough
    profile = ground_profile(terrain, on_grid(terrain, [1, 5], [1, 5]), window=window)
    for name in ("station_m", "lon", "lat", "ground_m", "vertex", "assumed", "vertex_lon"):
        assert not getattr(profile, name).flags.writeable
