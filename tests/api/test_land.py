"""Layers, pictures and coordinate systems for the planning page."""

from __future__ import annotations

import base64
import json
import zipfile
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pyproj
import pytest
import rasterio
from api_service import CRS, is_problem, upload, write_hill
from rasterio.io import MemoryFile

ROAD = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {"name": "Fell road"},
            "geometry": {"type": "LineString", "coordinates": [[-14.2, 62.1], [-14.19, 62.11]]},
        }
    ],
}


def send(client: httpx.Client, path: str, name: str, data: bytes) -> httpx.Response:
    return client.post(path, files={"file": (name, data)})


def test_layers__come_back_as_the_settings_take_them(client: httpx.Client) -> None:
    answer = send(client, "/api/layers", "roads of the fell.geojson", json.dumps(ROAD).encode())
    assert answer.status_code == 200, answer.text
    assert answer.json() == {"name": "roads of the fell", "features": ROAD}


def test_layers__that_hold_no_land_are_refused_by_their_name(client: httpx.Client) -> None:
    point = {"type": "Point", "coordinates": [-14.2, 62.1]}
    for data in (json.dumps(point).encode(), b"not a layer"):
        problem = is_problem(send(client, "/api/layers", "points.geojson", data), 422)
        assert "incoming" not in problem["detail"] + problem["hint"]


def picture(path: Path, bands: np.ndarray[Any, Any], **profile: Any) -> bytes:
    count, height, width = bands.shape
    transform = rasterio.Affine(5.0, 0.0, 400_000.0, 0.0, -5.0, 6_900_000.0)
    given = {"dtype": "uint8", "crs": CRS, "transform": transform, **profile}
    with rasterio.open(
        path, "w", driver="GTiff", width=width, height=height, count=count, **given
    ) as out:
        out.write(bands)
    return path.read_bytes()


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_overlays__lie_where_the_picture_lies(client: httpx.Client, tmp_path: Path) -> None:
    bands = np.zeros((3, 200, 300), dtype=np.uint8)
    bands[0], bands[2, :, 150:] = 200, 250
    given = send(client, "/api/overlays", "a.tif", picture(tmp_path / "a.tif", bands))
    assert given.status_code == 200, given.text
    answer = given.json()
    to_wgs = pyproj.Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    xs, ys = [400_000, 401_500, 400_000, 401_500], [6_900_000, 6_900_000, 6_899_000, 6_899_000]
    lon, lat = to_wgs.transform(xs, ys)
    box = answer["bounds"]
    near = {"abs": 2e-4}
    assert box["west"] == pytest.approx(min(lon), **near)
    assert box["east"] == pytest.approx(max(lon), **near)
    assert box["south"] == pytest.approx(min(lat), **near)
    assert box["north"] == pytest.approx(max(lat), **near)
    data = base64.b64decode(answer["picture"].partition(",")[2])
    with MemoryFile(data) as memory, memory.open() as shown:
        seen = shown.read()
    middle = seen[:, seen.shape[1] // 2]
    left, right = middle[:, middle.shape[1] // 4], middle[:, 3 * middle.shape[1] // 4]
    assert left[0] > 150
    assert left[2] < 60
    assert right[2] > 190
    assert left[3] == right[3] == 255


def test_overlays__what_is_no_picture_is_refused(client: httpx.Client, tmp_path: Path) -> None:
    hill = write_hill(tmp_path / "hill.tif").read_bytes()
    assert "no picture" in is_problem(send(client, "/api/overlays", "h.tif", hill), 422)["detail"]
    bare = picture(tmp_path / "b.tif", np.ones((1, 9, 9), dtype=np.uint8), crs=None)
    assert "coordinate" in is_problem(send(client, "/api/overlays", "b.tif", bare), 422)["detail"]
    is_problem(send(client, "/api/overlays", "c.tif", b"not a picture"), 422)


@pytest.mark.parametrize(
    ("words", "first"),
    [("32628", "EPSG:32628"), ("EPSG:32633", "EPSG:32633"), ("utm zone 28n", "EPSG:32628")],
)
def test_crs__is_found_by_code_and_by_name(client: httpx.Client, words: str, first: str) -> None:
    found = client.get("/api/crs", params={"q": words}).json()
    assert found[0]["code"] == first
    assert found[0]["name"] == pyproj.CRS(first).name
    assert client.get("/api/crs", params={"q": "no such system"}).json() == []


def test_place__says_where_a_raster_would_lie(client: httpx.Client, tmp_path: Path) -> None:
    whole = upload(client, write_hill(tmp_path / "hill.tif")).json()
    bare = upload(client, write_hill(tmp_path / "bare.tif", crs=None)).json()
    assert bare["facts"]["crs"] is None
    path = f"/api/terrains/{bare['id']}/place"
    found = client.get(path, params={"crs": CRS}).json()
    assert found["bounds"] == pytest.approx(whole["bounds"], abs=1e-6)
    assert found["cell_m"] == pytest.approx(5.0)
    assert [found[name] for name in ("lowest_m", "highest_m")] == [
        whole[name] for name in ("lowest_m", "highest_m")
    ]
    wrong = client.get(path, params={"crs": "EPSG:1"})
    is_problem(wrong, 422)


def test_terrain__a_zip_of_a_text_grid_and_its_prj_is_one(
    client: httpx.Client, tmp_path: Path
) -> None:
    rows = "\n".join(" ".join(str(300 - r - c) for c in range(30)) for r in range(20))
    head = "ncols 30\nnrows 20\nxllcorner 400000\nyllcorner 6800000\ncellsize 5\n"
    path = tmp_path / "hill.zip"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("hill.asc", f"{head}{rows}\n")
        packed.writestr("hill.prj", pyproj.CRS(CRS).to_wkt("WKT1_ESRI"))
    terrain = send(client, "/api/terrains", "hill.zip", path.read_bytes()).json()
    assert terrain["facts"]["crs"] == CRS
    box = terrain["bounds"]
    middle = [(box["west"] + box["east"]) / 2, (box["south"] + box["north"]) / 2]
    line = [[box["west"] + 4e-4, middle[1]], [box["east"] - 4e-4, middle[1]]]
    body = {"terrain": terrain["id"], "route": {"type": "LineString", "coordinates": line}}
    assert client.post("/api/preview", json=body).status_code == 200
