"""Folders, archives and mixtures of tiles: one profile, as if they were one raster."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import rasterio
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Transformer
from rasterio.transform import Affine

from routing.errors import MissingElevation, OutsideTerrain, RasterTooLarge, UnreadableRaster
from routing.line import GroundProfile, Route, ground_profile
from routing.terrain import Terrain, describe_terrain, open_terrain, relief_image
from routing.terrain.extents import index_tiles

Make = Callable[..., Path]
WEST, NORTH = 500_000.0, 5_200_000.0


def codes(profile: GroundProfile) -> list[str]:
    return [found.code for found in profile.findings]


def route_on(terrain: Terrain, *places: tuple[float, float]) -> Route:
    """Return a route through places in map coordinates of the terrain."""
    x, y = np.array(places).T
    lon, lat = Transformer.from_crs(terrain.crs_wkt, 4326, always_xy=True).transform(x, y)
    return Route(name="line", lon=lon, lat=lat)


def cut(make: Make, z: np.ndarray, rows: list[int], cols: list[int], **options: object) -> Path:
    """Write the pieces of an array as a folder of tiles and return the folder."""
    folder = make(z, name="merged.tif", **options).parent / "tiles"
    folder.mkdir(exist_ok=True)
    cell = 10.0
    for top, bottom in pairwise(rows):
        for left, right in pairwise(cols):
            make(
                z[top:bottom, left:right],
                name=f"tiles/{top:03}_{left:03}.tif",
                origin=(WEST + left * cell, NORTH - top * cell),
                **options,
            )
    return folder


breaks = st.lists(st.integers(1, 39), max_size=6, unique=True).map(lambda b: [0, *sorted(b), 40])


@settings(
    deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    rows=breaks,
    cols=breaks,
    points=st.lists(
        st.tuples(st.floats(0.0, 40.0), st.floats(0.0, 40.0)), min_size=2, max_size=5, unique=True
    ),
    seed=st.integers(0, 99),
)
def test_ground_profile__no_seam_over_tiles(
    tmp_path_factory: pytest.TempPathFactory,
    rows: list[int],
    cols: list[int],
    points: list[tuple[float, float]],
    seed: int,
) -> None:
    z = np.random.default_rng(seed).uniform(100.0, 400.0, (40, 40))
    make = maker(tmp_path_factory.mktemp("mosaic"))
    folder = cut(make, z, rows, cols, dtype="float64")
    merged = open_terrain([folder.parent / "merged.tif"])
    route = route_on(merged, *((WEST + 10 * x, NORTH - 10 * y) for x, y in points))
    if route.lon.size < 2:
        return
    one = ground_profile(merged, route)
    tiles = open_terrain([folder])
    assert len(tiles.grids) == 1
    many = ground_profile(tiles, route)
    assert many.station_m == pytest.approx(one.station_m, abs=1e-9)
    assert many.ground_m == pytest.approx(one.ground_m, abs=1e-9)


def maker(folder: Path) -> Make:
    """Return a maker of rasters in a folder, for tests that need a new folder in each example."""

    def make(
        array: np.ndarray,
        *,
        name: str,
        origin: tuple[float, float] = (WEST, NORTH),
        dtype: str = "float32",
    ) -> Path:
        path = folder / name
        with rasterio.open(
            path, "w", driver="GTiff", height=array.shape[0], width=array.shape[1], count=1,
            dtype=dtype, crs="EPSG:32633", transform=Affine(10, 0, origin[0], 0, -10, origin[1]),
        ) as dataset:  # fmt: skip
            dataset.write(array.astype(dtype), 1)
        return path

    return make


def test_open_terrain__folder_zip_and_folder_of_zips_are_one(
    make_raster: Make, tmp_path: Path
) -> None:
    z = 300.0 + np.arange(1600.0).reshape(40, 40) / 7
    folder = cut(make_raster, z, [0, 15, 40], [0, 22, 40])
    (folder / "readme.txt").write_text("not a tile")
    archive = tmp_path / "all tiles.zip"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as packed:
        for path in sorted(folder.iterdir()):
            packed.write(path, f"deep/down/{path.name}")
    each = tmp_path / "each"
    each.mkdir()
    for path in folder.glob("*.tif"):
        with zipfile.ZipFile(each / f"{path.stem}.zip", "w") as packed:
            packed.write(path, path.name)
    merged = open_terrain([tmp_path / "merged.tif"])
    route = route_on(merged, (WEST + 3, NORTH - 5), (WEST + 390, NORTH - 377))
    expected = ground_profile(merged, route).ground_m
    for source in (folder, archive, each):
        terrain = open_terrain([source])
        assert len(terrain.tiles) == 4
        assert ground_profile(terrain, route).ground_m == pytest.approx(expected, abs=1e-9)
        assert describe_terrain(terrain)["missing_share"] == 0.0
        assert relief_image(terrain, west=14.99, south=46.9, east=15.01, north=46.96).low_m > 0


def test_open_terrain__prj_inside_an_archive(make_raster: Make, tmp_path: Path) -> None:
    path = make_raster(np.full((4, 4), 5.0), crs=None)
    with zipfile.ZipFile(tmp_path / "z.zip", "w") as packed:
        packed.write(path, "in/dem.tif")
        packed.writestr("in/dem.prj", "EPSG:32633")
    assert open_terrain([tmp_path / "z.zip"]).crs_name == "EPSG:32633"


@pytest.mark.parametrize(
    ("name", "words"),
    [("a\\b.tif", "not followed"), ("/etc/x.tif", "not followed"), ("x{y}.tif", "not followed")],
)
def test_open_terrain__odd_members(tmp_path: Path, name: str, words: str) -> None:
    with zipfile.ZipFile(tmp_path / "z.zip", "w") as packed:
        info = zipfile.ZipInfo("plain.tif")
        info.filename = name
        packed.writestr(info, b"II*\0")
    with pytest.raises(UnreadableRaster, match=words):
        open_terrain([tmp_path / "z.zip"])


def test_open_terrain__archive_without_raster_or_with_too_many(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as packed:
        packed.writestr("readme.txt", "x")
    with pytest.raises(UnreadableRaster, match="holds no raster"):
        open_terrain([tmp_path / "a.zip"])
    with zipfile.ZipFile(tmp_path / "b.zip", "w") as packed:
        for number in range(10_001):
            packed.writestr(f"{number}.tif", b"")
    with pytest.raises(RasterTooLarge, match="10000 files"):
        open_terrain([tmp_path / "b.zip"])


def plane(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return a plane in map coordinates of zone 33: what any grid of it interpolates exactly."""
    return 700.0 + 0.01 * (x - WEST) + 0.02 * (y - NORTH)


def centres(origin: tuple[float, float], cell: float, rows: int, cols: int) -> np.ndarray:
    x = origin[0] + cell * (np.arange(cols) + 0.5)
    y = origin[1] - cell * (np.arange(rows) + 0.5)
    return plane(*np.meshgrid(x, y))


def test_ground_profile__the_finer_cell_wins_and_the_change_is_told(make_raster: Make) -> None:
    coarse = make_raster(
        centres((WEST, NORTH), 25.0, 40, 40) + 3.0, cell=25.0, name="coarse.tif", dtype="float64"
    )
    fine = make_raster(
        centres((WEST + 201, NORTH - 300), 2.0, 150, 150), cell=2.0, name="fine.tif",
        origin=(WEST + 201, NORTH - 300), dtype="float64",
    )  # fmt: skip
    terrain = open_terrain([coarse, fine])
    assert terrain.cell_m == pytest.approx(2.0)
    route = route_on(terrain, (WEST + 30, NORTH - 450), (WEST + 950, NORTH - 450))
    profile = ground_profile(terrain, route)
    x = WEST + 30 + 920 * profile.station_m / profile.station_m[-1]
    known = plane(x, np.full(x.size, NORTH - 450))
    inside = (x >= WEST + 201 - 0.01) & (x <= WEST + 501 + 0.01)
    # Half a cell beyond its outer centres a grid holds its edge value: 1 m of a slope of 1 %.
    assert profile.ground_m[inside] == pytest.approx(known[inside], abs=0.0101)
    assert profile.ground_m[~inside] == pytest.approx(known[~inside] + 3.0, abs=0.002)
    scale = profile.station_m[-1] / 920
    assert profile.changes_m == pytest.approx([171 * scale, 471 * scale], abs=1e-4)
    told = [found for found in profile.findings if found.code == "terrain_changes"]
    assert [found.station_m for found in told] == pytest.approx(profile.changes_m)
    assert "coarse.tif" in told[0].message
    assert "differ by 3.0" in told[0].message.replace("2.99", "3.00").replace("3.01", "3.00")


def test_ground_profile__tiles_of_two_zones(make_raster: Make) -> None:
    # The same plane of zone 33 sampled at the cell centres of a grid in zone 32.
    to_33 = Transformer.from_crs(32632, 32633, always_xy=True)
    x32, y32 = Transformer.from_crs(32633, 32632, always_xy=True).transform(WEST + 500, NORTH - 300)
    x, y = np.meshgrid(x32 - 400 + 5 + 10 * np.arange(120), y32 + 400 - 5 - 10 * np.arange(80))
    other = make_raster(
        plane(*to_33.transform(x, y)), crs="EPSG:32632", origin=(x32 - 400, y32 + 400),
        name="zone32.tif", dtype="float64",
    )  # fmt: skip
    own = make_raster(
        centres((WEST, NORTH), 5.0, 120, 100), cell=5.0, name="zone33.tif", dtype="float64"
    )
    terrain = open_terrain([other, own])
    route = route_on(terrain, (WEST + 100, NORTH - 200), (WEST + 420, NORTH - 260),
                     (WEST + 900, NORTH - 330))  # fmt: skip
    profile = ground_profile(terrain, route)
    place = Transformer.from_crs(4326, 32633, always_xy=True)
    known = plane(*place.transform(profile.lon, profile.lat))
    far = np.abs(profile.station_m - profile.changes_m[0]) > 10.0
    # A plane of one zone is all but a plane in the next: 10 m cells interpolate it to 1e-5 m.
    assert profile.ground_m[far] == pytest.approx(known[far], abs=1e-4)
    assert len(profile.changes_m) == 1
    assert profile.vertex.sum() == 3
    west, _, east, _ = describe_terrain(terrain)["bounds_deg"].values()
    assert west < float(route.lon.min())
    assert east > float(route.lon.max())


def test_ground_profile__a_void_is_filled_from_the_coarser_raster(make_raster: Make) -> None:
    z = centres((WEST, NORTH), 5.0, 100, 100)
    z[40:60, 40:60] = -9999.0
    fine = make_raster(z, cell=5.0, name="fine.tif", nodata=-9999.0, dtype="float64")
    coarse = make_raster(
        centres((WEST, NORTH), 20.0, 25, 25), cell=20.0, name="coarse.tif", dtype="float64"
    )
    terrain = open_terrain([fine, coarse])
    route = route_on(terrain, (WEST + 50, NORTH - 250), (WEST + 450, NORTH - 250))
    profile = ground_profile(terrain, route)
    x = WEST + 50 + 400 * profile.station_m / profile.station_m[-1]
    known = plane(x, np.full(x.size, NORTH - 250))
    assert profile.ground_m == pytest.approx(known, abs=1e-6)
    assert not profile.assumed.any()
    assert len(profile.changes_m) == 2
    with pytest.raises(MissingElevation, match="bridge"):
        ground_profile(open_terrain([fine]), route)


def test_ground_profile__shifted_tiles_meet_without_a_gap(make_raster: Make) -> None:
    # The second tile's cells lie between those of the first, edge to edge.
    left = make_raster(centres((WEST, NORTH), 10.0, 30, 30), name="l.tif", dtype="float64")
    right = make_raster(
        centres((WEST + 300, NORTH - 4), 10.0, 30, 30), name="r.tif", dtype="float64",
        origin=(WEST + 300, NORTH - 4),
    )  # fmt: skip
    terrain = open_terrain([left, right])
    assert len(terrain.grids) == 2
    route = route_on(terrain, (WEST + 20, NORTH - 100), (WEST + 580, NORTH - 130))
    profile = ground_profile(terrain, route)
    place = Transformer.from_crs(4326, 32633, always_xy=True)
    x, y = place.transform(profile.lon, profile.lat)
    off = np.abs(x - WEST - 300) > 5.1
    assert profile.ground_m[off] == pytest.approx(plane(x, y)[off], abs=1e-5)
    # Within half a cell of the tiles' edges their outer values are held.
    assert profile.ground_m == pytest.approx(plane(x, y), abs=5 * 0.01 + 1e-6)


def test_ground_profile__hole_between_tiles(make_raster: Make) -> None:
    left = make_raster(centres((WEST, NORTH), 10.0, 10, 10), name="l.tif")
    right = make_raster(
        centres((WEST + 150, NORTH), 10.0, 10, 10), name="r.tif", origin=(WEST + 150, NORTH)
    )
    terrain = open_terrain([left, right])
    route = route_on(terrain, (WEST + 20, NORTH - 50), (WEST + 230, NORTH - 50))
    with pytest.raises(MissingElevation, match=r"station 80\.\d m .*bridge = \"5[01] m\""):
        ground_profile(terrain, route)
    profile = ground_profile(terrain, route, bridge_m=60.0)
    (gap,) = profile.gaps
    assert gap.to_m - gap.from_m == pytest.approx(50.0, abs=0.1)
    assert "gap_bridged" in codes(profile)
    with pytest.raises(OutsideTerrain, match="begins outside the rasters"):
        ground_profile(
            terrain, route_on(terrain, (WEST + 120, NORTH - 50), (WEST + 200, NORTH - 9))
        )
    with pytest.raises(OutsideTerrain, match="ends outside the rasters"):
        ground_profile(
            terrain, route_on(terrain, (WEST + 20, NORTH - 50), (WEST + 90, NORTH - 900))
        )


def test_ground_profile__vertex_exactly_on_the_edge_of_a_tile(make_raster: Make) -> None:
    left = make_raster(centres((WEST, NORTH), 10.0, 10, 10), name="l.tif", dtype="float64")
    coarse = make_raster(
        centres((WEST, NORTH), 20.0, 20, 20), cell=20.0, name="c.tif", dtype="float64"
    )
    terrain = open_terrain([left, coarse])
    for x in (100.0, 90.0, 95.0, 105.0):
        route = route_on(
            terrain, (WEST + 20, NORTH - 50), (WEST + x, NORTH - 50), (WEST + 300, NORTH - 100),
            (WEST + x, NORTH - 100), (WEST + 40, NORTH - 100),
        )  # fmt: skip
        profile = ground_profile(terrain, route, at_m=[80.0, x - 20.0])
        assert profile.vertex.sum() == 5
        assert np.diff(profile.station_m).min() > 0.0
        assert len(profile.changes_m) == 2


def test_open_terrain__tiles_across_the_antimeridian(make_raster: Make) -> None:
    z = 50.0 + np.arange(400.0).reshape(20, 20)
    east = make_raster(z[:, :10], crs="EPSG:4326", cell=0.001, origin=(179.99, -16.0), name="e.tif")
    west = make_raster(z[:, 10:], crs="EPSG:4326", cell=0.001, origin=(-180.0, -16.0), name="w.tif")
    both = make_raster(z, crs="EPSG:4326", cell=0.001, origin=(179.99, -16.0), name="both.tif")
    turned = make_raster(z, crs="EPSG:4326", cell=0.001, origin=(-180.01, -16.0), name="turn.tif")
    route = Route(name="over", lon=[179.9915, 180.0085], lat=[-16.003, -16.0167])
    one = ground_profile(open_terrain([both]), route)
    for paths in ([east, west], [west, east], [turned]):
        profile = ground_profile(open_terrain(paths), route)
        assert profile.ground_m == pytest.approx(one.ground_m, abs=1e-6)
        assert profile.station_m == pytest.approx(one.station_m, abs=1e-6)


def test_tile_index__owners_and_depth() -> None:
    index = index_tiles([(0, 0, 10, 10), (5, 5, 15, 15), (40, 40, 50, 50)])
    assert index is not None
    rows = np.array([0, 9, 12, 14, 15, 45, -1, 60])
    assert index.owners(rows, rows).tolist() == [0, 0, 1, 1, -1, 2, -1, -1]
    assert index.shared(rows, rows).tolist() == [False, True, *[False] * 6]
    assert not index.full
    assert not index.single
    assert index.touched(0, 0, 6, 6).tolist() == [0, 1]


@settings(deadline=None, max_examples=60)
@given(
    boxes=st.lists(
        st.tuples(st.integers(0, 30), st.integers(0, 30), st.integers(1, 12), st.integers(1, 12)),
        min_size=1, max_size=12,
    )
)  # fmt: skip
def test_tile_index__as_by_looking_at_each_tile(boxes: list[tuple[int, int, int, int]]) -> None:
    places = [(top, left, top + high, left + wide) for top, left, high, wide in boxes]
    index = index_tiles(places)
    assert index is not None
    row, col = (part.ravel() for part in np.mgrid[-2:46, -2:46])
    holds = np.array([(row >= t) & (row < b) & (col >= le) & (col < r) for t, le, b, r in places])
    first = np.where(holds.any(axis=0), holds.argmax(axis=0), -1)
    assert (index.owners(row, col) == first).all()
    assert (index.shared(row, col) == (holds.sum(axis=0) > 1)).all()


def test_open_terrain__reads_the_directory_of_an_archive_once(
    make_raster: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tile = make_raster(np.full((4, 4), 100.0)).read_bytes()
    with zipfile.ZipFile(tmp_path / "tiles.zip", "w") as packed:
        for number in range(40):
            packed.writestr(f"t{number}.tif", tile)
    read, count = zipfile.ZipFile._RealGetContents, []  # type: ignore[attr-defined]
    monkeypatch.setattr(
        zipfile.ZipFile, "_RealGetContents", lambda archive: (count.append(1), read(archive))[1]
    )
    open_terrain([tmp_path / "tiles.zip"])
    assert len(count) == 1
