"""Lines between two places: sought on the graph, laid by the study, improved by its true cost."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import reduce
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.line import Route, geodesic_stations
from routing.search.cheapest import least_cost, least_to_go
from routing.search.graph import Field, Graph, Terms, graph_of
from routing.search.legs import bench_price, bends_price, ground_at, line_price
from routing.search.site import Site
from routing.search.smooth import smoothed
from routing.search.sunk import sunk_limits
from routing.search.weave import woven
from routing.settings import settings_from_mapping
from routing.study import Study, run_study
from routing.value import dataclass

__all__ = [
    "BARRED",
    "Line",
    "Parts",
    "Way",
    "deepest_head",
    "improved",
    "laid",
    "lower_bound",
    "strained",
    "way_beside",
    "way_over",
]

BARRED = frozenset(
    {"no_go_crossed", "above_intake", "uphill", "no_fall", "siphon", "ground_too_steep"}
)
"""Findings of severity "fault" that no proposal may have; others are shown and judged."""
SUNK = frozenset({"above_intake", "siphon"})
"""Those that a deeper trench may mend."""
PLACE_DECIMALS = 8
"""Decimals of longitude and latitude of a proposal, about a millimetre; files hold all of them."""
WORSE = 1.02
"""A move that the graph's prices make dearer than this is not studied [-]."""
NUDGE = 0.75
"""First step of the moves that the study judges, in cells of the search [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A line in rows and columns of the search's grid, the legs that are bridges, its price."""

    points: FloatArray
    hung: BoolArray
    fixed: BoolArray
    """Points that stay: ends, places to pass through, ends of bridges."""
    price: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A proposal: its way, the route, the tables of settings it is studied with, study and cost.

    ``sharp`` says that a corner leaves no room for an arc of the least radius.
    """

    way: Way
    route: Route
    tables: dict[str, Any]
    study: Study
    cost: float
    sharp: bool

    @property
    def barred(self) -> tuple[str, ...]:
        """Faults that no proposal may have, by their codes."""
        found = self.study.findings
        codes = (each.code for each in found if each.severity == "fault" and each.code in BARRED)
        return (*codes, *(("sharp",) if self.sharp else ()))

    @property
    def faults(self) -> tuple[str, ...]:
        """All faults that its study knows, by their codes."""
        return tuple(each.code for each in self.study.findings if each.severity == "fault")


class Parts(NamedTuple):
    """The way over cells from each stop to the next: corners as rows and columns, and bridges."""

    points: tuple[FloatArray, ...]
    hung: tuple[BoolArray, ...]


def way_over(site: Site, graph: Graph) -> Parts | None:
    """Return the least-cost way over the cells of a graph through all stops; None if none is."""
    cols, points, legs = site.grid.shape[1], [], []
    for at, guide in enumerate(_guides(site, graph)):
        start, end = site.stops[at], np.array(site.stops[at + 1 : at + 2], dtype=np.int64)
        found = least_cost(graph, cols, guide, start, end)
        if found is None:
            return None
        hung = np.zeros(found.cells.size - 1, dtype=np.bool_)
        hung[[first for first, _ in found.spans]] = True
        points.append(_with_ends(site, found.cells, at))
        legs.append(hung)
    return Parts(tuple(points), tuple(legs))


def way_beside(site: Site, field: Field, terms: Terms, parts: Parts) -> tuple[Way, Parts]:
    """Return the line of few legs beside a way, and its parts; ``terms`` price the legs."""
    ways = []
    for points, hung in zip(*parts, strict=True):
        points, hung = woven(site.ground, field, terms, points, hung)
        points, hung, price = smoothed(site.ground, field, terms, points, hung)
        ways.append(Way(points=points, hung=hung, fixed=_held(hung), price=price))
    found = Parts(tuple(each.points for each in ways), tuple(each.hung for each in ways))
    return reduce(_joined, ways), found


def _held(hung: BoolArray) -> BoolArray:
    """Return which points are ends of the line or of a bridge."""
    held: BoolArray = np.append(hung, True) | np.append(True, hung)
    return held


def _joined(one: Way, other: Way) -> Way:
    """Return two ways in a row as one."""
    return Way(
        points=np.vstack([one.points, other.points[1:]]),
        hung=np.append(one.hung, other.hung),
        fixed=np.append(one.fixed, other.fixed[1:]),
        price=one.price + other.price,
    )


def _with_ends(site: Site, cells: IntArray, at: int) -> FloatArray:
    """Return the way with its ends at the places themselves and not at the centres of cells."""
    points = np.column_stack(np.divmod(cells, site.grid.shape[1])).astype(np.float64)
    lon, lat = np.array(site.places[at : at + 2]).T
    row, col = site.grid.nodes(lon, lat)
    ends = np.column_stack([row, col])
    return np.vstack([ends[:1], points[1:-1], ends[1:]])


def _guides(site: Site, graph: Graph) -> Iterator[NDArray[np.float32]]:
    """Yield the least cost to go to each stop after the first, as far as the one before [money]."""
    for start, end in pairwise(site.stops):
        yield least_to_go(graph, site.grid.shape[1], np.array([end], dtype=np.int64), start)


def lower_bound(site: Site) -> float:
    """Return what no line through the stops can cost less than, by the graph's prices [money].

    The least cost over cells without bends, summits and sags, divided by the most that 16 headings
    lengthen a straight line; and the fittings that every line has: a vent below the intake, a vent
    and a drain at its end.
    """
    # A study does not price steepness, so that the bound does not either.
    terms = site.terms._replace(steep_factor=1.0)
    graph = graph_of(site.field(), terms, site.moves)
    total = sum(float(guide[site.stops[at]]) for at, guide in enumerate(_guides(site, graph)))
    return total / _lengthened(site) + 2.0 * site.book.vent + site.book.drain


def _lengthened(site: Site) -> float:
    """Return the most by which the way over 16 headings is longer than the straight line [-]."""
    x = np.append(site.moves.col, site.moves.col[0]) * site.grid.east_m
    y = np.append(site.moves.row, site.moves.row[0]) * site.grid.south_m
    length = np.hypot(x, y)
    most = 1.0
    for at in range(16):
        share = np.linspace(0.0, 1.0, 101)
        way = share * length[at] + (1.0 - share) * length[at + 1]
        straight = np.hypot(
            share * x[at] + (1.0 - share) * x[at + 1], share * y[at] + (1.0 - share) * y[at + 1]
        )
        most = max(most, float((way / straight).max()))
    return most


def laid(
    site: Site, way: Way, *, full: bool = False, pipes: Sequence[Mapping[str, Any]] | None = None
) -> Line:
    """Return a way as a line that the study has laid, with its cost.

    Unless ``pipes`` are given as [[pipe]] tables they are put in by the head at rest. Where the
    pipe would lie above its hydraulic line the trench is dug deeper, if that mends it.
    """
    lon, lat = site.grid.places(way.points[:, 0], way.points[:, 1])
    lon, lat = np.round(lon, PLACE_DECIMALS), np.round(lat, PLACE_DECIMALS)
    lon[0], lat[0] = site.places[0]
    lon[-1], lat[-1] = site.places[-1]
    route = Route(name="proposal", lon=lon, lat=lat)
    tables = dict(site.tables)
    if way.hung.any():
        tables["trench"] = {**tables.get("trench", {}), "span": _spans(route, way)}
    if site.ladder.varies:
        tables["pipe"] = pipes or site.ladder.runs(*deepest_head(site, route, way))
    line = _studied(site, way, route, tables, full=full)
    if SUNK.intersection(line.barred) and (deeper := sunk_limits(line.study)):
        dug = {**tables, "trench": {**tables.get("trench", {}), "limit": deeper}}
        sunk = _studied(site, way, route, dug, full=full)
        if len(sunk.barred) < len(line.barred):
            return sunk
    return line


def _studied(site: Site, way: Way, route: Route, tables: dict[str, Any], *, full: bool) -> Line:
    """Return a line with the study that its tables of settings ask for."""
    settings = settings_from_mapping(tables)
    study = run_study(site.terrain, route, settings, window=site.grid.window, pressures=full)
    return Line(
        way=way,
        route=route,
        tables=tables,
        study=study,
        cost=_cost(site, study, way),
        sharp=bool(site.ground.radius_m > 0.0 and np.isinf(bends_price(site.ground, way.points))),
    )


def deepest_head(site: Site, route: Route, way: Way) -> tuple[FloatArray, FloatArray]:
    """Return stations along a line and the most head at rest that the pipe may have there [m]."""
    station = geodesic_stations(route.lon, route.lat)
    at = np.linspace(0.0, station[-1], max(2, int(2.0 * station[-1] / site.grid.cell_m)))
    row, col = (np.interp(at, station, way.points[:, k]) for k in (0, 1))
    ground = ground_at(site.ground, row, col)
    return at, site.intake_m - ground + site.limits.max_depth_m


def _cost(site: Site, study: Study, way: Way) -> float:
    """Return the cost of a line: the study's own, with bridges, benches, crossings, assumed pipe.

    The study itself prices pipe, joints, trench, vents, drains and crossings [money].
    """
    line, book = study.line, site.book
    bench = bench_price(site.ground, site.terms, way.points, way.hung) / book.bench_m3
    total = book.of_study(study, bench)
    total += _tolls(site, way)
    if site.ladder.kind == "assumed":
        by_head = site.ladder.by_head(max(float(line.static_head_m.max()), 1.0))
        head = 0.5 * (line.static_head_m[:-1] + line.static_head_m[1:])
        at = np.clip(head.astype(np.int64), 0, by_head.size - 1)
        total += float(np.sum(by_head[at] * np.diff(line.slope_station_m)))
    return total


def _tolls(site: Site, way: Way) -> float:
    """Return what land costs that is in no bill, by the cells that a line passes [money]."""
    scale = np.array([site.grid.south_m, site.grid.east_m])
    total = 0.0
    for a, b in pairwise(way.points):
        length = float(np.hypot(*((b - a) * scale)))
        count = max(1, int(4.0 * length / site.grid.cell_m))
        share = (np.arange(count) + 0.5)[:, None] / count
        row, col = np.rint(a + share * (b - a)).astype(np.int64).T
        rows, cols = site.grid.shape
        tolls = site.beside[np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1)]
        total += length * float(tolls.mean())
    return total


def _spans(route: Route, way: Way) -> list[dict[str, str]]:
    """Return the [[trench.span]] tables of a line's bridges."""
    station = geodesic_stations(route.lon, route.lat)
    return [
        {"from": f"{station[at]:.2f} m", "to": f"{station[at + 1]:.2f} m"}
        for at in np.flatnonzero(way.hung).tolist()
    ]


def improved(site: Site, field: Field, line: Line, tries: int) -> Line:
    """Return a line whose corners were moved as long as its study says that it costs less.

    At most ``tries`` studies are made; each corner in turn is moved across the line.
    A move into closed ground, or one that brings a fault no proposal may have, is never taken.
    """
    reach, left = NUDGE, tries
    least = line_price(site.ground, field, site.terms, line.way.points, line.way.hung)
    while left > 0 and reach > 0.2:
        better = False
        for at in range(line.way.points.shape[0] - 2, 0, -1):
            if line.way.fixed[at]:
                continue
            for way in _nudges(line.way, at, reach):
                if left <= 0:
                    break
                price = line_price(site.ground, field, site.terms, way.points, way.hung)
                if price > WORSE * least:
                    continue
                left -= 1
                tried = laid(site, way)
                if not tried.barred and tried.cost < line.cost * (1.0 - 1e-6):
                    line, better = tried, True
                    break
        if not better:
            reach *= 0.5
    return line


def _nudges(way: Way, at: int, reach: float) -> list[Way]:
    """Return the way with one corner moved to either side."""
    points = way.points
    along = points[at + 1] - points[at - 1]
    size = float(np.hypot(*along))
    if size == 0.0:
        return []
    across = np.array([-along[1], along[0]]) / size * reach
    ways = []
    for sign in (1.0, -1.0):
        moved = points.copy()
        moved[at] += sign * across
        ways.append(replace(way, points=moved))
    return ways


def strained(
    site: Site, strain: NDArray[np.float32], points: FloatArray, within_m: float, factor: float
) -> NDArray[np.float32]:
    """Return the strain with the ground near a line made dearer.

    Parameters
    ----------
    site : Site
        What the search knows of the ground
    strain : NDArray of float32, shape (rows, columns)
        Factors on the price so far [-]
    points : FloatArray, shape (n, 2)
        Rows and columns of the line's corners [cells]
    within_m : float
        Distance from the line within which ground is made dearer [m]
    factor : float
        How much dearer, > 1 [-]

    Returns
    -------
    strain : NDArray of float32, shape (rows, columns)
        Factors on the price; those given stay as they are [-]
    """
    rows, cols = site.grid.shape
    line = np.zeros((rows, cols), dtype=np.bool_)
    for a, b in pairwise(points):
        share = np.linspace(0.0, 1.0, 2 * int(np.abs(b - a).max()) + 2)[:, None]
        cells = np.rint(a + share * (b - a)).astype(np.int64)
        line[np.clip(cells[:, 0], 0, rows - 1), np.clip(cells[:, 1], 0, cols - 1)] = True
    near = _near(line, site.grid.south_m, site.grid.east_m, within_m)
    return np.where(near, strain * np.float32(factor), strain).astype(np.float32)


def _near(cells: BoolArray, south_m: float, east_m: float, within_m: float) -> BoolArray:
    """Return the cells less than a distance from one of those given, centre to centre.

    >>> _near(np.array([[False, False, True, False]]), 1.0, 1.0, 1.5).tolist()
    [[False, True, True, True]]
    """
    rows, cols = cells.shape
    row, col = np.nonzero(cells)
    ends = np.zeros((rows, cols + 1), dtype=np.int32)
    reach = int(within_m / south_m)
    for down in range(-reach, reach + 1):
        left = within_m**2 - (down * south_m) ** 2
        there = (row + down >= 0) & (row + down < rows)
        if left <= 0.0 or not there.any():
            continue
        wide = int(np.ceil(np.sqrt(left) / east_m)) - 1
        at = row[there] + down
        np.add.at(ends, (at, np.maximum(col[there] - wide, 0)), 1)
        np.add.at(ends, (at, np.minimum(col[there] + wide + 1, cols)), -1)
    return np.asarray(np.cumsum(ends, axis=1)[:, :cols] > 0)
