"""Relief and contour tiles over HTTP, small terrains and large ones."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
import rasterio
from affine import Affine
from api_service import CRS, NORTH, WEST, Serve, is_problem, upload, write_hill
from waiting import until

ZOOM = 15


def tile_of(terrain: dict[str, Any], zoom: int = ZOOM) -> tuple[int, int]:
    """Return the tile in the middle of a terrain."""
    box = terrain["bounds"]
    lon, lat = (box["west"] + box["east"]) / 2, (box["south"] + box["north"]) / 2
    northing = math.asinh(math.tan(math.radians(lat))) / (2 * math.pi)
    return int((lon / 360 + 0.5) * 2**zoom), int((0.5 - northing) * 2**zoom)


@pytest.fixture
def facts(client: httpx.Client, terrain: str) -> dict[str, Any]:
    found: dict[str, Any] = client.get(f"/api/terrains/{terrain}").json()
    return found


def test_terrain__says_where_it_lies_and_how_close_a_view_pays(facts: dict[str, Any]) -> None:
    assert facts["bounds"]["west"] < facts["bounds"]["east"]
    assert facts["bounds"]["south"] < facts["bounds"]["north"]
    assert facts["cell_m"] == 5.0
    assert facts["lowest_m"] < facts["highest_m"]
    assert 16 <= facts["max_zoom"] <= 20


def test_relief__a_picture_that_may_be_kept(client: httpx.Client, facts: dict[str, Any]) -> None:
    x, y = tile_of(facts)
    address = f"/api/terrains/{facts['id']}/relief/{ZOOM}/{x}/{y}"
    first = client.get(address)
    assert first.status_code == 200
    assert first.headers["content-type"] == "image/webp"
    assert first.content[:4] == b"RIFF"
    assert "max-age" in first.headers["cache-control"]
    again = client.get(address, headers={"if-none-match": first.headers["etag"]})
    assert again.status_code == 304
    assert not again.content
    assert client.get(address + "?scale=2").headers["etag"] != first.headers["etag"]


def test_relief__beside_the_terrain_is_empty(client: httpx.Client, facts: dict[str, Any]) -> None:
    assert client.get(f"/api/terrains/{facts['id']}/relief/{ZOOM}/3/3").status_code == 204


@pytest.mark.parametrize("tail", ["relief/25/0/0", "relief/3/-1/0", "contours/3/0/x"])
def test_tiles__no_such_tile(client: httpx.Client, terrain: str, tail: str) -> None:
    is_problem(client.get(f"/api/terrains/{terrain}/{tail}"), 422, "invalid_request")


def test_tiles__no_such_terrain(client: httpx.Client) -> None:
    is_problem(client.get("/api/terrains/0000000000000000/relief/3/0/0"), 404, "not_found")


def test_contours__in_metres_and_in_feet(client: httpx.Client, facts: dict[str, Any]) -> None:
    x, y = tile_of(facts)
    address = f"/api/terrains/{facts['id']}/contours/{ZOOM}/{x}/{y}"
    for units, unit, metres in (("metric", "m", 1.0), ("us", "ft", 0.3048)):
        tile = client.get(address, params={"units": units}).json()
        assert tile["unit"] == unit
        assert tile["interval_m"] == pytest.approx(tile["interval"] * metres)
        assert tile["lines"]
        for line in tile["lines"]:
            assert line["level_m"] == pytest.approx(line["level"] * metres, abs=1e-3)
            assert line["index"] == (round(line["level"] / tile["interval"]) % 5 == 0)
            assert all(len(point) == 2 for point in line["points"])
            assert facts["lowest_m"] <= line["level_m"] <= facts["highest_m"]


def test_tiles__a_raster_without_crs_takes_it_from_the_address(
    client: httpx.Client, tmp_path: Path, facts: dict[str, Any]
) -> None:
    bare = upload(client, write_hill(tmp_path / "bare.tif", crs=None)).json()
    assert bare["bounds"] is None
    assert bare["max_zoom"] is None
    x, y = tile_of(facts)
    address = f"/api/terrains/{bare['id']}/relief/{ZOOM}/{x}/{y}"
    is_problem(client.get(address), 422, "missing_crs")
    assert client.get(address, params={"crs": CRS}).status_code == 200
    is_problem(client.get(address, params={"crs": "EPSG:0"}), 422, "missing_crs")


def test_tiles__gone_with_the_terrain(client: httpx.Client, tmp_path: Path) -> None:
    gone = upload(client, write_hill(tmp_path / "gone.tif")).json()
    x, y = tile_of(gone)
    address = f"/api/terrains/{gone['id']}/relief/{ZOOM}/{x}/{y}"
    assert client.get(address).status_code == 200
    assert client.delete(f"/api/terrains/{gone['id']}").status_code == 204
    is_problem(client.get(address), 404, "not_found")


def write_large(path: Path, side: int = 4608) -> Path:
    """Write a slope of over twenty million cells, block by block."""
    with rasterio.open(
        path, "w", driver="GTiff", width=side, height=side, count=1, dtype="float32", crs=CRS,
        transform=Affine(2.0, 0.0, WEST, 0.0, -2.0, NORTH), tiled=True, blockxsize=512,
        blockysize=512, compress="deflate", zlevel=1,
    ) as out:  # fmt: skip
        column = np.arange(side, dtype="float32")
        wave = 30.0 * np.sin(column / 90.0)
        for row in range(0, side, 512):
            band = 900.0 - 0.05 * column[None, :] + wave[row : row + 512, None]
            out.write(
                band[:, :].astype("float32"), 1, window=((row, row + band.shape[0]), (0, side))
            )
    return path


def test_relief__a_large_raster_is_seen_at_once_and_sharp_soon(
    serve: Serve, tmp_path: Path
) -> None:
    data = tmp_path / "data"
    with serve(data) as client:
        large = upload(client, write_large(tmp_path / "large.tif")).json()
        x, y = tile_of(large, 12)
        address = f"/api/terrains/{large['id']}/relief/12/{x}/{y}"
        first = client.get(address)
        assert first.status_code == 200

        def sharp() -> httpx.Response | None:
            answer = client.get(address)
            if "max-age" in answer.headers["cache-control"]:
                return answer
            assert answer.headers["cache-control"] == "no-store"
            return None

        answer = until(sharp, "a sharp tile", pause_s=0.05)
        assert answer is not None
        kept = sorted((data / "terrains" / large["id"] / "reduced").iterdir())
        assert [path.suffix for path in kept] == [".npy", ".npy"]
    with serve(data) as client:  # the copies outlive the service
        again = client.get(address)
        assert "max-age" in again.headers["cache-control"]
        assert again.content == answer.content
