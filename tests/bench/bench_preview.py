"""The preview of a line being dragged: round trip against bare computation, eight clients at once.

Starts ``leatline serve`` as its own process and speaks to it over loopback.

Run: python tests/bench/bench_preview.py
"""

from __future__ import annotations

import http.client
import json
import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import rasterio
from pyproj import Transformer

CRS = "EPSG:32628"
WEST, NORTH = 400_000.0, 6_900_000.0
CLIENTS = 8
SECONDS = 8.0
THINK = 1 / 60
"""A pointer moves sixty times a second; a page asks again once the last answer is there [s]."""

SETTINGS = {
    "flow": {"design": "18 L/s"},
    "pipe": [{"from": "0 m", "catalogue": "PE100-SDR17-200"}],
    "turbine": {"efficiency": "64 %"},
    "intake": {"level_above_ground": "1 m"},
}


def write(path: Path, cell: float, side: int) -> Path:
    rng = np.random.default_rng(4)
    wave = np.hypot(*np.meshgrid(np.fft.fftfreq(side), np.fft.fftfreq(side)))
    wave[0, 0] = 1.0
    relief = np.real(np.fft.ifft2(np.exp(2j * np.pi * rng.random((side, side))) * wave**-2.25))
    _, col = np.mgrid[0:side, 0:side]
    field = 700 - 0.08 * cell * col + relief * (6.0 / relief.std())
    with rasterio.open(
        path, "w", driver="GTiff", width=side, height=side, count=1, dtype="float32", crs=CRS,
        transform=rasterio.Affine(cell, 0, WEST, 0, -cell, NORTH), tiled=True,
    ) as out:  # fmt: skip
        out.write(field.astype("float32"), 1)
    return path


def line(shift: float, length: float, extent: float, points: int = 9) -> dict:
    """Return a line across the terrain whose middle vertex is dragged by ``shift`` metres."""
    x = WEST + (extent - length) / 2 + np.linspace(0.0, length, points)
    y = NORTH - extent / 2 + 40.0 * np.sin(np.arange(points) * 1.3)
    y[points // 2] += shift
    lon, lat = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform(x, y)
    return {"type": "LineString", "coordinates": np.column_stack([lon, lat]).tolist()}


def body(terrain: str, shift: float, length: float, extent: float) -> bytes:
    asked = {"terrain": terrain, "route": line(shift, length, extent), "settings": SETTINGS}
    return json.dumps(asked).encode()


def ask(connection: http.client.HTTPConnection, text: bytes) -> tuple[float, bytes]:
    start = time.perf_counter()
    connection.request(
        "POST", "/api/preview?form=compact", text, {"content-type": "application/json"}
    )
    answer = connection.getresponse()
    data = answer.read()
    spent = time.perf_counter() - start
    if answer.status != 200:
        raise RuntimeError(data[:400])
    return spent, data


def drag(port: int, bodies: list[bytes], seconds: float, out: multiprocessing.Queue) -> None:
    """Drag for a while as one client; put the round trips [s]."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    spent, end, number = [], time.perf_counter() + seconds, 0
    while time.perf_counter() < end:
        took, _ = ask(connection, bodies[number % len(bodies)])
        number += 1
        spent.append(took)
        time.sleep(max(0.0, THINK - took))
    out.put(spent)


def upload(port: int, path: Path) -> str:
    connection = http.client.HTTPConnection("127.0.0.1", port)
    edge = "edge-of-the-form"
    head = f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="hill.tif"\r\n\r\n'
    data = head.encode() + path.read_bytes() + f"\r\n--{edge}--\r\n".encode()
    kind = {"content-type": f"multipart/form-data; boundary={edge}"}
    connection.request("POST", "/api/terrains", data, kind)
    return json.loads(connection.getresponse().read())["id"]


def bare(path: Path, shifts: np.ndarray, length: float, extent: float) -> float:
    """Return the time of the computation alone, as the service does it [s]."""
    from routing.compiled import prefer_compiled
    from routing.line import route_from_geojson
    from routing.settings import settings_from_mapping
    from routing.study import run_study
    from routing.terrain import open_terrain, read_window

    prefer_compiled()
    terrain = open_terrain([path])
    settings = settings_from_mapping(SETTINGS)
    routes = [route_from_geojson(line(shift, length, extent)) for shift in shifts]
    lon = np.concatenate([route.lon for route in routes])
    lat = np.concatenate([route.lat for route in routes])
    window = read_window(terrain, lon.min(), lat.min(), lon.max(), lat.max(), 20)
    spent = []
    for number in range(60):
        start = time.perf_counter()
        run_study(terrain, routes[number % len(routes)], settings, window=window, pressures=False)
        spent.append(time.perf_counter() - start)
    return float(np.median(spent[10:]))


def served(folder: Path) -> tuple[subprocess.Popen, int]:
    process = subprocess.Popen(
        [sys.executable, "-m", "api.cli", "serve", "--port", "0", "--data", str(folder)],
        stderr=subprocess.PIPE,
        text=True,
    )
    words = process.stderr.readline()
    port = int(words.split("127.0.0.1:")[1].split("/")[0])
    return process, port


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        process, port = served(folder / "data")
        try:
            measure(folder, port, process.pid)
        finally:
            process.terminate()
            process.wait(20)


def worked(pid: int) -> float:
    """Return the processor time that a process has spent so far [s]."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def measure(folder: Path, port: int, pid: int) -> None:
    shifts = 60.0 * np.sin(np.linspace(0.0, 2 * np.pi, 40))
    path = write(folder / "ten.tif", 10.0, 300)
    terrain = upload(port, path)
    bodies = [body(terrain, float(shift), 2000.0, 3000.0) for shift in shifts]
    connection = http.client.HTTPConnection("127.0.0.1", port)
    for text in bodies * 2:  # the service compiles while nobody waits
        ask(connection, text)
    time.sleep(3.0)
    alone = [ask(connection, text) for text in bodies * 3]
    trip = float(np.median([took for took, _ in alone]))
    stations = json.loads(alone[-1][1])["stations"]["n"]
    alone_computed = bare(path, shifts, 2000.0, 3000.0)
    print(f"2 km line, 10 m cells, {stations} stations: computed in {alone_computed * 1e3:.1f} ms")
    print(f"  whole round trip {trip * 1e3:.1f} ms, ratio {trip / alone_computed:.2f}")

    out: multiprocessing.Queue = multiprocessing.Queue()
    clients = [
        multiprocessing.Process(target=drag, args=(port, bodies[k:] + bodies[:k], SECONDS, out))
        for k in range(CLIENTS)
    ]
    before = worked(pid)
    for client in clients:
        client.start()
    spent = np.concatenate([out.get() for _ in clients])
    for client in clients:
        client.join()
    print(
        f"{CLIENTS} clients dragging: {spent.size / SECONDS:.0f} answers a second, median "
        f"{np.median(spent) * 1e3:.0f} ms, p99 {np.percentile(spent, 99) * 1e3:.0f} ms"
    )
    own = (worked(pid) - before) / spent.size
    load = os.getloadavg()[0]
    print(f"  processor time of the service {own * 1e3:.1f} ms an answer; load {load:.1f}")

    fine = upload(port, write(folder / "one.tif", 1.0, 1500))
    connection = http.client.HTTPConnection("127.0.0.1", port)  # the idle one was closed
    _, data = ask(connection, body(fine, 10.0, 1400.0, 1500.0))
    found = json.loads(data)["stations"]["n"]
    print(f"{found} stations: {len(data) / 1024:.0f} KiB before compression")
    print(f"  for 2000 of them about {(len(data) + (2000 - found) * 32) / 1024:.0f} KiB")


if __name__ == "__main__":
    main()
