"""Make the terrain of the demo: the valley of Skarn Beck above the hamlet of Otterfell.

The place is invented; it lies on an island that is on no chart. Nothing here is drawn by hand but
the course of the beck: rain falls on rough ground, water runs down the steepest way, and where more
of it runs it cuts deeper, for as many rounds as give ridges, spurs and gills. Then the courses get
their channels, a terrace is laid for the powerhouse, and the whole is rounded to centimetres.

Run ``python -m sample_dem.make_terrain`` to write ``otterfell.tif`` anew; the same numbers come out
each time.
"""

from __future__ import annotations

import heapq
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["make_terrain", "write_terrain"]

FloatArray = NDArray[np.float64]

CRS: Final = "EPSG:32628"
WEST_M, SOUTH_M = 418_000.0, 5_238_000.0
WIDTH_M, HEIGHT_M = 2_400.0, 2_000.0
CELL_M: Final = 5.0

COARSE_M: Final = 20.0
"""Cell in which the water works [m]."""
MARGIN_M: Final = 400.0
"""Ground around the raster that is worked too, so that no edge shows [m]."""
ROUNDS: Final = 24
SEED: Final = 2718

BECK: Final = (
    (-400, 1500), (-160, 1400), (60, 1370), (230, 1290), (360, 1180), (520, 1130), (700, 1010),
    (860, 980), (990, 930), (1080, 850), (1210, 820), (1330, 730), (1480, 700), (1600, 620),
    (1740, 610), (1870, 530), (2010, 530), (2140, 470), (2290, 480), (2430, 430), (2800, 380),
)  # fmt: skip
"""Course of the beck before the water takes it over: x, y from the south-west corner [m]."""
BECK_HIGH_M, BECK_LOW_M = 352.0, 172.0
BECK_AREA_M2: Final = 5.5e6
"""What drains into the beck above the raster [m2]."""

LIFT_M: Final = 3.5
"""How far the ground rises in one round [m]."""
CUT: Final = 0.026
"""How fast water cuts: one round takes ``CUT`` x root of the area [m] x the fall [-]."""
CREEP: Final = 0.25
"""Share of the way to the mean of its neighbours that ground creeps in one round [-]."""
SPRING_M2: Final = 25_000.0
"""Area from which water runs in a channel of its own [m2]."""

TAGS: Final = {
    "VERTICAL_DATUM": "Otterfell harbour datum (invented)",
    "TIFFTAG_IMAGEDESCRIPTION": "Invented terrain: Skarn Beck above Otterfell",
}

TERRACE: Final = (2192.0, 452.0)
"""Where the powerhouse stands: x, y [m]."""
TERRACE_RADIUS_M, TERRACE_LEVEL_M = 14.0, 245.2

NEIGHBOURS: Final = tuple((dr, dc) for dr in (-1, 0, 1) for dc in (-1, 0, 1) if dr or dc)


def make_terrain() -> NDArray[np.float32]:
    """Return the elevations, shape (400, 480), north row first [m]."""
    rng = np.random.Generator(np.random.PCG64(SEED))
    coarse = _grid(COARSE_M, MARGIN_M)
    height, outlet = _first_ground(rng, *coarse)
    for _ in range(ROUNDS):
        order, receiver = _drain(rng, height, outlet)
        area = _area(order, receiver, height.shape)
        height = _wear(height, area, order, receiver)
    order, receiver = _drain(rng, height, outlet)
    area = _area(order, receiver, height.shape)
    x, y = _grid(CELL_M, 0.0)
    fine = _refine(height, x, y)
    fine += _roughness(rng, x, y)
    fine = _lay_terrace(fine, x, y)
    fine = _cut_channels(fine, x, y, area, receiver)
    return np.round(fine, 2).astype(np.float32)


def _grid(cell_m: float, margin_m: float) -> tuple[FloatArray, FloatArray]:
    """Return x of the columns and y of the rows, north first, from the south-west corner [m]."""
    x = np.arange(-margin_m + cell_m / 2, WIDTH_M + margin_m, cell_m)
    y = np.arange(-margin_m + cell_m / 2, HEIGHT_M + margin_m, cell_m)[::-1]
    return x, y


def _first_ground(
    rng: np.random.Generator, x: FloatArray, y: FloatArray
) -> tuple[FloatArray, tuple[int, int]]:
    """Return rough ground that leans towards the beck, and the cell where the beck leaves it."""
    course = np.array(BECK, dtype=np.float64)
    away, along = _nearest(course, x[None, :], y[:, None])
    level = BECK_HIGH_M + (BECK_LOW_M - BECK_HIGH_M) * along
    rough = np.zeros_like(away)
    for span in (900, 450, 225, 112, 60):
        rough += 42.0 * (span / 900.0) ** 0.9 * _waves(rng, x, y, span)
    # Near the beck the ground keeps its lean, so that the beck stays where it is drawn.
    height = level + 0.30 * away + rough * (1.0 - np.exp(-((away / 260.0) ** 2)))
    outlet = int(np.argmin(np.abs(y - course[-1, 1]))), x.size - 1
    return height, outlet


def _nearest(course: FloatArray, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the distance from a course [m], and how far along it that is, 0 to 1."""
    steps = np.hypot(*np.diff(course, axis=0).T)
    start = np.concatenate([[0.0], np.cumsum(steps)])
    best = np.full(np.broadcast_shapes(x.shape, y.shape), np.inf)
    along = np.zeros_like(best)
    for (ax, ay), (bx, by), length, done in zip(course, course[1:], steps, start, strict=False):
        share = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length**2, 0.0, 1.0)
        away = np.hypot(x - ax - share * (bx - ax), y - ay - share * (by - ay))
        along = np.where(away < best, (done + share * length) / start[-1], along)
        best = np.minimum(away, best)
    return best, along


def _waves(rng: np.random.Generator, x: FloatArray, y: FloatArray, span_m: float) -> FloatArray:
    """Return smooth noise of unit height whose hills lie about two ``span_m`` apart."""
    margin = MARGIN_M + 2 * span_m
    columns = int((WIDTH_M + 2 * margin) / span_m) + 3
    rows = int((HEIGHT_M + 2 * margin) / span_m) + 3
    lattice = rng.random((rows, columns)) * 2.0 - 1.0
    noise = _spline(lattice, (y + margin) / span_m, (x + margin) / span_m)
    return noise / np.std(noise)


def _spline(lattice: FloatArray, row: FloatArray, column: FloatArray) -> FloatArray:
    """Return the cubic B-spline over a lattice at every crossing of ``row`` and ``column``."""
    return _spline_rows(_spline_rows(lattice, row).T, column).T


def _spline_rows(lattice: FloatArray, at: FloatArray) -> FloatArray:
    """Return the lattice's rows blended at the fractional rows ``at``; the edge rows run on."""
    base = np.floor(at).astype(np.int64)
    t = (at - base)[:, None]
    weights = ((1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3)
    last = lattice.shape[0] - 1
    blended = np.zeros((at.size, lattice.shape[1]))
    for shift, weight in zip((-1, 0, 1, 2), weights, strict=True):
        blended += weight * lattice[np.clip(base + shift, 0, last)]
    return blended / 6.0


def _drain(
    rng: np.random.Generator, height: FloatArray, outlet: tuple[int, int]
) -> tuple[list[int], list[int]]:
    """Return the cells in the order water climbs from the outlet, and where each cell drains to.

    Hollows are filled on the way (priority flood), so that every cell drains to the outlet; a cell
    with lower ground beside it drains down the steepest way, give or take a stone in that way.
    """
    rows, columns = height.shape
    level = height.ravel().tolist()
    receiver = [-1] * len(level)
    first = outlet[0] * columns + outlet[1]
    receiver[first] = first
    waiting = [(level[first], first)]
    order = []
    while waiting:
        here_level, here = heapq.heappop(waiting)
        order.append(here)
        row, column = divmod(here, columns)
        for dr, dc in NEIGHBOURS:
            if 0 <= row + dr < rows and 0 <= column + dc < columns:
                there = here + dr * columns + dc
                if receiver[there] < 0:
                    receiver[there] = here
                    level[there] = max(level[there], here_level + 1e-4)
                    heapq.heappush(waiting, (level[there], there))
    filled = np.pad(np.array(level).reshape(height.shape), 1, constant_values=np.inf)
    steepest = np.zeros(height.shape)
    for dr, dc in NEIGHBOURS:
        there = filled[1 + dr : 1 + dr + rows, 1 + dc : 1 + dc + columns]
        fall = (filled[1:-1, 1:-1] - there) / np.hypot(dr, dc)
        fall *= 0.55 + 0.9 * rng.random(height.shape)
        for cell in np.flatnonzero(fall > steepest).tolist():
            receiver[cell] = cell + dr * columns + dc
        steepest = np.maximum(fall, steepest)
    receiver[first] = first
    return order, receiver


def _area(order: list[int], receiver: list[int], shape: tuple[int, ...]) -> list[float]:
    """Return what drains through each cell, the beck coming in from above [m2]."""
    _, y = _grid(COARSE_M, MARGIN_M)
    area = [COARSE_M**2] * len(order)
    area[int(np.argmin(np.abs(y - BECK[0][1]))) * shape[1]] += BECK_AREA_M2
    for cell in reversed(order):
        if receiver[cell] != cell:
            area[receiver[cell]] += area[cell]
    return area


def _wear(
    height: FloatArray, area: list[float], order: list[int], receiver: list[int]
) -> FloatArray:
    """Return the ground after one round: lifted, cut by running water, and crept downhill.

    Water cuts in proportion to the fall and to the root of the area that drains through; solved
    upwards from the outlet, one round may be long without cutting below the ground downstream.
    """
    columns = height.shape[1]
    level = height.ravel().tolist()
    for cell in order:
        to = receiver[cell]
        if to != cell:
            straight = (cell - to) % columns == 0 or abs(cell - to) == 1
            step = COARSE_M if straight else COARSE_M * 1.4142135623730951
            cut = CUT * area[cell] ** 0.5 / step
            level[cell] = (level[cell] + LIFT_M + cut * level[to]) / (1.0 + cut)
    worn = np.array(level).reshape(height.shape)
    around = np.pad(worn, 1, mode="edge")
    mean = (around[:-2, 1:-1] + around[2:, 1:-1] + around[1:-1, :-2] + around[1:-1, 2:]) / 4.0
    crept: FloatArray = worn + CREEP * (mean - worn)
    return crept


def _refine(height: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the coarse ground on the raster's own cells, rounded by a spline."""
    coarse_x, coarse_y = _grid(COARSE_M, MARGIN_M)
    return _spline(height, (coarse_y[0] - y) / COARSE_M, (x - coarse_x[0]) / COARSE_M)


def _roughness(rng: np.random.Generator, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return knolls, hummocks and stones [m]."""
    rough = np.zeros((y.size, x.size))
    for span, depth in ((55.0, 0.25), (28.0, 0.09), (14.0, 0.04), (7.0, 0.02)):
        rough += depth * _waves(rng, x, y, span)
    return rough


def _lay_terrace(fine: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the ground with the terrace of the powerhouse, running out into the slope around."""
    away = np.hypot(x[None, :] - TERRACE[0], y[:, None] - TERRACE[1])
    share = np.clip(2.0 - away / TERRACE_RADIUS_M, 0.0, 1.0)
    share = share**2 * (3.0 - 2.0 * share)
    levelled: FloatArray = fine + 0.95 * share * (TERRACE_LEVEL_M - fine)
    return levelled


def _cut_channels(
    fine: FloatArray, x: FloatArray, y: FloatArray, area: list[float], receiver: list[int]
) -> FloatArray:
    """Return the ground with a channel along every course, the deeper the more water runs in it."""
    coarse_x, coarse_y = _grid(COARSE_M, MARGIN_M)
    rows, columns = np.divmod(np.arange(len(area)), coarse_x.size)
    places = np.column_stack([coarse_x[columns], coarse_y[rows]])
    wet = [cell for cell in range(len(area)) if area[cell] > SPRING_M2]
    main: dict[int, int] = {}  # the greatest of the courses that meet in a cell
    for cell in sorted(wet, key=lambda cell: area[cell]):
        if receiver[cell] != cell:
            main[receiver[cell]] = cell
    for _ in range(3):  # a course rounds the corners of the cells it was found in
        rounded = places.copy()
        for cell in wet:
            above, below = main.get(cell, cell), receiver[cell]
            rounded[cell] = (places[above] + 2.0 * places[cell] + places[below]) / 4.0
        places = rounded
    depth = np.zeros_like(fine)
    for cell in wet:
        flow = np.log10(area[cell] / SPRING_M2)
        width, deep = 3.5 + 2.0 * flow, 0.5 + 1.1 * flow
        course = places[[cell, receiver[cell]]]
        if np.array_equal(course[0], course[1]):
            continue
        low, high = course.min(axis=0) - 3 * width, course.max(axis=0) + 3 * width
        at_x = np.flatnonzero((x > low[0]) & (x < high[0]))
        at_y = np.flatnonzero((y > low[1]) & (y < high[1]))
        if at_x.size and at_y.size:
            away, _ = _nearest(course, x[at_x][None, :], y[at_y][:, None])
            block = np.ix_(at_y, at_x)
            depth[block] = np.maximum(depth[block], deep * np.exp(-((away / width) ** 2)))
    return fine - depth


def write_terrain(path: Path, elevation: NDArray[np.float32]) -> None:
    """Write the terrain as a GeoTIFF that states its system, unit and vertical datum."""
    import rasterio
    from rasterio import Affine

    profile: dict[str, Any] = {
        "driver": "GTiff",
        "dtype": "float32",
        "count": 1,
        "height": elevation.shape[0],
        "width": elevation.shape[1],
        "crs": CRS,
        "transform": Affine(CELL_M, 0.0, WEST_M, 0.0, -CELL_M, SOUTH_M + HEIGHT_M),
        "nodata": -9999.0,
        "tiled": True,
        "blockxsize": 128,
        "blockysize": 128,
        "compress": "deflate",
        "predictor": 3,
        "zlevel": 9,
    }
    with rasterio.open(path, "w", **profile) as raster:
        raster.write(elevation, 1)
        raster.units = ("metre",)
        raster.set_band_description(1, "ground elevation")
        raster.update_tags(**TAGS)


if __name__ == "__main__":
    write_terrain(Path(__file__).with_name("otterfell.tif"), make_terrain())
