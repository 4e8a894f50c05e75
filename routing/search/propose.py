"""The proposals between two places: the best line and real alternatives, each a full study."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache
from itertools import combinations
from queue import SimpleQueue
from typing import Any, NamedTuple

import numpy as np
import shapely

from routing.abreast import abreast
from routing.arrays import FloatArray, IntArray
from routing.search.bans import bed_cells
from routing.search.beds import beds_met
from routing.search.ends import End, choose_ends, places_along
from routing.search.graph import Field, Terms, graph_of
from routing.search.grid import MOST_CELLS, Place
from routing.search.hillside import find_hillside
from routing.search.lines import (
    Line,
    Parts,
    Way,
    improved,
    laid,
    lower_bound,
    strained,
    way_beside,
    way_over,
)
from routing.search.settle import settled
from routing.search.site import Site, find_site
from routing.search.tidy import tidied
from routing.search.told import ends_note, faulted, names_of, notes_on, told_of
from routing.search.why import no_line
from routing.settings import Settings
from routing.terrain import Terrain
from routing.value import dataclass

__all__ = ["Proposals", "apart_m", "propose"]

Report = Callable[[float, str], None]
"""Tells how far the work is, from 0 to 1, and what it is doing."""


class Search(NamedTuple):
    """The ground to weave on, what legs are priced by, and the way beside which to weave."""

    field: Field
    terms: Terms
    parts: Parts


class Candidate(NamedTuple):
    """A line laid with its vents and drains, and the search that would weave it once more."""

    line: Line
    again: Search


TRIES = 12
"""Studies that may be spent on the corners of the best line; each other line gets a quarter [-]."""
DEARER = 1.6
"""Strain on the ground near a line that is already proposed [-]."""
MORE_WAYS = 1
"""Ways sought beyond those wanted, as some turn out alike [-]."""
FEWEST = 3
"""Lines that are looked for at the least, if need be nearer to each other [-]."""
TURNS_DEARER = 3.0
"""By how much vents and drains are dearer in a search for few of them [-]."""
CROSSINGS_DEARER = 8.0
"""By how much crossings are dearer in a search for few of them [-]."""
WEAVERS = 2
"""Threads that weave while others are laid; the loops are free of the interpreter's lock [-]."""
NEAREST_CELLS = 2.0
"""Least distance of two lines that count as different [cells]."""
TIGHTER = 3
"""Times that the hydraulic line is drawn anew for the length of the line found [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposals:
    """The lines found, those without a fault first and of these the cheapest; what was known.

    ``stream_beds`` says where each line meets streams that only the raster shows (see
    :func:`.beds_met`). ``names`` says what each line is best at, ``differs_m`` its mean distance
    from the nearest other one, NaN where it is alone; no two are nearer than ``apart_m``. ``bound``
    is the least that any line can cost, by the graph's prices, over the cost of the first.
    """

    site: Site
    apart_m: float
    lines: tuple[Line, ...]
    stream_beds: tuple[int | None, ...]
    names: tuple[str, ...]
    differs_m: tuple[float, ...]
    bound: float
    notes: tuple[str, ...]


def propose(
    terrain: Terrain,
    start: End,
    end: End,
    settings: Settings | None = None,
    *,
    report: Report | None = None,
    most_cells: int = MOST_CELLS,
    tries: int = TRIES,
    copies: int = 0,
) -> Proposals:
    """Return the least-cost lines between two places, each laid, judged and priced by a study.

    Parameters
    ----------
    terrain : Terrain
        The raster
    start, end : End
        Intake and powerhouse [deg]; of a stretch of a stream the best place is chosen
    settings : Settings, optional
        What the study is told; its [search] says what lines must keep to
    report : callable, optional
        Is told how far the work is
    most_cells, tries : int
        Cells of the search's grid, studies spent on the corners of the best line [-]
    copies : int
        Copies of this process that may help, where it can be copied [-]

    Returns
    -------
    Proposals
        At least one line

    Raises
    ------
    NoLine
        If closed ground, levels or pressures leave no line; says what stands in the way.
    OutsideTerrain, InputError
        If an end cannot be used.
    """
    told = settings or Settings()
    say = report or (lambda _share, _doing: None)
    say(0.02, "reading the ground")
    beds = None
    if not any(each.kind == "stream" for each in told.layer):
        beds = bed_cells(terrain, told.catchment.threshold)
    starts, ends = (places_along(terrain, each, told) for each in (start, end))
    if len(starts) > 1 or len(ends) > 1:
        say(0.04, "choosing the ends")
        starts, ends = ((each,) for each in choose_ends(terrain, starts, ends, told, beds=beds))
    places = (*starts, *told.search.through, *ends)
    site, first = _first(terrain, places, told, beds, say, most_cells)
    pool = [first, *_others(site, first.line, say)]
    chosen, apart = _different(site, pool, told.search.alternatives)
    full = _finished(site, chosen, apart, tries, copies, say)
    met = tuple(beds_met(terrain, told, line.route) for line in full)
    return Proposals(
        site=site,
        apart_m=apart,
        lines=tuple(full),
        stream_beds=met,
        names=names_of(full, [beds or 0 for beds in met]),
        differs_m=_nearest_m(site, full),
        bound=min(lower_bound(site) / full[0].cost, 1.0) if full[0].cost > 0.0 else 0.0,
        notes=(
            *ends_note(site, (start, end)),
            *notes_on(site, told),
            *told_of(site, full, apart),
        ),
    )


def _finished(
    site: Site, chosen: Sequence[Candidate], apart: float, tries: int, copies: int, say: Report
) -> list[Line]:
    """Return lines made as cheap as they get, each with its full study; the best first.

    A line is kept as it was chosen where it would come too near another one.
    """

    def better(at: int) -> Line:
        line = _woven_again(site, chosen[at])
        field = site.field()
        return tidied(site, field, improved(site, field, line, tries if at == 0 else tries // 4))

    def told(at: int) -> None:
        say(0.7 + 0.3 * at / len(chosen), f"studying line {at + 1} of {len(chosen)}")

    lines = abreast(better, len(chosen), copies, lambda at: say(0.6 + 0.02 * at, "improving lines"))
    for at in reversed(range(len(lines))):
        points, others = lines[at].way.points, [*lines[:at], *lines[at + 1 :]]
        if any(apart_m(site, points, each.way.points) < apart for each in others):
            lines[at] = chosen[at].line
    full = abreast(lambda at: settled(site, lines[at]), len(lines), copies, told)
    open_ = [line for line in full if not line.barred]  # the full study may see more
    if not open_:
        raise faulted(site, full[0])
    return sorted(open_, key=lambda line: (len(set(line.faults)), line.cost))


def _first(
    terrain: Terrain,
    places: Sequence[Place],
    settings: Settings,
    beds: tuple[IntArray, IntArray] | None,
    say: Report,
    most_cells: int,
) -> tuple[Site, Candidate]:
    """Return the site and the cheapest line on it that has no fault which bars it.

    The hydraulic line falls with the length of the pipe, known only once a line is found: where
    that line is faulted, ground is closed anew for a line of its length.
    """
    detour, last = 1.0, None
    hillside = find_hillside(terrain, places, settings, beds=beds, most_cells=most_cells)
    for again in range(TIGHTER + 1):
        site = find_site(hillside, places, detour=detour)
        if site.outlet_m >= site.intake_m:
            raise no_line(site)
        field = site.field()
        say(0.08 + 0.05 * again, "seeking the line of least cost")
        parts = way_over(site, graph_of(field, site.terms, site.moves))
        if parts is None:
            raise no_line(site)
        way, parts = way_beside(site, field, site.terms, parts)
        found = Candidate(laid(site, way), Search(field, site.terms, parts))
        last = _woven_again(site, found) if found.line.barred else found.line
        if not last.barred:
            return site, found._replace(line=last)
        detour *= 1.05 * float(last.study.line.slope_station_m[-1]) / (site.straight_m * detour)
        detour = max(detour, 1.0)
    assert last is not None
    raise faulted(site, last)


def _woven_again(site: Site, found: Candidate) -> Line:
    """Return the line woven once more beside itself, where that makes it better."""
    way, _ = way_beside(site, *found.again)
    return min(found.line, laid(site, way), key=lambda line: (len(line.barred), line.cost))


def _others(site: Site, first: Line, say: Report) -> Iterator[Candidate]:
    """Yield further lines without a bar: by the searches of :func:`_searches`.

    While one line is laid the next ones are sought by another thread, and woven by further ones.
    """
    under_way: SimpleQueue[Future[tuple[Way, Search]] | None] = SimpleQueue()

    def beside(search: Search) -> tuple[Way, Search]:
        way, parts = way_beside(site, *search)
        return way, search._replace(parts=parts)

    def seek() -> None:
        try:
            for search in _searches(site, first):
                under_way.put(pool.submit(beside, search))
        finally:
            under_way.put(None)

    with ThreadPoolExecutor(1 + WEAVERS) as pool:
        seeking = pool.submit(seek)
        for at, found in enumerate(iter(under_way.get, None)):
            way, again = found.result()
            say(min(0.3 + 0.03 * at, 0.6), f"comparing line {at + 2}")
            line = laid(site, way)
            if not line.barred:
                yield Candidate(line, again)
        seeking.result()


def _searches(site: Site, first: Line) -> Iterator[Search]:
    """Yield ways to look beside: with few fittings, short, with few crossings, off earlier ones.

    On the graph vents and drains are free here: a bump between two cells is seen there, and not how
    far a summit stands out. The legs are priced with them.
    """
    field, terms = site.field(), site.terms
    free = terms._replace(vent=0.0, drain=0.0)
    few = terms._replace(vent=TURNS_DEARER * terms.vent, drain=TURNS_DEARER * terms.drain)
    short = free._replace(bench=0.0, steep_factor=1.0)
    graph = graph_of(field, free, site.moves)
    parts = way_over(site, graph)
    if parts is not None:
        yield Search(field, terms, parts)
        yield Search(field, few, parts)
    asked = [(field._replace(by_head=np.full_like(field.by_head, field.by_head.mean())), short)]
    if field.extra.any():
        asked.append((field._replace(extra=CROSSINGS_DEARER * field.extra), terms))
    for dear, legs in asked:
        seek = legs._replace(vent=0.0, drain=0.0)
        parts = way_over(site, graph_of(dear, seek, site.moves))
        if parts is not None:
            yield Search(dear, legs, parts)
    strain, within_m = field.strain, 2.0 * site.apart_m
    seen = [first.way.points]
    for _ in range(site.settings.search.alternatives + MORE_WAYS):
        strain = strained(site, strain, seen[-1], within_m, DEARER)
        parts = way_over(site, graph._replace(strain=strain.reshape(-1)))
        if parts is None:
            return
        yield Search(field._replace(strain=strain), terms, parts)
        points = np.vstack(parts.points)
        # In a narrow valley there is no room to keep far off: then less must do.
        if min(apart_m(site, points, each) for each in seen) < site.apart_m:
            within_m = max(0.5 * within_m, 2.0 * site.grid.cell_m)
        seen.append(points)


def _different(site: Site, pool: Sequence[Candidate], wanted: int) -> tuple[list[Candidate], float]:
    """Return the cheapest lines no two of which are alike, and how far apart they are at least.

    Where the ground leaves room for fewer than three, a lesser distance counts as different, down
    to two cells of the search.
    """
    ranked = sorted(pool, key=lambda found: found.line.cost)
    apart, least = site.apart_m, NEAREST_CELLS * site.grid.cell_m

    @cache
    def between(one: int, other: int) -> float:
        return apart_m(site, *(ranked[at].line.way.points for at in (one, other)))

    while True:
        taken: list[int] = []
        for at in range(len(ranked)):
            if all(between(at, other) >= apart for other in taken):
                taken.append(at)
        lines = [ranked[at] for at in taken]
        if len(lines) >= min(wanted, FEWEST) or apart <= least:
            return lines[:wanted], apart
        apart = max(0.5 * apart, least)


def _nearest_m(site: Site, lines: Sequence[Line]) -> tuple[float, ...]:
    """Return how far each line is from the nearest other one, NaN for one that is alone [m]."""
    nearest = [float("nan")] * len(lines)
    for one, other in combinations(range(len(lines)), 2):
        away = apart_m(site, lines[one].way.points, lines[other].way.points)
        nearest[one], nearest[other] = (np.fmin(nearest[at], away) for at in (one, other))
    return tuple(map(float, nearest))


def apart_m(site: Site, one: FloatArray, other: FloatArray) -> float:
    """Return how far two lines are apart: the mean distance of one's points from the other.

    Parameters
    ----------
    site : Site
        Whose grid the corners count in
    one, other : FloatArray, shape (n, 2)
        Rows and columns of the corners of each line [cells]

    Returns
    -------
    apart : float
        Taken every half cell along each line to the points of the other; the greater of the two [m]
    """
    first, second = (shapely.points(_walked(site, points)) for points in (one, other))
    return max(_mean_away(first, second), _mean_away(second, first))


def _mean_away(points: Any, others: Any) -> float:
    tree = shapely.STRtree(others)
    _, away = tree.query_nearest(points, return_distance=True, all_matches=False)
    return float(away.mean())


def _walked(site: Site, corners: FloatArray) -> FloatArray:
    """Return points along a line, half a cell of the search apart [m]."""
    scale = np.array([site.grid.south_m, site.grid.east_m])
    points = corners * scale
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0.0, along[-1], max(2, int(2.0 * along[-1] / site.grid.cell_m)))
    return np.column_stack([np.interp(at, along, points[:, k]) for k in (0, 1)])
