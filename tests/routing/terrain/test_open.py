"""Opening rasters: what is understood of them, and what is refused with which words."""

from __future__ import annotations

import pickle
import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from rasterio.transform import Affine

from routing.errors import (
    InputError,
    MissingCrs,
    NotElevation,
    RasterTooLarge,
    TerrainMismatch,
    UnreadableRaster,
)
from routing.terrain import open_terrain, read_corners
from routing.terrain.formats import sniff_driver
from routing.terrain.units import METRES_PER_UNIT, unit_of_word

Make = Callable[..., Path]
RAMP = np.arange(12.0).reshape(3, 4) + 100.0


def codes(terrain: object) -> set[str]:
    return {found.code for found in terrain.findings}  # type: ignore[attr-defined]


def test_open_terrain__plain_projected(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(RAMP)], rmse_m=0.8)
    assert terrain.shape == (3, 4)
    assert terrain.transform == (10.0, 0.0, 500_000.0, 0.0, -10.0, 5_200_000.0)
    assert terrain.crs_name == "EPSG:32633"
    assert terrain.cell_m == pytest.approx(10.0)
    assert (terrain.unit, terrain.unit_source, terrain.rmse_m) == ("metre", "assumed", 0.8)
    assert {"unit_assumed", "datum_unknown", "coarse_terrain"} <= codes(terrain)


def test_open_terrain__pickles(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(RAMP)])
    assert pickle.loads(pickle.dumps(terrain)) == terrain


def test_open_terrain__cell_in_degrees_is_metres_on_the_ground(make_raster: Make) -> None:
    # One arc-second at 60 degrees: meridian 111.412 km a degree, parallel 55.800 km
    # (table of lengths of degrees on the WGS 84 ellipsoid, as printed in US NGA's Pub. 9).
    cell = 1 / 3600
    path = make_raster(RAMP, crs="EPSG:4326", cell=cell, origin=(10 - 2 * cell, 60 + 1.5 * cell))
    expected = (111_412.0 + 55_800.0) / 2 / 3600
    assert open_terrain([path]).cell_m == pytest.approx(expected, abs=0.01)


def test_open_terrain__web_map_cells_are_not_true_to_scale(make_raster: Make) -> None:
    # 1/cos(47) = 1.4663 on the sphere; the ellipsoid is up to 0.7 % off (independently computed).
    path = make_raster(RAMP, crs="EPSG:3857", cell=14.663, origin=(1_100_000.0, 5_942_074.0))
    assert open_terrain([path]).cell_m == pytest.approx(10.0, rel=0.007)


@pytest.mark.parametrize(
    ("word", "unit"),
    [
        ("m", "metre"), ("metre", "metre"), ("Meters", "metre"), ("ft", "foot"),
        ("feet", "foot"), ("international foot", "foot"), ("US survey foot", "US survey foot"),
        ("us-ft", "US survey foot"), ("ftUS", "US survey foot"), ("foot_us", "US survey foot"),
        ("US_survey_feet", "US survey foot"),
    ],
)  # fmt: skip
def test_open_terrain__unit_from_band_tag(make_raster: Make, word: str, unit: str) -> None:
    assert unit_of_word(word) == unit
    terrain = open_terrain([make_raster(RAMP, unit=word)])
    assert (terrain.unit, terrain.unit_source) == (unit, "band unit tag")
    assert terrain.metres_per_unit == METRES_PER_UNIT[unit]
    assert "unit_assumed" not in codes(terrain)


def test_metres_per_unit__by_definition() -> None:
    # International foot 0.3048 m exactly; US survey foot 1200/3937 m: NIST SP 811, appendix B.
    assert METRES_PER_UNIT["foot"] == 0.3048
    assert METRES_PER_UNIT["US survey foot"] == pytest.approx(0.3048006096, abs=5e-11)


def test_open_terrain__unit_from_compound_crs(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(RAMP, crs="EPSG:32610+6360")])  # NAVD88 height (ftUS)
    assert (terrain.unit, terrain.unit_source) in {
        ("US survey foot", "compound CRS"),
        ("US survey foot", "band unit tag"),
    }
    assert terrain.vertical_datum == "NAVD88 height (ftUS)"
    assert terrain.crs_name == "EPSG:32610"
    assert "datum_unknown" not in codes(terrain)


def test_open_terrain__setting_wins_and_says_so(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(RAMP, unit="m")], unit="ft", crs="EPSG:25833")
    assert (terrain.unit, terrain.unit_source) == ("foot", "setting")
    assert {"unit_overridden", "crs_overridden"} <= codes(terrain)
    assert terrain.crs_name == "EPSG:25833"


def test_open_terrain__unknown_unit(make_raster: Make) -> None:
    path = make_raster(RAMP, unit="cubits")
    with pytest.raises(NotElevation, match=r"cubits.*unit ="):
        open_terrain([path])
    assert open_terrain([path], unit="m").unit == "metre"
    with pytest.raises(NotElevation, match="furlong"):
        open_terrain([path], unit="furlong")


def test_open_terrain__no_crs_then_prj_then_setting(make_raster: Make) -> None:
    path = make_raster(RAMP, crs=None)
    with pytest.raises(MissingCrs, match=r"dem\.tif.*crs ="):
        open_terrain([path])
    assert open_terrain([path], crs="EPSG:32632").crs_name == "EPSG:32632"
    path.with_suffix(".prj").write_text(
        'PROJCS["WGS_1984_UTM_Zone_33N",GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",'
        'SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],'
        'UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],'
        'PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",0.0],'
        'PARAMETER["Central_Meridian",15.0],PARAMETER["Scale_Factor",0.9996],'
        'PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]'
    )
    assert open_terrain([path]).crs_name == "EPSG:32633"


def test_open_terrain__aux_xml_is_not_read(make_raster: Make) -> None:
    path = make_raster(RAMP, crs=None)
    Path(f"{path}.aux.xml").write_text("<PAMDataset><SRS>EPSG:32633</SRS></PAMDataset>")
    with pytest.raises(MissingCrs):
        open_terrain([path])


def test_open_terrain__no_georeference(make_raster: Make) -> None:
    path = make_raster(RAMP, transform=Affine(2, 0, 0, 0, -2, 0))
    assert open_terrain([path]).shape == (3, 4)
    import rasterio

    with pytest.warns(rasterio.errors.NotGeoreferencedWarning):
        path = make_raster(RAMP, transform=Affine.identity(), name="unplaced.tif")
    with pytest.raises(MissingCrs, match="no georeference"):
        open_terrain([path])


@pytest.mark.parametrize(
    "transform",
    [Affine(1e-200, 0, 5e5, 0, -1e-200, 5e6), Affine(10, 0, 1e250, 0, -10, 5e6)],
    ids=["no size", "nowhere"],
)
def test_open_terrain__damaged_georeference(make_raster: Make, transform: Affine) -> None:
    # Found by fuzzing: such numbers overflow where lines are placed on the grid.
    with pytest.raises(MissingCrs, match="damaged"):
        open_terrain([make_raster(RAMP, transform=transform)])


def test_open_terrain__local_crs(make_raster: Make) -> None:
    local = 'LOCAL_CS["site grid",UNIT["metre",1]]'
    with pytest.raises(MissingCrs, match="not tied to the Earth"):
        open_terrain([make_raster(RAMP, crs=None)], crs=local)
    with pytest.raises(MissingCrs, match="not understood"):
        open_terrain([make_raster(RAMP)], crs="EPSG:nonsense")


def test_open_terrain__ascii_grid_with_prj(make_raster: Make, tmp_path: Path) -> None:
    path = tmp_path / "grid.asc"
    path.write_text(
        "ncols 3\nnrows 2\nxllcorner 500000\nyllcorner 5200000\ncellsize 25\n"
        "NODATA_value -9999\n391.9 390 391.7\n370.9 -9999 361.1\n"
    )
    with pytest.raises(MissingCrs):
        open_terrain([path])
    path.with_suffix(".prj").write_text("EPSG:32633")
    terrain = open_terrain([path])
    assert terrain.tiles[0].driver == "AAIGrid"
    assert terrain.tiles[0].nodata == -9999.0


@pytest.mark.parametrize(
    ("bands", "dtype", "photometric"),
    [(3, "uint8", "RGB"), (4, "uint8", "RGB"), (3, "uint16", "RGB"), (1, "uint8", None)],
)
def test_open_terrain__picture(
    make_raster: Make, bands: int, dtype: str, photometric: str | None
) -> None:
    options = {"photometric": photometric} if photometric else {}
    path = make_raster(np.full((bands, 4, 5), 120), dtype=dtype, **options)
    with pytest.raises(NotElevation, match=r"dem\.tif"):
        open_terrain([path])


def test_open_terrain__bytes_with_a_stated_unit_are_elevation(make_raster: Make) -> None:
    path = make_raster(RAMP, dtype="uint8")
    assert open_terrain([path], unit="m").unit_source == "setting"


def test_open_terrain__palette_complex_and_band(make_raster: Make) -> None:
    import rasterio

    path = make_raster(RAMP, dtype="uint8", photometric="palette")
    with rasterio.open(path, "r+") as dataset:
        dataset.write_colormap(1, {0: (0, 0, 0, 255), 1: (255, 0, 0, 255)})
    with pytest.raises(NotElevation, match="palette"):
        open_terrain([path])
    with pytest.raises(NotElevation, match="complex"):
        open_terrain([make_raster(RAMP, dtype="complex64", name="c.tif")])
    with pytest.raises(NotElevation, match="no band 3"):
        open_terrain([make_raster(RAMP, name="b.tif")], band=3)


@pytest.mark.parametrize(
    ("head", "error", "words"),
    [
        (b"<VRTDataset rasterXSize='1'>", UnreadableRaster, "tiles themselves"),
        (b"\n<?xml version='1.0'?><VRTDataset>", UnreadableRaster, "tiles themselves"),
        (b"\x89PNG\r\n\x1a\n", NotElevation, "PNG"),
        (b"\xff\xd8\xff\xe0", NotElevation, "JPEG"),
        (b"PK\x03\x04", UnreadableRaster, "damaged"),
        (b"\x1f\x8b\x08", UnreadableRaster, "Unpack"),
        (b"<!DOCTYPE html>\n<title>Log in</title>", UnreadableRaster, "web page"),
        (b"version https://git-lfs.github.com/spec/v1\n", UnreadableRaster, "pointer"),
        (b'{"message": "gone"}', UnreadableRaster, "portal"),
        (b"\0" * 3000, UnreadableRaster, "zeros"),
        (b"hello", UnreadableRaster, "GeoTIFF"),
        (b"", UnreadableRaster, "GeoTIFF"),
        (b"II*\0" + b"\0" * 40, UnreadableRaster, "GeoTIFF"),
        (b"ncols 3\nnrows x\n", UnreadableRaster, "Esri ASCII"),
    ],
)
def test_open_terrain__other_files_named_tif(
    tmp_path: Path, head: bytes, error: type[Exception], words: str
) -> None:
    path = tmp_path / "looks.tif"
    path.write_bytes(head)
    with pytest.raises(error, match=words):
        open_terrain([path])


def test_open_terrain__missing_file_and_folder(tmp_path: Path) -> None:
    inside = Path(f"/vsizip/{{{tmp_path}/x.zip}}/y.tif")
    for path in (tmp_path / "none.tif", Path("/vsicurl/http://x/y.tif"), inside, Path("/dev/null")):
        with pytest.raises(UnreadableRaster, match="cannot be opened"):
            open_terrain([path])
    with pytest.raises(UnreadableRaster, match="holds no raster"):
        open_terrain([tmp_path])
    with pytest.raises(InputError, match="No elevation raster"):
        open_terrain([])
    with pytest.raises(InputError, match="rmse"):
        open_terrain([tmp_path / "none.tif"], rmse_m=-1.0)


def test_sniff_driver__bigtiff(make_raster: Make) -> None:
    path = make_raster(RAMP, bigtiff="YES")
    assert path.read_bytes()[:4] == b"II+\0"
    assert sniff_driver(path) == "GTiff"
    assert open_terrain([path]).shape == (3, 4)


def lie_about_size(path: Path, side: int) -> None:
    """Overwrite width, height and rows per strip (tags 256, 257, 278) of a little-endian TIFF."""
    data = bytearray(path.read_bytes())
    at = struct.unpack_from("<I", data, 4)[0]
    for number in range(struct.unpack_from("<H", data, at)[0]):
        entry = at + 2 + 12 * number
        if struct.unpack_from("<H", data, entry)[0] in (256, 257, 278):
            struct.pack_into("<HII", data, entry + 2, 4, 1, side)
    path.write_bytes(data)


def test_open_terrain__lying_header(make_raster: Make) -> None:
    path = make_raster(RAMP, compress="deflate")
    lie_about_size(path, 60_000)
    with pytest.raises(RasterTooLarge, match=r"blocks of 60000 x 60000.*TILED=YES"):
        open_terrain([path])


def test_read_corners__lying_header_without_compression(make_raster: Make) -> None:
    path = make_raster(RAMP)
    lie_about_size(path, 60_000)
    terrain = open_terrain([path])
    with pytest.raises(UnreadableRaster, match="damaged"):
        read_corners(terrain, [59_000], [59_000])


def test_open_terrain__tiles_join(make_raster: Make) -> None:
    left = make_raster(RAMP, name="left.tif")
    right = make_raster(RAMP, name="right.tif", origin=(500_040.0, 5_200_010.0))
    terrain = open_terrain([left, right])
    assert terrain.shape == (4, 8)
    assert [(tile.row0, tile.col0) for tile in terrain.tiles] == [(1, 0), (0, 4)]
    assert terrain.transform[2] == 500_000.0
    assert terrain.transform[5] == 5_200_010.0


@pytest.mark.parametrize(
    "change",
    [
        {"cell": 12.0},
        {"origin": (500_045.0, 5_200_000.0)},
        {"crs": "EPSG:32632"},
        {"unit": "ft"},
        {"transform": Affine(9.8, 2, 500_040, 2, -9.8, 5_200_000)},
    ],
    ids=["cell", "between", "system", "unit", "turned"],
)
def test_open_terrain__tiles_that_do_not_fit_are_further_grids(
    make_raster: Make, change: dict[str, object]
) -> None:
    left = make_raster(RAMP, name="left.tif")
    right = make_raster(RAMP, name="right.tif", **change)
    terrain = open_terrain([left, right])
    assert [len(grid.tiles) for grid in terrain.grids] == [1, 1]
    assert terrain.cell_m <= terrain.others[0].cell_m


def test_open_terrain__two_stated_datums(make_raster: Make) -> None:
    one = make_raster(RAMP, crs="EPSG:32610+5703", name="one.tif")
    two = make_raster(RAMP, crs="EPSG:32610+3855", name="two.tif")
    with pytest.raises(TerrainMismatch, match="never converted"):
        open_terrain([one, two])
    assert open_terrain([one, two], vertical_datum="all of one").vertical_datum == "all of one"
    # The same datum in feet and in metres is one datum.
    feet = make_raster(RAMP, crs="EPSG:32610+6360", name="feet.tif")
    assert len(open_terrain([one, feet]).grids) == 2


@pytest.mark.parametrize(("band", "severity"), [(None, "warning"), (1, "note"), (2, "note")])
def test_open_terrain__says_which_of_several_bands_is_read(
    make_raster: Make, band: int | None, severity: str
) -> None:
    path = make_raster(np.stack([RAMP, RAMP + 100.0]))
    terrain = open_terrain([path], band=band)
    (found,) = (each for each in terrain.findings if each.code == "bands_several")
    assert found.severity == severity
    assert f"Band {band or 1} of the 2 bands of {path.name}" in found.message


def test_open_terrain__names_of_bands_are_told_and_a_mask_is_none(make_raster: Make) -> None:
    import rasterio
    from rasterio.enums import ColorInterp

    path = make_raster(np.stack([RAMP, RAMP, RAMP]))
    with rasterio.open(path, "r+") as dataset:
        dataset.descriptions = ("shade", "heights", None)
        dataset.colorinterp = (ColorInterp.gray, ColorInterp.undefined, ColorInterp.alpha)
    (found,) = (each for each in open_terrain([path]).findings if each.code == "bands_several")
    assert "2 bands" in found.message
    assert "1 'shade', 2 'heights'" in found.message
    one = make_raster(np.stack([RAMP, RAMP]), name="one.tif")
    with rasterio.open(one, "r+") as dataset:
        dataset.colorinterp = (ColorInterp.gray, ColorInterp.alpha)
    assert "bands_several" not in {each.code for each in open_terrain([one]).findings}


def test_open_terrain__bytes_are_doubted_even_with_a_unit(make_raster: Make) -> None:
    path = make_raster(RAMP, dtype="uint8")
    (found,) = (
        each for each in open_terrain([path], unit="m").findings if each.code == "elevation_bytes"
    )
    assert found.severity == "warning"
    assert path.name in found.message
    whole = make_raster(RAMP, dtype="int16", name="whole.tif")
    assert "elevation_bytes" not in {each.code for each in open_terrain([whole]).findings}
