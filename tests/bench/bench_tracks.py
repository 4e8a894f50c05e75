"""Seconds that cleaning a walked track takes, by its number of points, and reading one from GPX."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import numpy as np

from routing.line import Route, clean_track, read_route

METRE = 1.0 / 111_195.0


def walked(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return a walk with rests and jumps, in degrees."""
    chance = np.random.default_rng(7)
    heading = np.cumsum(chance.normal(0.0, 0.05, count))
    step = np.where(np.arange(count) % 5000 < 400, 0.0, 2.0)  # a rest every 5000 points
    x = np.cumsum(step * np.cos(heading)) + chance.normal(0.0, 0.8, count)
    y = np.cumsum(step * np.sin(heading)) + chance.normal(0.0, 0.8, count)
    jumps = chance.integers(10, count - 10, count // 2000)
    y[jumps] += 400.0
    doubled = chance.integers(1, count, count // 20)
    x[doubled], y[doubled] = x[doubled - 1], y[doubled - 1]
    return 7.0 + x * METRE / 0.69, 46.0 + y * METRE


def main() -> None:
    """Print the table."""
    for count in (12_500, 25_000, 50_000, 100_000, 200_000):
        lon, lat = walked(count)
        begin = time.perf_counter()
        route = Route(name="walk", lon=lon, lat=lat, recorded=True)
        checked = time.perf_counter()
        cleaned = clean_track(route)
        end = time.perf_counter()
        print(
            f"{count:7d} points -> {cleaned.lon.size:7d}: checked {checked - begin:.3f} s, "
            f"cleaned {end - checked:.3f} s, {1e6 * (end - checked) / count:.2f} us a point"
        )
    points = "".join(
        f'<trkpt lat="{y:.8f}" lon="{x:.8f}"><ele>9</ele><time>2026-05-01T10:00:00Z</time></trkpt>'
        for x, y in zip(*walked(100_000), strict=True)
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "walk.gpx"
        path.write_text(f"<gpx><trk><trkseg>{points}</trkseg></trk></gpx>")
        begin = time.perf_counter()
        read_route(path)
        print(
            f"GPX of 100 000 points, {path.stat().st_size / 1e6:.0f} MB: read in "
            f"{time.perf_counter() - begin:.2f} s"
        )


if __name__ == "__main__":
    main()
