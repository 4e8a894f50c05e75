"""Rasters that are damaged, lie, or point to what is not theirs; made, never stored.

Each maker writes into the folder it is given and returns the path to hand to the program. All that
can be read lie around the same place, so that one line serves for all: see :data:`LINE`.
"""

from __future__ import annotations

import json
import sqlite3
import struct
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from rasterio.transform import Affine
from rasterio.windows import Window

SECRET = "QX7-other-file-QX7"
"""Words that stand in a file beside the raster, and nowhere in what the program may write."""

SECRET_HEIGHT = 4242.25
SIDE, CELL, WEST, NORTH = 64, 10.0, 500_000.0, 5_200_000.0
PLACE, FINE = Affine(CELL, 0, WEST, 0, -CELL, NORTH), Affine(1, 0, WEST, 0, -1, NORTH)
LINE = [[15.0005, 46.9515], [15.0030, 46.9505], [15.0070, 46.9484]]
"""Longitudes and latitudes of a line across the rasters (EPSG:32633), intake first."""

Maker = Callable[[Path, int], Path]


def ground(side: int = SIDE) -> np.ndarray:
    """Return a slope that falls along the line, with some relief."""
    row, col = np.mgrid[0:side, 0:side]
    return 600.0 - 1.5 * row - 1.0 * col + 3.0 * np.sin(row / 5.0)


def write(path: Path, values: np.ndarray, **options: Any) -> Path:
    """Write a raster, (rows, cols) or (bands, rows, cols), at the common place."""
    bands = values if values.ndim == 3 else values[None]
    profile: dict[str, Any] = {
        "driver": "GTiff", "height": bands.shape[1], "width": bands.shape[2],
        "count": bands.shape[0], "dtype": bands.dtype, "crs": "EPSG:32633",
        "transform": PLACE,
    }  # fmt: skip
    with rasterio.open(path, "w", **{**profile, **options}) as dataset:
        dataset.write(bands)
    return path


def plain(folder: Path, name: str = "plain.tif", **options: Any) -> Path:
    """Write a sound raster."""
    return write(folder / name, ground().astype("float32"), **options)


def patched(path: Path, tags: dict[int, int]) -> Path:
    """Overwrite single numbers in the directory of a little-endian TIFF."""
    data = bytearray(path.read_bytes())
    at = struct.unpack_from("<I", data, 4)[0]
    for number in range(struct.unpack_from("<H", data, at)[0]):
        entry = at + 2 + 12 * number
        tag = struct.unpack_from("<H", data, entry)[0]
        if tag in tags:
            struct.pack_into("<HII", data, entry + 2, 4, 1, tags[tag])
    path.write_bytes(data)
    return path


def with_secret(folder: Path) -> Path:
    """Write a raster and a text that belong to somebody else."""
    (folder / "secret.txt").write_text(f"{SECRET}\n" * 200)
    return write(folder / "secret.tif", np.full((SIDE, SIDE), SECRET_HEIGHT, "float32"))


# --- damaged and lying -------------------------------------------------------------------------


def cut_in_header(folder: Path, port: int) -> Path:
    path = plain(folder)
    path.write_bytes(path.read_bytes()[:60])
    return path


def cut_in_cells(folder: Path, port: int) -> Path:
    path = plain(folder, tiled=True, blockxsize=16, blockysize=16, compress="deflate")
    path.write_bytes(path.read_bytes()[:4000])
    return path


def garbled_blocks(folder: Path, port: int) -> Path:
    path = plain(folder, tiled=True, blockxsize=16, blockysize=16, compress="deflate")
    data = bytearray(path.read_bytes())
    data[1500:-200] = bytes(byte ^ 0x5A for byte in data[1500:-200])
    path.write_bytes(data)
    return path


def lying_size(folder: Path, port: int) -> Path:
    return patched(plain(folder, compress="deflate"), {256: 10**9, 257: 10**9, 278: 10**9})


def lying_size_uncompressed(folder: Path, port: int) -> Path:
    return patched(plain(folder), {256: 2 * 10**6, 257: 2 * 10**6, 278: 1})


def lying_tiles(folder: Path, port: int) -> Path:
    path = plain(folder, tiled=True, blockxsize=64, blockysize=64, compress="deflate")
    return patched(path, {256: 65_536, 257: 65_536, 322: 65_536, 323: 65_536})


def text_grid(path: Path, side: int, cells: str) -> Path:
    """Write a grid as text that says it has so many cells a side."""
    path.write_text(
        f"ncols {side}\nnrows {side}\nxllcorner {WEST}\nyllcorner {NORTH - 640}\ncellsize 10\n"
        + cells
    )
    path.with_suffix(".prj").write_text("EPSG:32633")
    return path


def lying_text_grid(folder: Path, port: int) -> Path:
    return text_grid(folder / "lying.asc", 1_000_000_000, "1 2 3\n")


def short_text_grid(folder: Path, port: int) -> Path:
    return text_grid(folder / "short.asc", 64, "500 510 words 1e999 nan inf\n" * 20)


def endless_number(folder: Path, port: int) -> Path:
    return text_grid(folder / "endless.asc", 64, "9" * 3_000_000)


def directory_loop(folder: Path, port: int) -> Path:
    """A TIFF whose directory names itself as the next one."""
    path = plain(folder)
    data = bytearray(path.read_bytes())
    at = struct.unpack_from("<I", data, 4)[0]
    count = struct.unpack_from("<H", data, at)[0]
    struct.pack_into("<I", data, at + 2 + 12 * count, at)
    path.write_bytes(data)
    return path


def all_missing(folder: Path, port: int) -> Path:
    return write(folder / "empty.tif", np.full((SIDE, SIDE), -9999, "float32"), nodata=-9999)


def only_infinities(folder: Path, port: int) -> Path:
    values = np.full((SIDE, SIDE), np.inf, "float32")
    values[::2] = np.nan
    return write(folder / "inf.tif", values)


def undeclared_fills(folder: Path, port: int) -> Path:
    values = ground().astype("float32")
    values[:5], values[-5:], values[:, :3] = -9999, -3.4e38, 1e30
    return write(folder / "fills.tif", values)


def zero_part(folder: Path, port: int) -> Path:
    """Blocks that were never written: they decode to zeros."""
    values = ground().astype("float32")
    path = folder / "zeros.tif"
    profile = {
        "driver": "GTiff", "height": SIDE, "width": SIDE, "count": 1, "dtype": "float32",
        "crs": "EPSG:32633", "transform": PLACE, "tiled": True,
        "blockxsize": 16, "blockysize": 16, "sparse_ok": "TRUE",
    }  # fmt: skip
    with rasterio.open(path, "w", **profile) as dataset:
        for row in range(0, SIDE, 16):
            for col in range(0, SIDE, 16):
                if (row, col) not in ((16, 16), (16, 32), (32, 32)):
                    part = values[row : row + 16, col : col + 16]
                    dataset.write(part, 1, window=Window(col, row, 16, 16))
    return path


# --- large -------------------------------------------------------------------------------------


def many_bands(folder: Path, port: int) -> Path:
    values = np.repeat(ground(SIDE).astype("int16")[None], 3000, axis=0)
    return write(folder / "bands.tif", values, interleave="pixel", compress="deflate", zlevel=1)


def strips_of_100_mb(folder: Path, port: int) -> Path:
    rows, cols = 2500, 20_000
    line = (600.0 - 0.002 * np.arange(cols)).astype("float32")
    values = np.broadcast_to(line, (rows, cols)) - np.arange(rows, dtype="float32")[:, None] * 0.01
    return write(
        folder / "strips.tif", values, compress="deflate", zlevel=1, blockysize=1250,
        transform=FINE,
    )  # fmt: skip


def strip_of_400_mb(folder: Path, port: int) -> Path:
    path = plain(folder, compress="deflate")
    return patched(path, {256: 20_000, 257: 5_000, 278: 5_000})


def sparse_giant(folder: Path, port: int) -> Path:
    path = folder / "giant.tif"
    side = 200_000
    profile = {
        "driver": "GTiff", "height": side, "width": side, "count": 1, "dtype": "float32",
        "crs": "EPSG:32633", "transform": FINE, "tiled": True,
        "blockxsize": 256, "blockysize": 256, "sparse_ok": "TRUE", "bigtiff": "YES",
        "nodata": -9999,
    }  # fmt: skip
    values = (600.0 - np.arange(1024)[:, None] - 0.1 * np.arange(1024)).astype("float32")
    with rasterio.open(path, "w", **profile) as dataset:
        dataset.write(values, 1, window=Window(0, 0, 1024, 1024))
    return path


# --- other things under a raster's name --------------------------------------------------------


def web_page(folder: Path, port: int) -> Path:
    path = folder / "page.tif"
    path.write_text("\n<!DOCTYPE html><html><title>Please log in</title></html>")
    return path


def stored_pointer(folder: Path, port: int) -> Path:
    path = folder / "pointer.tif"
    path.write_text("version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 12\n")
    return path


def nothing(folder: Path, port: int) -> Path:
    path = folder / "nothing.tif"
    path.write_bytes(b"")
    return path


def picture(folder: Path, port: int) -> Path:
    return write(folder / "photo.tif", np.full((3, SIDE, SIDE), 90, "uint8"), photometric="RGB")


# --- pointing elsewhere ------------------------------------------------------------------------


def vrt(folder: Path, port: int) -> Path:
    other = with_secret(folder)
    path = folder / "list.tif"
    path.write_text(
        f'<VRTDataset rasterXSize="{SIDE}" rasterYSize="{SIDE}"><SRS>EPSG:32633</SRS>'
        f"<GeoTransform>{WEST},{CELL},0,{NORTH},0,-{CELL}</GeoTransform>"
        f'<VRTRasterBand dataType="Float32" band="1"><SimpleSource>'
        f"<SourceFilename>{other}</SourceFilename><SourceBand>1</SourceBand></SimpleSource>"
        "</VRTRasterBand></VRTDataset>"
    )
    return path


def network_vrt(folder: Path, port: int) -> Path:
    path = vrt(folder, port)
    text = path.read_text().replace(
        str(folder / "secret.tif"), f"/vsicurl/http://127.0.0.1:{port}/a.tif"
    )
    path.write_text(text)
    return path


def web_service(folder: Path, port: int) -> Path:
    path = folder / "service.tif"
    path.write_text(
        f'<GDAL_WMS><Service name="TMS"><ServerUrl>http://127.0.0.1:{port}/${{z}}</ServerUrl>'
        "</Service></GDAL_WMS>"
    )
    return path


def sidecars(folder: Path, port: int) -> Path:
    """A sound raster with companions that point to a stranger's file and to the network."""
    other = vrt(folder, port)
    network = network_vrt(folder, port)
    path = plain(folder, "with sidecars.tif")
    for suffix in (".ovr", ".msk"):
        path.with_name(path.name + suffix).write_bytes(other.read_bytes())
    network.rename(path.with_suffix(".vrt"))
    path.with_name(path.name + ".aux.xml").write_text(
        f"<PAMDataset><Metadata><MDI key='OVERVIEW_FILE'>{folder / 'secret.tif'}</MDI></Metadata>"
        f"<Metadata domain='OVERVIEWS'><MDI key='OVERVIEW_FILE'>http://127.0.0.1:{port}/o.tif</MDI>"
        f"</Metadata><Metadata><MDI key='note'>{SECRET}</MDI></Metadata></PAMDataset>"
    )
    path.with_suffix(".tfw").write_text("7\n0\n0\n-7\n0\n0\n")
    return path


def alone(folder: Path, port: int) -> Path:
    """The same sound raster without companions."""
    return plain(folder)


def metadata_xml(folder: Path, port: int) -> Path:
    """A GeoTIFF whose own metadata names other files."""
    other = with_secret(folder)
    path = plain(folder, "metadata.tif")
    with rasterio.open(path, "r+") as dataset:
        dataset.update_tags(ns="OVERVIEWS", OVERVIEW_FILE=str(other))
        dataset.update_tags(ns="xml:VRT", VRT=f"<VRTDataset><x>{other}</x></VRTDataset>")
        dataset.update_tags(ns="SUBDATASETS", SUBDATASET_1_NAME=f"GTIFF_DIR:1:{other}")
    return path


def order_as_name(folder: Path, port: int) -> Path:
    with_secret(folder)
    path = folder / "GTIFF_DIR:1:secret.tif"
    return plain(folder, path.name)


def grid_in_prj(folder: Path, port: int) -> Path:
    with_secret(folder)
    path = plain(folder, "prj.tif", crs=None)
    path.with_suffix(".prj").write_text(
        f"+proj=utm +zone=33 +ellps=bessel +nadgrids={folder / 'secret.txt'} +type=crs"
    )
    return path


def init_in_prj(folder: Path, port: int) -> Path:
    with_secret(folder)
    path = plain(folder, "init.tif", crs=None)
    (folder / "orders").write_text(f"<1> +proj=utm +zone=33 +title={SECRET}")
    path.with_suffix(".prj").write_text(f"+init={folder / 'orders'}:1")
    return path


def imagine_elsewhere(folder: Path, port: int) -> Path:
    """An Imagine file that keeps its cells in a second file."""
    return write(
        folder / "split.img", ground().astype("float32"), driver="HFA", USE_SPILL="YES",
    )  # fmt: skip


def database_view(folder: Path, port: int) -> Path:
    """A GeoPackage whose table of tiles is computed."""
    path = write(folder / "view.gpkg", ground().astype("float32"), driver="GPKG", nodata=-9999)
    connection = sqlite3.connect(path)
    connection.execute("CREATE VIEW looks AS SELECT 1 AS one")
    connection.commit()
    connection.close()
    return path


def archive_with_order(folder: Path, port: int) -> Path:
    with_secret(folder)
    path = folder / "up.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.write(plain(folder), "../secret.tif")
    return path


def archive_bomb(folder: Path, port: int) -> Path:
    """An archive with a member that says it is 4 GB, of zeros."""
    path = folder / "bomb.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("zeros.tif", b"II*\0" + b"\0" * 2**20)
    data = bytearray(path.read_bytes())
    struct.pack_into("<I", data, data.find(b"PK\x01\x02") + 24, 2**32 - 2)
    path.write_bytes(data)
    return path


def archive_of_vrt(folder: Path, port: int) -> Path:
    path = folder / "list.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.write(vrt(folder, port), "tile.tif")
    return path


def archive_cut(folder: Path, port: int) -> Path:
    path = folder / "cut.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(plain(folder), "plain.tif")
    path.write_bytes(path.read_bytes()[:-40])
    return path


def archive_damaged(folder: Path, port: int) -> Path:
    path = folder / "damaged.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(plain(folder), "plain.tif")
    data = bytearray(path.read_bytes())
    data[2000:6000] = bytes(byte ^ 0xFF for byte in data[2000:6000])
    path.write_bytes(data)
    return path


def odd_names(folder: Path, port: int) -> Path:
    inner = folder / "a \"quoted\" & <b>odd 'folder'; rm -rf $HOME"
    inner.mkdir()
    return plain(inner, "näme with spaces\tand\ttabs?.tif")


def scale_of_nothing(folder: Path, port: int) -> Path:
    path = plain(folder)
    with rasterio.open(path, "r+") as dataset:
        dataset.scales = [1e-300]
        dataset.offsets = [1e300]
    return path


def inflated_tile(folder: Path, port: int) -> Path:
    """A tile whose packed bytes unpack to far more than the tile."""
    path = plain(folder, tiled=True, blockxsize=64, blockysize=64, compress="deflate")
    data = bytearray(path.read_bytes())
    bomb = zlib.compress(b"\0" * 200_000_000, 9)
    at = struct.unpack_from("<I", data, 4)[0]
    for number in range(struct.unpack_from("<H", data, at)[0]):
        entry = at + 2 + 12 * number
        tag = struct.unpack_from("<H", data, entry)[0]
        if tag == 324:
            struct.pack_into("<HII", data, entry + 2, 4, 1, len(data))
        elif tag == 325:
            struct.pack_into("<HII", data, entry + 2, 4, 1, len(bomb))
    path.write_bytes(bytes(data) + bomb)
    return path


REFUSED: tuple[Maker, ...] = (
    cut_in_header, cut_in_cells, garbled_blocks, lying_size, lying_size_uncompressed, lying_tiles,
    lying_text_grid, strip_of_400_mb, web_page, stored_pointer, nothing, picture, vrt, network_vrt,
    web_service, init_in_prj, grid_in_prj, imagine_elsewhere, database_view, archive_with_order,
    archive_bomb, archive_of_vrt, archive_cut, archive_damaged,
)  # fmt: skip
"""What no study can be made of."""

READ: tuple[Maker, ...] = (
    directory_loop, undeclared_fills, zero_part, many_bands, strips_of_100_mb, sparse_giant,
    sidecars, metadata_xml, order_as_name, odd_names,
)  # fmt: skip
"""What is odd and yet elevation."""

EITHER: tuple[Maker, ...] = (
    all_missing, only_infinities, short_text_grid, endless_number, scale_of_nothing, inflated_tile,
)  # fmt: skip
"""What may be described but not studied."""


def write_line(path: Path) -> Path:
    """Write the common line as GeoJSON."""
    path.write_text(json.dumps({"type": "LineString", "coordinates": LINE}))
    return path
