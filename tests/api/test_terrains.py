from __future__ import annotations

import struct
import threading
import zipfile
import zlib
from collections import Counter
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
import rasterio
from affine import Affine
from api_service import Serve, is_problem, upload, write_hill

VRT = """<VRTDataset rasterXSize="4" rasterYSize="4"><VRTRasterBand dataType="Float32" band="1">
<SimpleSource><SourceFilename relativeToVRT="0">/etc/passwd</SourceFilename><SourceBand>1
</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>"""


def test_upload__says_what_is_understood(client: httpx.Client, hill: Path) -> None:
    response = upload(client, hill)
    assert response.status_code == 201
    terrain = response.json()
    assert response.headers["location"] == f"/api/terrains/{terrain['id']}"
    assert terrain["name"] == "hill.tif"
    assert terrain["facts"]["crs"] == "EPSG:32628"
    assert client.get(response.headers["location"]).json() == terrain
    assert terrain in client.get("/api/terrains").json()


def test_upload_once__knows_the_very_same_files_by_what_is_in_them(
    serve: Serve, hill: Path, tmp_path: Path
) -> None:
    bare = write_hill(tmp_path / "bare.tif", crs=None).read_bytes()
    prj = rasterio.crs.CRS.from_epsg(32628).to_wkt().encode()
    with serve(tmp_path / "data") as client:

        def once(name: str, raster: bytes, **parts: Any) -> httpx.Response:
            files = {"file": (name, raster), **parts}
            return client.post("/api/terrains?once=true", files=files)

        first = once("hill.tif", hill.read_bytes())
        assert first.status_code == 201
        again = once("the same hill.tif", hill.read_bytes())
        assert again.status_code == 200
        assert again.json() == first.json()
        assert again.headers["location"] == first.headers["location"]
        others = [once("bare.tif", bare), once("bare.tif", bare, prj=("bare.prj", prj))]
        assert [each.status_code for each in others] == [201, 201], "a CRS of its own differs"
        assert once("bare.tif", bare).json() == others[0].json()
        ids = {response.json()["id"] for response in (first, *others)}
        assert {terrain["id"] for terrain in client.get("/api/terrains").json()} == ids
        assert len(ids) == 3
        assert upload(client, hill).json()["id"] not in ids, "unless asked so, each is taken anew"


def test_upload__raster_without_crs_comes_in(
    client: httpx.Client, tmp_path: Path, line: dict[str, Any]
) -> None:
    bare = write_hill(tmp_path / "bare.tif", crs=None)
    terrain = upload(client, bare).json()
    assert terrain["facts"]["crs"] is None
    body = {"terrain": terrain["id"], "route": line, "settings": {}}
    problem = is_problem(client.post("/api/preview", json=body), 422, "missing_crs")
    assert "elevation.tif" not in problem["detail"]
    body["settings"] = {"terrain": {"crs": "EPSG:32628"}}
    assert client.post("/api/preview", json=body).status_code == 200


def test_upload__prj_gives_the_crs(client: httpx.Client, tmp_path: Path) -> None:
    bare = write_hill(tmp_path / "bare.tif", crs=None)
    wkt = rasterio.crs.CRS.from_epsg(32628).to_wkt()
    terrain = upload(client, bare, prj=("bare.prj", wkt.encode())).json()
    assert terrain["facts"]["crs"] == "EPSG:32628"


def test_upload__name_is_the_clients_file_name_is_not(
    client: httpx.Client, hill: Path, tmp_path: Path
) -> None:
    files = {"file": ("../../etc/a\x7fb <i>.tif", hill.read_bytes())}
    terrain = client.post("/api/terrains", files=files).json()
    assert terrain["name"] == "ab <i>.tif"


def test_upload__vrt_in_disguise_is_refused(client: httpx.Client, tmp_path: Path) -> None:
    path = tmp_path / "hill.tif"
    path.write_text(VRT)
    problem = is_problem(upload(client, path), 422, "unreadable_raster")
    assert "root:" not in str(problem)
    assert str(tmp_path) not in str(problem)


def test_upload__picture_is_refused(client: httpx.Client, tmp_path: Path) -> None:
    path = tmp_path / "photo.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=8, height=8, count=3, dtype="uint8",
        photometric="RGB", crs="EPSG:32628", transform=Affine(5.0, 0.0, 4e5, 0.0, -5.0, 6.9e6),
    ) as out:  # fmt: skip
        out.write(np.zeros((3, 8, 8), dtype="uint8"))
    is_problem(upload(client, path), 422, "not_elevation")


def lying_tiff(width: int, height: int) -> bytes:
    """Return a TIFF of a few hundred bytes whose header states one block of that size."""
    entries = [
        (256, 4, width), (257, 4, height), (258, 3, 32), (259, 3, 8), (262, 3, 1), (273, 4, 8),
        (277, 3, 1), (278, 4, height), (279, 4, 20), (339, 3, 3),
    ]  # fmt: skip
    data = zlib.compress(b"\0" * 8)[:20].ljust(20, b"\0")
    ifd = struct.pack("<H", len(entries))
    for tag, kind, value in entries:
        ifd += struct.pack("<HHII", tag, kind, 1, value)
    return b"II*\0" + struct.pack("<I", 8 + len(data)) + data + ifd + b"\0\0\0\0"


def test_upload__lying_header_costs_nothing(client: httpx.Client, tmp_path: Path) -> None:
    path = tmp_path / "huge.tif"
    path.write_bytes(lying_tiff(3_000_000, 3_000_000))
    response = upload(client, path)
    assert response.status_code in (413, 422)
    is_problem(response, response.status_code)


@pytest.mark.parametrize(
    "content", [b"", b"II*\0", b"hello", b"%PDF-1.7 ", b"\x89PNG\r\n\x1a\n"], ids=repr
)
def test_upload__rubbish_is_refused(client: httpx.Client, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "hill.tif"
    path.write_bytes(content)
    before = client.get("/api/terrains").json()
    is_problem(upload(client, path), 422)
    assert client.get("/api/terrains").json() == before


def test_upload__damaged_file_is_refused_or_read_later(
    client: httpx.Client, hill: Path, tmp_path: Path
) -> None:
    path = tmp_path / "cut.tif"
    path.write_bytes(hill.read_bytes()[:400])
    is_problem(upload(client, path), 422)


def test_upload__without_file(client: httpx.Client, hill: Path) -> None:
    parts = {"raster": ("hill.tif", hill.read_bytes())}
    is_problem(client.post("/api/terrains", files=parts), 400, "bad_upload")
    is_problem(client.post("/api/terrains", json={}), 415, "wrong_media")
    is_problem(client.post("/api/terrains"), 415, "wrong_media")
    headers = {"content-type": "multipart/form-data; boundary=x"}
    cut = b'--x\r\nContent-Disposition: form-data; name="file"; filename="a.tif"\r\n\r\nII'
    is_problem(client.post("/api/terrains", content=cut, headers=headers), 400, "bad_upload")


def test_upload__too_large_is_cut_off_even_without_length(serve: Serve, tmp_path: Path) -> None:
    def chunks() -> Any:
        yield b'--x\r\nContent-Disposition: form-data; name="file"; filename="a.tif"\r\n\r\n'
        for _ in range(100):
            yield b"\0" * 65536

    headers = {"content-type": "multipart/form-data; boundary=x"}
    with serve(tmp_path / "data", max_upload_bytes=200_000) as client:
        response = client.post("/api/terrains", content=chunks(), headers=headers)
        is_problem(response, 413, "too_large")
        assert list((tmp_path / "data" / "incoming").iterdir()) == []
        assert list((tmp_path / "data" / "terrains").iterdir()) == []


def test_upload__pixel_limit(serve: Serve, tmp_path: Path, hill: Path) -> None:
    with serve(tmp_path / "data", max_pixels=9_599) as client:
        is_problem(upload(client, hill), 413, "raster_too_large")
    with serve(tmp_path / "data", max_pixels=9_600) as client:
        assert upload(client, hill).status_code == 201


def test_delete__used_unused_unknown(
    client: httpx.Client, hill: Path, line: dict[str, Any]
) -> None:
    terrain = upload(client, hill).json()["id"]
    study = client.post("/api/studies", json={"terrain": terrain, "route": line}).json()
    is_problem(client.delete(f"/api/terrains/{terrain}"), 409, "terrain_in_use")
    assert client.delete(f"/api/studies/{study['id']}").status_code == 204
    assert client.delete(f"/api/terrains/{terrain}").status_code == 204
    is_problem(client.delete(f"/api/terrains/{terrain}"), 404, "not_found")


def test_upload__from_another_web_site(client: httpx.Client, hill: Path) -> None:
    headers = {"origin": "https://elsewhere.example"}
    files = {"file": ("hill.tif", hill.read_bytes())}
    response = client.post("/api/terrains", files=files, headers=headers)
    is_problem(response, 403, "foreign_origin")
    own = {"origin": f"http://{client.base_url.host}:{client.base_url.port}"}
    assert client.post("/api/terrains", files=files, headers=own).status_code == 201


def archive_of(hill: Path, place: Path, count: int) -> Path:
    with zipfile.ZipFile(place, "w") as out:
        for number in range(count):
            out.write(hill, f"tiles/{number}.tif")
            out.writestr(f"tiles/{number}.tfw", "not a raster")
    return place


def test_upload__so_many_tiles_and_no_more(serve: Serve, tmp_path: Path, hill: Path) -> None:
    with serve(tmp_path / "data", max_tiles=2) as client:
        assert upload(client, archive_of(hill, tmp_path / "two.zip", 2)).status_code == 201
        said = is_problem(upload(client, archive_of(hill, tmp_path / "three.zip", 3)), 413)
        assert "has 3 rasters; 2 are allowed" in said["detail"]
        assert "LEATLINE_MAX_TILES" in said["hint"]


def test_upload__files_wait_their_turn_and_one_too_many_is_told(
    serve: Serve, tmp_path: Path, hill: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_once, most, lock, refused = 0, 0, threading.Lock(), threading.Event()

    def slow(*_: object) -> dict[str, object]:
        nonlocal at_once, most
        with lock:
            at_once += 1
            most = max(most, at_once)
        refused.wait(30.0)
        with lock:
            at_once -= 1
        return {}

    monkeypatch.setattr("api.routes.terrains.terrain_facts", slow)
    with serve(tmp_path / "data", workers=2, max_waiting_each=3) as client:
        with ThreadPoolExecutor(9) as pool:
            waited = [pool.submit(upload, client, hill) for _ in range(9)]
            answers = []
            for one in as_completed(waited):
                answers.append(one.result())
                if answers[-1].status_code == 503:
                    refused.set()
    codes = Counter(answer.status_code for answer in answers)
    assert most == 2
    assert codes[201] >= 5
    assert codes[503] == 9 - codes[201] >= 1
    late = next(answer for answer in answers if answer.status_code == 503)
    assert late.headers["retry-after"]
