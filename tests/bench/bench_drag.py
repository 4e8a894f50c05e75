"""From the pointer to the painted profile, in a real browser, on lines of 2 km and of 12 km.

Run it alone: ``python tests/bench/bench_drag.py``. It prints the median and the 95th percentile of
the time from a move of the pointer to the next frame after the answer was drawn, the part of it
that the page itself takes, the picture of the line let go, with all that a drag goes without, the
same request timed without a browser, and the processor time of a picture by process: on a machine
that others use too, that and the ratio to the libraries alone hold still.
"""

from __future__ import annotations

import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median, quantiles
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "support")]

import httpx  # noqa: E402
import numpy as np  # noqa: E402
import psutil  # noqa: E402
from api_service import upload  # noqa: E402
from long_lines import twelve_kilometres, two_kilometres  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402

import sample_dem  # noqa: E402

MOVES = 80
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic"]
WATCH = """() => {
  const { live } = leatline;
  const asked = {};
  window.times = [];
  window.atRest = []; // the line let go: surge, class and sizes, which no picture of a drag has
  let moved = 0; // when the pointer was where the newest move says, by the browser's own clock
  for (const kind of ['pointermove', 'pointerrawupdate'])
    window.addEventListener(kind, ({ timeStamp }) => { moved = timeStamp; }, true);
  const want = live.want.bind(live);
  live.want = (question) => { const n = want(question); asked[n] = moved; return n; };
  const show = live.show;
  live.show = (answer, n, question) => {
    const before = performance.now();
    show(answer, n, question);
    const own = performance.now() - before;
    if (!(n in asked)) return; // its fittings, after the line itself was painted
    const began = asked[n];
    delete asked[n];
    const channel = new MessageChannel();
    const list = question.look === 'rest' ? atRest : times;
    channel.port1.onmessage = () => list.push([performance.now() - began, own]);
    requestAnimationFrame(() => channel.port2.postMessage(0));
  };
}"""
BARE = """async (moves) => {
  const L = await import('leaflet');
  const { default: uPlot } = await import('uplot');
  const { contourLayer } = await import('/js/contour-layer.js');
  const { model, plan } = leatline.state;
  const box = document.createElement('div');
  box.style.cssText = 'position:fixed;inset:0;z-index:9999;background:#fff';
  const [hill, chart] = [0, 1].map(() => box.appendChild(document.createElement('div')));
  for (const node of [hill, chart]) node.style.cssText = 'width:1044px;height:400px';
  document.body.append(box);
  const map = L.map(hill, { zoomControl: false, attributionControl: false });
  const points = plan.lines[0].points.map(([lon, lat]) => [lat, lon]);
  map.fitBounds(points);
  const base = `/api/terrains/${plan.terrain[0]}`;
  const relief = L.tileLayer(`${base}/relief/{z}/{x}/{y}?scale=1`);
  const drawn = [relief, contourLayer(`${base}/contours`, '?units=metric', {})];
  const loaded = (layer) => new Promise((done) => layer.on('load', done).addTo(map));
  await Promise.all(drawn.map(loaded));
  const line = L.polyline(points).addTo(map);
  const signs = [...model.vents, ...model.drains].map(({ lat, lon }) =>
    L.marker([lat, lon], { icon: L.divIcon({ html: '<b>V</b>' }) }).addTo(map));
  const numbers = (name) => Array.from(model.col[name]);
  const data = ['station_m', 'ground_m', 'pipe_m', 'pipe_m', 'ground_m'].map(numbers);
  const series = [{}, ...data.slice(1).map(() => ({ stroke: '#000' }))];
  const scales = { x: { time: false } };
  const plot = new uPlot({ width: 1044, height: 400, series, scales }, data, chart);
  const times = [];
  for (let k = 0; k < moves; k += 1) {
    const began = performance.now();
    points[4] = [points[4][0] + 1e-6 * Math.sin(k / 6), points[4][1]];
    line.setLatLngs(points);
    for (const sign of signs) sign.setLatLng(sign.getLatLng());
    plot.setData(data.map((column, i) => (i ? column.map((value) => value + 0.01 * k) : column)));
    await new Promise((done) => {
      const channel = new MessageChannel();
      channel.port1.onmessage = done;
      requestAnimationFrame(() => channel.port2.postMessage(0));
    });
    times.push(performance.now() - began);
  }
  box.remove();
  return times;
}"""
"""The same picture by the libraries alone, on the same ground: no service, nothing worked out."""


@contextmanager
def service(data: str) -> Iterator[httpx.Client]:
    """Run the service in a process of its own, as people do, until its calculations are ready."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    arguments = ["serve", "--port", port, "--data", data]
    process = subprocess.Popen(
        [sys.executable, "-m", "api.cli", *arguments],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=60) as client:
            for _ in range(1200):
                try:
                    if not client.get("/api/health").json()["warming"]:
                        break
                except httpx.TransportError:
                    pass
                time.sleep(0.1)
            yield client
    finally:
        process.terminate()
        process.wait()


def main() -> None:
    """Drag a bend of each line about and print how long each picture took."""
    with tempfile.TemporaryDirectory() as data, service(data) as client:
        terrain = upload(client, sample_dem.sample_paths().terrain).json()["id"]
        with sync_playwright() as started:
            browser = started.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
            for points in (two_kilometres(), twelve_kilometres()):
                route = {"type": "LineString", "coordinates": points}
                timed(client, browser, {"terrain": terrain, "route": route})
            browser.close()


def timed(client: Any, browser: Any, body: dict[str, Any]) -> None:
    """Print the times of one line."""
    study = client.post("/api/studies", json=body).json()
    length, count = study["summary"]["plan_length_m"], len(study["stations"]["station_m"])
    print(f"line of {length:.0f} m, {count} stations")
    print(f"request alone         median {median(bare_times(client, body)):6.1f} ms")
    address = str(client.base_url.join(f"/?study={study['id']}"))
    dragged(browser, address)  # the first drag warms both ends
    times, let_go, spent = dragged(browser, address)
    bare, spent_bare = drawn_bare(browser, address)
    named = {
        "pointer to picture": times[:, 0],
        "of it, page's work": times[:, 1],
        "libraries alone": bare,
    }
    for name, column in named.items():
        p95 = quantiles(column.tolist(), n=20)[-1]
        print(f"{name:<21} median {median(column):6.1f} ms, 95 of 100 within {p95:6.1f} ms")
    ratio = median(times[:, 0]) / median(bare)
    print(f"pointer to picture is {ratio:.1f} times the libraries alone")
    print(f"let go, to the whole picture     {let_go:6.1f} ms")
    print(f"{len(times)} painted of {places()} whole pixels that {MOVES} moves reach")
    for name, counted, pictures in (
        ("dragged", spent, len(times)),
        ("libraries", spent_bare, MOVES),
    ):
        each = ", ".join(f"{kind} {ms / pictures:.1f}" for kind, ms in counted.items())
        print(f"processor time of a picture, {name}: {each} ms")


@contextmanager
def worked() -> Iterator[dict[str, float]]:
    """Yield what becomes the processor time of service, page and screen meanwhile [ms]."""
    spent: dict[str, float] = {}
    before = _processor_ms()
    yield spent
    after = _processor_ms()
    for kind in ("service", "renderer", "gpu-process"):
        spent[kind] = after.get(kind, 0.0) - before.get(kind, 0.0)


def _processor_ms() -> dict[str, float]:
    total: dict[str, float] = {}
    for process in psutil.Process().children(recursive=True):
        try:
            words, times = process.cmdline(), process.cpu_times()
        except psutil.Error:
            continue
        kind = next((word[7:] for word in words if word.startswith("--type=")), "")
        kind = "service" if "serve" in words else kind
        total[kind] = total.get(kind, 0.0) + 1e3 * (times.user + times.system)
    return total


def move(k: int) -> tuple[float, float]:
    """Return how far right and down of its start the pointer is at the k-th move [px]."""
    return 12.0 * float(np.sin(k / 6)), -0.3 * k


def places() -> int:
    """Return how often the pointer comes to another whole pixel: nothing is asked in between."""
    pixels = [tuple(map(round, move(k))) for k in range(MOVES)]
    return sum(before != after for before, after in zip([(0, 0), *pixels], pixels, strict=False))


def bare_times(client: Any, body: dict[str, Any]) -> list[float]:
    """Return the times of the same request without a browser [ms]."""
    times = []
    for _ in range(30):
        start = time.perf_counter()
        client.post("/api/preview?form=line", json=body).raise_for_status()
        times.append((time.perf_counter() - start) * 1e3)
    return times


def drawn_bare(browser: Any, address: str) -> tuple[Any, dict[str, float]]:
    """Return the times of the same picture by Leaflet and uPlot alone, and the processor's [ms]."""
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    page.goto(address)
    page.wait_for_function(
        "() => window.leatline?.state.model && leatline.live.idle", timeout=120_000
    )
    with worked() as spent:
        times = np.array(page.evaluate(BARE, MOVES))
    page.close()
    return times, spent


def dragged(browser: Any, address: str) -> tuple[Any, float, dict[str, float]]:
    """Return the pictures' times and the page's own, the line let go, the processor's [ms]."""
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    page.goto(address)
    page.wait_for_function(
        "() => window.leatline?.state.model && leatline.live.idle", timeout=120_000
    )
    page.evaluate(WATCH)
    handle = page.locator(".handle-bend").nth(4)
    box = handle.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    with worked() as spent:
        for k in range(MOVES):
            right, down = move(k)
            page.mouse.move(x + right, y + down)
            time.sleep(0.016)
    page.mouse.up()
    page.wait_for_function("() => leatline.live.idle && atRest.length", timeout=120_000)
    times = np.array(page.evaluate("() => times"))
    let_go = float(page.evaluate("() => atRest.at(-1)[0]"))
    page.close()
    return times, let_go, spent


if __name__ == "__main__":
    main()
