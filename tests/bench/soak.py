"""An office at work for twenty minutes: eight drag lines, two save, five crews send photographs.

Starts ``leatline serve`` as its own process over the sample terrain and says how long the drags
took, what failed, and how the service's memory went. Exits with 1 where something failed, 1 % of
the drags took 200 ms or more, or memory grew by more than a tenth after the first quarter.

Run: python tests/bench/soak.py --minutes 20
"""

from __future__ import annotations

import argparse
import base64
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from typing import Any

import httpx
import psutil

DRAGGERS, EDITORS, CREWS = 8, 2, 5
DRAG_PAUSE_S, EDIT_PAUSE_S, CREW_PAUSE_S = 0.5, 5.0, 5.0
"""Between an answer and the next request of the same person [s]."""

PHOTO_BYTES = 40_000
MOST_P99_S, MOST_GROWTH = 0.2, 0.10


class Office:
    """What those at work have in common: the service, the study, when to go home."""

    def __init__(self, url: str, seconds: float) -> None:
        from sample_dem import sample_paths

        paths = sample_paths()
        self.url = url
        self.route: dict[str, Any] = json.loads(paths.line.read_text(encoding="utf-8"))
        if "features" in self.route:
            self.route = self.route["features"][0]["geometry"]
        with self.client() as client, paths.terrain.open("rb") as raster:
            self.terrain = client.post("/api/terrains", files={"file": raster}).json()["id"]
            asked = {"terrain": self.terrain, "route": self.line(random.Random(0))}
            self.study = client.post("/api/studies", json=asked).raise_for_status().json()["id"]
        self.end = time.monotonic() + seconds
        self.drags: list[float] = []
        self.edits, self.records = 0, 0
        self.failed: list[str] = []

    def client(self) -> httpx.Client:
        return httpx.Client(base_url=self.url, timeout=60.0)

    def line(self, chance: random.Random) -> dict[str, Any]:
        """Return the sample's line with one inner point some metres off."""
        points = [list(point[:2]) for point in self.route["coordinates"]]
        if len(points) > 2:
            moved = points[chance.randrange(1, len(points) - 1)]
            moved[0] += chance.uniform(-1e-4, 1e-4)
            moved[1] += chance.uniform(-1e-4, 1e-4)
        return {"type": "LineString", "coordinates": points}

    def answered(self, who: str, response: httpx.Response, *fine: int) -> None:
        if response.status_code not in (200, *fine):
            self.failed.append(f"{who}: {response.status_code} {response.text[:200]}")

    def drag(self, number: int) -> None:
        chance = random.Random(number)
        with self.client() as client:
            while time.monotonic() < self.end:
                asked = {"terrain": self.terrain, "route": self.line(chance)}
                start = time.perf_counter()
                response = client.post("/api/preview?form=compact", json=asked)
                self.drags.append(time.perf_counter() - start)
                self.answered("drag", response)
                time.sleep(DRAG_PAUSE_S)

    def edit(self, number: int) -> None:
        chance = random.Random(100 + number)
        address = f"/api/studies/{self.study}"
        with self.client() as client:
            while time.monotonic() < self.end:
                tag = client.get(address).headers["etag"]
                asked = {"terrain": self.terrain, "route": self.line(chance)}
                response = client.put(address, json=asked, headers={"If-Match": tag})
                self.answered("edit", response, 412)  # 412: the other editor was first
                self.edits += response.status_code == 200
                time.sleep(EDIT_PAUSE_S)

    def crew(self, number: int) -> None:
        with self.client() as client:
            while time.monotonic() < self.end:
                jpeg = b"\xff\xd8\xff\xe0" + os.urandom(PHOTO_BYTES) + b"\xff\xd9"
                said = {
                    "kind": "photo",
                    "of": None,
                    "station_m": 1.0,
                    "photo": "data:image/jpeg;base64," + base64.b64encode(jpeg).decode(),
                    "device": f"crew {number}",
                    "time": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()),
                }
                address = f"/api/studies/{self.study}/records"
                response = client.post(address, json={"records": [said]})
                self.answered("crew", response)
                self.records += response.status_code == 200
                time.sleep(CREW_PAUSE_S)


def resident(process: int) -> float:
    """Return the memory that a process and those it started hold [MB]."""
    first = psutil.Process(process)
    return sum(each.memory_info().rss for each in (first, *first.children(recursive=True))) / 1e6


def soak(url: str, process: int, seconds: float) -> bool:
    """Work for ``seconds``, print what was seen, return whether it is within the bounds."""
    office = Office(url, seconds)
    work: list[tuple[Callable[[int], None], int]] = [
        (office.drag, DRAGGERS),
        (office.edit, EDITORS),
        (office.crew, CREWS),
    ]
    threads = [threading.Thread(target=act, args=(n,)) for act, many in work for n in range(many)]
    for thread in threads:
        thread.start()
    memory: list[float] = []
    while time.monotonic() < office.end:
        memory.append(resident(process))
        time.sleep(min(10.0, seconds / 40.0))
    for thread in threads:
        thread.join()
    drags = sorted(office.drags)
    middle, late = drags[len(drags) // 2], drags[int(len(drags) * 0.99)]
    settled = memory[len(memory) // 4 :]
    growth = max(settled) / settled[0] - 1.0
    print(
        f"drags {len(drags)}: median {middle * 1e3:.0f} ms, 99 % {late * 1e3:.0f}, "
        f"longest {drags[-1] * 1e3:.0f}; saved {office.edits}, photographs {office.records}"
    )
    print("memory [MB] " + " ".join(f"{value:.0f}" for value in memory[:: len(memory) // 20 or 1]))
    print(f"growth after the first quarter {growth:.1%}; load {os.getloadavg()[0]:.1f}")
    for text in office.failed[:10]:
        print("failed", text)
    return not office.failed and late < MOST_P99_S and growth <= MOST_GROWTH


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=20.0)
    minutes = parser.parse_args().minutes
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "api.cli", "serve", "--port", "0", "--data", folder]
        with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as service:
            try:
                assert service.stderr is not None
                url = service.stderr.readline().split("at ")[1].split(" ")[0]
                good = soak(url, service.pid, minutes * 60.0)
            finally:
                service.terminate()
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
