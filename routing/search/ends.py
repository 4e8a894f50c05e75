"""Ends that the search chooses itself: places along stretches of a stream, tried in pairs.

The least cost over the moves of the graph without turns, summits and sags is never more than that
with them, so that pairs are priced in full in the order of that bound, and only until the next
bound is no better than the best pair: the pair found is the best of all. Where the search chooses
the pipe, it is chosen once for each start, for the last of the ends: where another end would get
another size, a pair can win that is second by what that size costs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from routing.arrays import IntArray
from routing.catchment import reach_between
from routing.flow import capital_recovery_factor
from routing.flow.power import find_turbine
from routing.search.cheapest import least_cost, least_to_go
from routing.search.graph import Graph, graph_of
from routing.search.grid import Place
from routing.search.prices import DIGGING, PriceBook
from routing.search.site import Site, end_level_m, find_site
from routing.search.why import no_line
from routing.settings import Settings
from routing.stream_study import followed, snap_distance_m
from routing.terrain import Terrain
from routing.water import water_at

__all__ = ["MOST_PLACES", "End", "Stretch", "choose_ends", "places_along", "score", "worth_of_head"]

Stretch = tuple[Place, Place]
"""Two places on one stream: an end lies anywhere along it between them."""
End = Place | Stretch

MOST_PLACES = 12
"""Places that are tried along a stretch, both its ends among them [-]."""
CHOICE_CELLS = 40_000
"""Cells of the grid on which pairs of ends are compared [-]."""


class Pair(NamedTuple):
    """Two ends, the graph from the first, and the score that the bound gives them."""

    bound: float
    start: int
    end: int
    head_m: float


def places_along(terrain: Terrain, end: End, settings: Settings) -> tuple[Place, ...]:
    """Return the places that an end may be at: itself, or cells of the stream along a stretch.

    Raises
    ------
    InputError
        If no stream is near a place of a stretch, or they do not lie on one stream.
    """
    if not isinstance(end[0], tuple):
        return ((float(end[0]), float(end[1])),)
    network = followed(terrain, settings.catchment.threshold)
    assert network is not None
    snap = settings.catchment.snap
    snap_m = snap_distance_m(terrain) if snap is None else snap
    reach = reach_between(network, end[0], end[1], snap_m=snap_m)
    count = min(reach.lon.size, MOST_PLACES)
    at = np.unique(np.rint(np.linspace(0, reach.lon.size - 1, count)).astype(np.int64))
    return tuple(zip(reach.lon[at].tolist(), reach.lat[at].tolist(), strict=True))


def worth_of_head(settings: Settings, book: PriceBook) -> float | None:
    """Return what a metre of head is worth over the life of the plant; None where not known.

    The power of the design flow under a metre of head, by the year's hours and the price of a
    kilowatt hour, as present worth [money/m].
    """
    energy, flow = settings.energy, settings.flow.design
    if flow is None or book.currency == DIGGING:
        return None
    price, hours, interest, years = (
        energy.price_per_kwh,
        energy.hours,
        energy.interest,
        energy.years,
    )
    if price is None or hours is None or interest is None or years is None:
        return None
    given = settings.turbine.efficiency
    share = find_turbine(settings.turbine.kind).water_to_wire if given is None else given
    power_kw = water_at(settings.flow.temperature).weight_n_m3 / 1000.0 * flow * share
    return power_kw * hours * price / capital_recovery_factor(interest, years)


def score(cost: float, head_m: float, worth_m: float | None) -> float:
    """Return by what ends are compared, the less the better: rising with the cost.

    Parameters
    ----------
    cost : float
        Of the line between them [money]
    head_m : float
        Fall from one to the other, > 0 [m]
    worth_m : float or None
        Worth of a metre of head [money/m]

    Returns
    -------
    score : float
        Cost less the worth of the head; cost of a metre of head where that worth is not known
    """
    return cost / head_m if worth_m is None else cost - worth_m * head_m


def choose_ends(
    terrain: Terrain,
    starts: Sequence[Place],
    ends: Sequence[Place],
    settings: Settings,
    *,
    beds: tuple[IntArray, IntArray] | None = None,
    most_cells: int = CHOICE_CELLS,
) -> tuple[Place, Place]:
    """Return the intake and the powerhouse between which a line pays best by the graph's prices.

    Parameters
    ----------
    terrain : Terrain
        The raster
    starts, ends : sequence of Place
        Where either may be [deg]
    settings : Settings
        What the study is told; places to pass through too
    beds : tuple of IntArray, optional
        Rows and columns of the raster's cells in which streams run [-]
    most_cells : int
        Most cells of the grid on which pairs are compared [-]

    Returns
    -------
    start, end : Place
        The pair of least :func:`score` among all

    Raises
    ------
    NoLine
        If no line leads from any to any.
    """
    through = settings.search.through
    around = (*starts, *through, *ends)
    sites = []
    for start in starts:
        places = (start, *through, ends[-1])
        sites.append(
            find_site(terrain, places, settings, beds=beds, most_cells=most_cells, around=around)
        )
    worth = worth_of_head(settings, sites[0].book)
    graphs = [graph_of(site.field(), site.terms, site.moves) for site in sites]
    pairs = sorted(_bounded(sites, graphs, ends, worth))
    best: tuple[float, Place, Place] | None = None
    for pair in pairs:
        if best is not None and pair.bound >= best[0]:
            break
        site = _ending(sites[pair.start], ends[pair.end])
        cost = _in_full(site, graphs[pair.start])
        found = score(cost, pair.head_m, worth)
        if np.isfinite(cost) and (best is None or found < best[0]):
            best = found, starts[pair.start], ends[pair.end]
    if best is None:
        raise no_line(sites[0])
    return best[1], best[2]


def _ending(site: Site, end: Place) -> Site:
    """Return a site whose last stop is another place."""
    return replace(
        site,
        places=(*site.places[:-1], end),
        stops=(*site.stops[:-1], site.grid.cell_of(end)),
    )


def _bounded(
    sites: Sequence[Site], graphs: Sequence[Graph], ends: Sequence[Place], worth: float | None
) -> Iterator[Pair]:
    """Yield the pairs between which a way may lead, each with the bound of its score."""
    for start, (site, graph) in enumerate(zip(sites, graphs, strict=True)):
        cols = site.grid.shape[1]
        before = sum(
            float(least_to_go(graph, cols, np.array([there], dtype=np.int64))[here])
            for here, there in pairwise(site.stops[:-1])
        )
        for end, place in enumerate(ends):
            cell = site.grid.cell_of(place)
            head = site.intake_m - end_level_m(site, cell)
            if head <= 0.0 or cell == site.stops[-2]:
                continue
            to = least_to_go(graph, cols, np.array([cell], dtype=np.int64))
            cost = before + float(to[site.stops[-2]])
            if np.isfinite(cost):
                yield Pair(score(cost, head, worth), start, end, head)


def _in_full(site: Site, graph: Graph) -> float:
    """Return the least cost over the graph through all stops, turns and fittings in it [money]."""
    cols, total = site.grid.shape[1], 0.0
    for here, there in pairwise(site.stops):
        to = np.array([there], dtype=np.int64)
        found = least_cost(graph, cols, least_to_go(graph, cols, to), here, to)
        if found is None:
            return np.inf
        total += found.cost
    return total
