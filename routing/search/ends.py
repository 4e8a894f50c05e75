"""Ends that the search chooses itself: places along stretches of a stream, tried in pairs.

The least cost over the moves of the graph without turns, summits and sags is never more than that
with them, so that pairs are priced in full in the order of that bound, and only until the next
bound is no better than the best pair: the pair found is the best of all. Each pair is priced with
the pipe that its own length and fall ask for; pairs from one start that ask for the same pipe share
a graph.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from routing.arrays import IntArray
from routing.catchment import reach_between
from routing.catchment_study import followed, snap_distance_m
from routing.errors import InputError, PipeError
from routing.flow import capital_recovery_factor
from routing.flow.power import find_turbine
from routing.search.cheapest import least_cost, least_to_go
from routing.search.graph import Graph, graph_of
from routing.search.grid import Place
from routing.search.hillside import Hillside, find_hillside
from routing.search.prices import PriceBook
from routing.search.site import Site, find_site, intake_level_m, outlet_level_m
from routing.search.why import no_line
from routing.settings import Settings
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
    """Two ends and what a search between them knows; ``bound`` is the least its score can be."""

    bound: float
    site: Site
    graph: Graph
    head_m: float


class Group(NamedTuple):
    """Pairs from one start whose graphs are alike: the same pipe, and the same cells open."""

    site: Site
    graph: Graph


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
    if flow is None or book.currency is None:
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
    InputError, PipeError
        If every pair is refused: ends in one place, no pipe that holds and carries enough.
    """
    around = (*starts, *settings.search.through, *ends)
    hillside = find_hillside(terrain, around, settings, beds=beds, most_cells=most_cells)
    worth = worth_of_head(settings, hillside.book)
    pairs = sorted(_bounded(hillside, starts, ends, worth), key=lambda pair: pair.bound)
    best: tuple[float, Site] | None = None
    for pair in pairs:
        if best is not None and pair.bound >= best[0]:
            break
        cost = _in_full(pair.site, pair.graph)
        found = score(cost, pair.head_m, worth)
        if np.isfinite(cost) and (best is None or found < best[0]):
            best = found, pair.site
    if best is None:
        raise no_line(find_site(hillside, (starts[0], *settings.search.through, ends[-1])))
    return best[1].places[0], best[1].places[-1]


def _bounded(
    hillside: Hillside, starts: Sequence[Place], ends: Sequence[Place], worth: float | None
) -> Iterator[Pair]:
    """Yield the pairs between which a way may lead, each with the bound of its score.

    A pair that is refused is left out; the first refusal is raised where all are.
    """
    refused, taken = None, False
    for start in starts:
        groups: list[Group] = []
        for end in ends:
            cells = [hillside.grid.cell_of(place) for place in (start, end)]
            head = intake_level_m(hillside, cells[0]) - outlet_level_m(hillside, cells[1])
            if head <= 0.0:
                taken = True
                continue
            try:
                site = find_site(hillside, (start, *hillside.settings.search.through, end))
            except (InputError, PipeError) as error:
                refused = refused or error
                continue
            taken = True
            graph = _group_of(groups, site).graph
            cost = _bound(site, graph)
            if np.isfinite(cost):
                yield Pair(score(cost, head, worth), site, graph, head)
    if refused is not None and not taken:
        raise refused


def _group_of(groups: list[Group], site: Site) -> Group:
    """Return the group whose graph is that of a site, made anew where there is none yet."""
    for group in groups:
        if site.ladder == group.site.ladder and np.array_equal(site.shut, group.site.shut):
            return group
    groups.append(Group(site, graph_of(site.field(), site.terms, site.moves)))
    return groups[-1]


def _bound(site: Site, graph: Graph) -> float:
    """Return the least cost over the graph without turns, summits and sags [money]."""
    cols = site.grid.shape[1]
    return sum(
        float(least_to_go(graph, cols, np.array([there], dtype=np.int64), here)[here])
        for here, there in pairwise(site.stops)
    )


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
