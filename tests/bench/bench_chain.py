"""One line of 2 000 stations, terrain in memory: our chain against plain numpy and scipy.

Profile, laid pipe, vents and drains, static pressures. The peer samples the same window every half
cell with scipy, lays the pipe with the dynamic programme over 60 depths that is also the peer of
bench_trench, finds summits and sags with scipy.signal and computes heads with numpy.

Run: python tests/bench/bench_chain.py
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import rasterio
from bench_trench import numpy_programme
from pyproj import Geod, Transformer
from scipy.ndimage import map_coordinates
from scipy.signal import find_peaks
from timing import timed

from routing.compiled import prefer_compiled
from routing.fittings import FittingInputs, place_drains, place_vents
from routing.heads import pressure_pa, static_heads
from routing.laid_line import LaidLine, Levels
from routing.line import Route, ground_profile
from routing.terrain import open_terrain, read_window
from routing.trench import TrenchLimits, lay_pipe
from routing.water import water_at

CRS = "EPSG:32628"
CELL = 1.0
SIDE = 1500
LIMITS = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.4)


def heights(seed: int = 3) -> np.ndarray:
    """Return a hillside of 8 % with smooth random relief, (SIDE, SIDE) [m]."""
    rng = np.random.default_rng(seed)
    wave = np.hypot(*np.meshgrid(np.fft.fftfreq(SIDE), np.fft.fftfreq(SIDE)))
    wave[0, 0] = 1.0
    relief = np.real(np.fft.ifft2(np.exp(2j * np.pi * rng.random((SIDE, SIDE))) * wave**-2.25))
    relief *= 12.0 / relief.std()
    row, col = np.mgrid[0:SIDE, 0:SIDE]
    return (600.0 - 0.08 * (col + 0.3 * row) * CELL + relief).astype(np.float32)


def scene(folder: Path):
    """Return terrain, route and the window around it."""
    path = folder / "hill.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=SIDE, height=SIDE, count=1, dtype="float32", crs=CRS,
        transform=rasterio.Affine(CELL, 0, 500_000, 0, -CELL, 7_000_000), tiled=True,
    ) as dataset:  # fmt: skip
        dataset.write(heights(), 1)
    terrain = open_terrain([path])
    x = np.array([500_050.0, 500_500.0, 500_900.0, 501_430.0])
    y = np.array([6_999_900.0, 6_999_700.0, 6_999_650.0, 6_999_350.0])
    lon, lat = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform(x, y)
    route = Route(name="bench", lon=lon, lat=lat)
    window = read_window(
        terrain, float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max()), 4
    )
    return terrain, route, window, (x, y)


def ours(terrain, route, window, water):
    """Return profile, pipe, vents, drains and pressures as the study makes them."""
    profile = ground_profile(terrain, route, window=window)
    pipe = lay_pipe(profile.station_m, profile.ground_m, LIMITS)
    level = float(profile.ground_m[0])
    static = static_heads(level, pipe.pipe_m)
    pressure = pressure_pa(static, water)
    line = LaidLine(
        pipe=pipe, lon=profile.lon, lat=profile.lat, schedule=None, bends=(), bend_k=np.zeros(0),
        levels=Levels(intake_m=level, outlet_m=float(pipe.pipe_m[-1])), water=water,
    )  # fmt: skip
    given = FittingInputs(cell_m=CELL)
    return profile, pipe, place_vents(line, given), place_drains(line, given), pressure


def peer(window, x, y, back, water):
    """Return the same from numpy and scipy, sampled every half cell."""
    xs, ys = [], []
    for i in range(x.size - 1):
        count = int(np.ceil(np.hypot(x[i + 1] - x[i], y[i + 1] - y[i]) / (CELL / 2)))
        share = np.arange(count) / count
        xs.append(x[i] + share * (x[i + 1] - x[i]))
        ys.append(y[i] + share * (y[i + 1] - y[i]))
    px, py = np.append(np.concatenate(xs), x[-1]), np.append(np.concatenate(ys), y[-1])
    rows = (7_000_000.0 - py) / CELL - 0.5 - window.row0
    cols = (px - 500_000.0) / CELL - 0.5 - window.col0
    ground = map_coordinates(window.heights_m, [rows, cols], order=1)
    lon, lat = back.transform(px, py)
    _, _, steps = Geod(ellps="WGS84").inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    station = np.concatenate(([0.0], np.cumsum(steps)))
    highest, lowest = ground - 0.9, ground - 1.2
    numpy_programme(station, highest, lowest)
    summits, _ = find_peaks(highest, prominence=0.01)
    sags, _ = find_peaks(-highest, prominence=0.01)
    pressure = (ground[0] - highest) * water.density_kg_m3 * water.gravity_m_s2
    return station, summits, sags, pressure


def main() -> None:
    prefer_compiled()
    back = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    water = water_at(10.0)
    with tempfile.TemporaryDirectory() as folder:
        terrain, route, window, (x, y) = scene(Path(folder))
        ours(terrain, route, window, water)
        fast, (profile, pipe, vents, drains, _) = timed(
            ours, terrain, route, window, water, repeat=30
        )
        slow, sampled = timed(peer, window, x, y, back, water, repeat=3)
    print(
        f"chain, {profile.station_m.size} stations, {pipe.summits.size} summits, "
        f"{len(vents)} vents, {len(drains)} drains: ours {fast * 1e3:.2f} ms"
    )
    print(f"numpy and scipy, {sampled[0].size} samples: {slow * 1e3:.0f} ms")
    print(f"ratio: {slow / fast:.0f} x as fast")


if __name__ == "__main__":
    main()
