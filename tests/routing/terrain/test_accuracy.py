"""What a raster says of its unit, datum, error and origin, and what is made of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from routing.errors import InputError, MissingCrs
from routing.line import Route, ground_profile
from routing.terrain import describe_terrain, open_terrain
from routing.terrain.accuracy import LE90_FACTOR, LE95_FACTOR, find_class, source_classes

Make = Callable[..., Path]
RAMP = np.add.outer(np.arange(40.0), np.arange(50.0)) + 100.0


def codes(terrain: object) -> set[str]:
    return {found.code for found in terrain.findings}  # type: ignore[attr-defined]


def tagged(path: Path, **tags: str) -> Path:
    with rasterio.open(path, "r+") as dataset:
        dataset.update_tags(**tags)
    return path


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        ("Shuttle Radar Topography Mission", "srtm"), ("Copernicus DSM GLO-30", "copernicus"),
        ("ASTER GDEM V3", "aster"), ("USGS 3DEP 1/3 arc-second", "3dep-13"), ("AW3D30", "alos"),
        ("airborne laser scanning, LiDAR 2021", "lidar"), ("NASADEM_HGT", "nasadem"),
        ("MERIT DEM", "merit"), ("a masterful grid", None), ("mastergdem", None), ("", None),
    ],
)  # fmt: skip
def test_find_class__words_of_the_file(words: str, kind: str | None) -> None:
    found, told_by = find_class(None, words, "GTiff")
    assert (found.id if found else None) == kind
    assert told_by == ("file" if kind else None)


def test_source_classes__every_row_has_a_source() -> None:
    kinds = source_classes()
    assert len({kind.id for kind in kinds}) == len(kinds)
    for kind in kinds:
        assert kind.source
        assert kind.status in ("source seen", "common practice, no source") or (
            kind.status.startswith("from memory of ")
        )
        assert 0.0 < kind.rmse_m < 20.0
        assert all(token == token.lower() and len(token) > 3 for token in kind.tokens)


def test_open_terrain__kind_from_setting_or_tags(make_raster: Make) -> None:
    path = make_raster(RAMP)
    assert open_terrain([path]).kind is None
    terrain = open_terrain([path], source="LiDAR")
    assert terrain.kind is not None
    assert (terrain.kind.id, terrain.kind_source, terrain.rmse_m) == ("lidar", "setting", None)
    assert "accuracy_typical" in codes(terrain)
    assert "surface_model" not in codes(terrain)
    with pytest.raises(InputError, match="nearest known one is copernicus"):
        open_terrain([path], source="copernikus")
    tagged(path, TIFFTAG_IMAGEDESCRIPTION="ASTER GDEM, north part")
    terrain = open_terrain([path])
    assert terrain.kind is not None
    assert (terrain.kind.id, terrain.kind_source) == ("aster", "file")
    assert "surface_model" in codes(terrain)


def test_describe_terrain__stated_error_goes_before_the_usual_one(make_raster: Make) -> None:
    path = make_raster(RAMP)
    assert describe_terrain(open_terrain([path]))["accuracy"] is None
    # LE95 16.70 m for an RMSE of 8.52 m, as the study of that data printed both
    # (text-id.123dok.com, ASTER GDEM v3 land cover analysis).
    facts = describe_terrain(open_terrain([path], source="aster"))["accuracy"]
    assert facts["le95_m"] == pytest.approx(16.70, abs=0.005)
    assert facts["error_told_by"] == "studies"
    facts = describe_terrain(open_terrain([path], source="aster", rmse_m=1.55))["accuracy"]
    # LE95 3.04 m for 1.55 m (usgs.gov/faqs, vertical accuracy of 3DEP DEMs, 2013 figures).
    assert facts["le95_m"] == pytest.approx(3.04, abs=0.005)
    assert facts["rmse_m"] == 1.55
    assert facts["source"] is None


def test_open_terrain__error_and_datum_in_the_files_own_tags(make_raster: Make) -> None:
    path = tagged(make_raster(RAMP), VERTICAL_DATUM="Mill datum  1911", RMSE_M="0.35 m")
    terrain = open_terrain([path])
    assert (terrain.vertical_datum, terrain.rmse_m) == ("Mill datum 1911", 0.35)
    assert "datum_unknown" not in codes(terrain)
    terrain = open_terrain([path], rmse_m=0.8, vertical_datum="another")
    assert (terrain.vertical_datum, terrain.rmse_m) == ("another", 0.8)
    for text in ("0", "about one", "-1", "1e3", "99999"):
        assert open_terrain([tagged(path, RMSE_M=text)]).rmse_m is None


@pytest.mark.parametrize("crs", ["EPSG:2227", "EPSG:2222"])  # US survey feet, feet
def test_open_terrain__a_map_in_feet_makes_metres_doubtful(make_raster: Make, crs: str) -> None:
    path = make_raster(RAMP, crs=crs, origin=(6_000_000.0, 2_000_000.0))
    terrain = open_terrain([path])
    assert (terrain.unit, terrain.unit_source) == ("metre", "assumed")
    assert "unit_doubtful" in codes(terrain)
    assert "unit_assumed" not in codes(terrain)
    for stated in (open_terrain([path], unit="ft"), open_terrain([path], unit="m")):
        assert "unit_doubtful" not in codes(stated)


def test_open_terrain__a_system_may_not_read_files(make_raster: Make, tmp_path: Path) -> None:
    path = make_raster(RAMP, crs=None)
    orders = tmp_path / "orders"
    orders.write_text("<1> +proj=utm +zone=33 +type=crs\n")
    for text in (
        f"+init={orders}:1", f"init={orders}:1", "+proj=utm +zone=33 +nadgrids=@null +type=crs",
        "+proj=pipeline +step +proj=utm +zone=33", "x" * 200_000,
    ):  # fmt: skip
        with pytest.raises(MissingCrs, match="crs ="):
            open_terrain([path], crs=text)


def test_open_terrain__a_tie_by_a_file_of_shifts_is_not_followed(make_raster: Make) -> None:
    secret = "/nowhere/else.gsb"
    wkt = (
        'BOUNDCRS[SOURCECRS[GEOGCRS["old",DATUM["old",ELLIPSOID["Bessel 1841",6377397.155,'
        '299.1528128]],CS[ellipsoidal,2],AXIS["lat",north],AXIS["lon",east],'
        'ANGLEUNIT["degree",0.0174532925199433]]],TARGETCRS[GEOGCRS["WGS 84",DATUM["World Geodetic '
        'System 1984",ELLIPSOID["WGS 84",6378137,298.257223563]],CS[ellipsoidal,2],'
        'AXIS["lat",north],AXIS["lon",east],ANGLEUNIT["degree",0.0174532925199433]]],'
        'ABRIDGEDTRANSFORMATION["shift",METHOD["NTv2",ID["EPSG",9615]],'
        f'PARAMETERFILE["Latitude and longitude difference file","{secret}"]]]'
    )
    path = make_raster(RAMP, crs=None, cell=0.001, origin=(15.0, 47.0))
    path.with_suffix(".prj").write_text(wkt)
    terrain = open_terrain([path])
    assert secret not in terrain.crs_wkt
    assert terrain.crs_name == "old"


def test_open_terrain__a_tie_by_numbers_moves_the_ground(make_raster: Make) -> None:
    # Three-parameter shift from NAD27 to WGS 84, mean for the United States: dX -8, dY 160,
    # dZ 176 m (NIMA TR8350.2, third edition, appendix B, NAS-C). Worked by hand here, through
    # geocentric coordinates, for 40 N 105 W on Clarke 1866.
    lat, lon = np.radians(40.0), np.radians(-105.0)
    a, b = 6_378_206.4, 6_356_583.8
    e2 = 1 - (b / a) ** 2
    n = a / np.sqrt(1 - e2 * np.sin(lat) ** 2)
    x = n * np.cos(lat) * np.cos(lon) - 8.0
    y = n * np.cos(lat) * np.sin(lon) + 160.0
    z = n * (1 - e2) * np.sin(lat) + 176.0
    a2, f2 = 6_378_137.0, 1 / 298.257223563
    e22 = f2 * (2 - f2)
    new_lon, new_lat = np.arctan2(y, x), np.arctan2(z, np.hypot(x, y))
    for _ in range(20):
        n2 = a2 / np.sqrt(1 - e22 * np.sin(new_lat) ** 2)
        new_lat = np.arctan2(z + e22 * n2 * np.sin(new_lat), np.hypot(x, y))
    path = make_raster(
        RAMP, crs="+proj=longlat +ellps=clrk66 +towgs84=-8,160,176 +no_defs", cell=0.001,
        origin=(-105.02, 40.02),
    )  # fmt: skip
    terrain = open_terrain([path])
    # The middle of the cell at row 19.5, column 19.5 is 40 N 105 W on the old datum.
    found = terrain.reference.to_lonlat([19.5], [19.5])
    assert found[0][0] == pytest.approx(np.degrees(new_lon), abs=1e-8)
    assert found[1][0] == pytest.approx(np.degrees(new_lat), abs=1e-8)
    # The shift is about 50 m here: leaving it out would be seen.
    assert abs(found[0][0] + 105.0) > 4e-4


def test_ground_profile__whole_metres_in_a_float_raster(make_raster: Make) -> None:
    z = np.round(500 - 0.08 * np.arange(200.0))[None, :] + np.zeros((20, 1))
    terrain = open_terrain([make_raster(z, cell=5.0)])
    to = terrain.reference.to_lonlat([10.0, 10.0], [2.0, 190.0])
    route = Route(name="r", lon=to[0], lat=to[1])
    assert "stair_steps" in {found.code for found in ground_profile(terrain, route).findings}
    level = open_terrain([make_raster(z * 0 + 500, cell=5.0, name="lake.tif")])
    assert "stair_steps" not in {found.code for found in ground_profile(level, route).findings}


@pytest.mark.parametrize(("lowest", "code"), [(0.0, "zero_block"), (250.0, "cliff")])
def test_ground_profile__steps_are_doubted(make_raster: Make, lowest: float, code: str) -> None:
    z = RAMP + 300.0
    z[:, 20:30] = lowest
    terrain = open_terrain([make_raster(z, cell=2.0, unit="m")])
    to = terrain.reference.to_lonlat([10.0, 10.5], [2.0, 45.0])
    profile = ground_profile(terrain, Route(name="r", lon=to[0], lat=to[1]))
    (found,) = (found for found in profile.findings if found.code in ("zero_block", "cliff"))
    assert found.code == code
    assert found.severity == "warning"
    assert found.station_m == pytest.approx(17 * 2.0, abs=0.1)


def test_ground_profile__shore_at_zero_is_no_fault(make_raster: Make) -> None:
    z = np.maximum(30.0 - np.arange(50.0), 0.0)[None, :] + np.zeros((40, 1))
    terrain = open_terrain([make_raster(z, cell=2.0)])
    to = terrain.reference.to_lonlat([10.0, 10.5], [2.0, 45.0])
    profile = ground_profile(terrain, Route(name="r", lon=to[0], lat=to[1]))
    assert not {found.code for found in profile.findings} & {"zero_block", "cliff"}


def test_open_terrain__places_keep_their_rim(make_raster: Make) -> None:
    # A line along the very edge of a mosaic with a hole is on its tiles.
    left = make_raster(RAMP, name="l.tif")
    far = make_raster(RAMP, name="f.tif", transform=Affine(10, 0, 501_000, 0, -10, 5_199_000))
    terrain = open_terrain([left, far])
    assert not terrain.index.full
    to = terrain.reference.to_lonlat([-0.5, 39.5], [-0.5, -0.5])
    profile = ground_profile(terrain, Route(name="r", lon=to[0], lat=to[1]))
    assert profile.ground_m[[0, -1]].tolist() == [100.0, 139.0]


def test_linear_errors__of_a_normal_error() -> None:
    # The two-sided quantiles of the normal distribution, to the digits that are printed;
    # FGDC-STD-007.3-1998 has 1.9600 for 95 %, older map standards 1.6449 for 90 %.
    normal = NormalDist()
    assert pytest.approx(normal.inv_cdf(0.95), abs=5e-5) == LE90_FACTOR
    assert pytest.approx(normal.inv_cdf(0.975), abs=5e-5) == LE95_FACTOR
