"""The proposals between two places: the best line and real alternatives, each a full study."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from routing.arrays import FloatArray
from routing.errors import NoLine
from routing.search.bans import MOST_FOLLOWED, bed_cells
from routing.search.graph import Field, Terms, graph_of
from routing.search.grid import MOST_CELLS, Place
from routing.search.lines import (
    Line,
    Parts,
    Way,
    improved,
    laid,
    lower_bound,
    settled,
    strained,
    way_over,
    ways_beside,
)
from routing.search.site import Site, find_site
from routing.search.why import no_line
from routing.settings import Settings
from routing.terrain import Terrain
from routing.value import dataclass

__all__ = ["Proposals", "apart_m", "propose"]

Report = Callable[[float, str], None]
"""Tells how far the work is, from 0 to 1, and what it is doing."""
Search = tuple[Field, Terms, Parts]
"""The ground to weave on, what legs are priced by, and the way beside which to weave."""

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
TIGHTER = 3
"""Times that the hydraulic line is drawn anew for the length of the line found [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposals:
    """The lines found, the cheapest first, and what was known beforehand.

    ``names`` says what each line is best at, ``differs_m`` its mean distance from the nearest other
    one, NaN where it is alone; no two are nearer than ``apart_m``. ``bound`` is the least that any
    line can cost, by the graph's prices, over the cost of the first.
    """

    site: Site
    apart_m: float
    lines: tuple[Line, ...]
    names: tuple[str, ...]
    differs_m: tuple[float, ...]
    bound: float
    notes: tuple[str, ...]


def propose(
    terrain: Terrain,
    start: Place,
    end: Place,
    settings: Settings | None = None,
    *,
    report: Report | None = None,
    most_cells: int = MOST_CELLS,
    tries: int = TRIES,
) -> Proposals:
    """Return the least-cost lines between two places, each laid, judged and priced by a study.

    Parameters
    ----------
    terrain : Terrain
        The raster
    start, end : Place
        Intake and powerhouse [deg]
    settings : Settings, optional
        What the study is told; its [search] says what lines must keep to
    report : callable, optional
        Is told how far the work is
    most_cells, tries : int
        Cells of the search's grid, studies spent on the corners of the best line [-]

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
    places = (start, *told.search.through, end)
    site, first = _first(terrain, places, told, say, most_cells)
    pool = [first, *_others(site, first, say)]
    lines, apart = _different(site, pool, told.search.alternatives)
    full = list[Line]()
    for at, line in enumerate(lines):
        say(0.6 + 0.4 * at / len(lines), f"studying line {at + 1} of {len(lines)}")
        better = improved(site, site.field(), line, tries if at == 0 else tries // 4)
        others = (*full, *lines[at + 1 :])
        if any(apart_m(site, better.way.points, each.way.points) < apart for each in others):
            better = line
        full.append(settled(site, better))
    full.sort(key=lambda line: line.cost)
    return Proposals(
        site=site,
        apart_m=apart,
        lines=tuple(full),
        names=_names(full),
        differs_m=tuple(
            min(
                (
                    apart_m(site, line.way.points, each.way.points)
                    for each in full
                    if each is not line
                ),
                default=float("nan"),
            )
            for line in full
        ),
        bound=min(lower_bound(site) / full[0].cost, 1.0) if full[0].cost > 0.0 else 0.0,
        notes=tuple(_notes(site, told)),
    )


def _first(
    terrain: Terrain, places: Sequence[Place], settings: Settings, say: Report, most_cells: int
) -> tuple[Site, Line]:
    """Return the site and the cheapest line on it that has no fault which bars it.

    The hydraulic line falls with the length of the pipe, known only once a line is found: where
    that line is faulted, ground is closed anew for a line of its length.
    """
    beds = None
    if not any(each.kind == "stream" for each in settings.layer):
        beds = bed_cells(terrain, settings.catchment.threshold)
    detour, last = 1.0, None
    for again in range(TIGHTER + 1):
        site = find_site(terrain, places, settings, beds=beds, detour=detour, most_cells=most_cells)
        field = site.field()
        say(0.08 + 0.05 * again, "seeking the line of least cost")
        parts = way_over(site, graph_of(field, site.terms, site.moves))
        if parts is None:
            raise no_line(site)
        last = _cheapest(site, ways_beside(site, field, site.terms, parts))
        if not last.barred:
            return site, last
        detour *= 1.05 * float(last.study.line.slope_station_m[-1]) / (site.straight_m * detour)
        detour = max(detour, 1.0)
    assert last is not None
    raise _faulted(last)


def _cheapest(site: Site, ways: Sequence[Way]) -> Line:
    """Return the cheapest of some ways by its study, one without a bar before any with one."""
    lines = [laid(site, way) for way in ways]
    return min(lines, key=lambda line: (len(line.barred), line.cost))


def _others(site: Site, first: Line, say: Report) -> Iterator[Line]:
    """Yield further lines without a bar: by the searches of :func:`_searches`.

    While one line is laid the next ones are woven by another thread.
    """

    def beside(search: Search) -> tuple[Way, ...]:
        return ways_beside(site, *search)

    with ThreadPoolExecutor(WEAVERS) as pool:
        for at, ways in enumerate(pool.map(beside, _searches(site, first))):
            say(min(0.3 + 0.03 * at, 0.6), f"comparing line {at + 2}")
            line = _cheapest(site, ways)
            if not line.barred:
                yield line


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
        yield field, terms, parts
        yield field, few, parts
    asked = [(field._replace(by_head=np.full_like(field.by_head, field.by_head.mean())), short)]
    if field.extra.any():
        asked.append((field._replace(extra=CROSSINGS_DEARER * field.extra), terms))
    for dear, legs in asked:
        seek = legs._replace(vent=0.0, drain=0.0)
        parts = way_over(site, graph_of(dear, seek, site.moves))
        if parts is not None:
            yield dear, legs, parts
    strain, within_m = field.strain, 2.0 * site.apart_m
    seen = [first.way.points]
    for _ in range(site.settings.search.alternatives + MORE_WAYS):
        strain = strained(site, strain, seen[-1], within_m, DEARER)
        parts = way_over(site, graph._replace(strain=strain.reshape(-1)))
        if parts is None:
            return
        yield field._replace(strain=strain), terms, parts
        points = np.vstack(parts.points)
        # In a narrow valley there is no room to keep far off: then less must do.
        if min(apart_m(site, points, each) for each in seen) < site.apart_m:
            within_m = max(0.5 * within_m, 2.0 * site.grid.cell_m)
        seen.append(points)


def _different(site: Site, pool: Sequence[Line], wanted: int) -> tuple[list[Line], float]:
    """Return the cheapest lines no two of which are alike, and how far apart they are at least.

    Where the ground leaves room for fewer than three, a lesser distance counts as different, down
    to two cells of the search.
    """
    ranked = sorted(pool, key=lambda line: line.cost)
    apart = site.apart_m
    while True:
        lines: list[Line] = []
        for line in ranked:
            if all(apart_m(site, line.way.points, each.way.points) >= apart for each in lines):
                lines.append(line)
        if len(lines) >= min(wanted, FEWEST) or apart <= 2.0 * site.grid.cell_m:
            return lines[:wanted], apart
        apart = max(0.5 * apart, 2.0 * site.grid.cell_m)


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
    from scipy.spatial import cKDTree

    paths = [_walked(site, points) for points in (one, other)]
    trees = [cKDTree(path) for path in paths]
    there = float(trees[1].query(paths[0])[0].mean())
    back = float(trees[0].query(paths[1])[0].mean())
    return max(there, back)


def _walked(site: Site, corners: FloatArray) -> FloatArray:
    """Return points along a line, half a cell of the search apart [m]."""
    scale = np.array([site.grid.south_m, site.grid.east_m])
    points = corners * scale
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0.0, along[-1], max(2, int(2.0 * along[-1] / site.grid.cell_m)))
    return np.column_stack([np.interp(at, along, points[:, k]) for k in (0, 1)])


def _names(lines: Sequence[Line]) -> tuple[str, ...]:
    """Return what each line is best at, in words; the first is the cheapest."""

    def power(line: Line) -> float:
        flow = line.study.flow
        return -np.inf if flow is None else flow.power_kw

    measures: list[tuple[str, Callable[[Line], float]]] = [
        ("Cheapest", lambda line: line.cost),
        ("shortest", lambda line: float(line.study.line.slope_station_m[-1])),
        ("fewest vents and drains", lambda line: _fittings(line)),
        ("fewest crossings", lambda line: float(len(line.study.crossings))),
        ("least digging", lambda line: line.study.line.pipe.excavation.volume_m3),
        ("most power", lambda line: -power(line)),
    ]
    words: list[list[str]] = [[] for _ in lines]
    for name, measure in measures:
        values = [measure(line) for line in lines]
        if name == "Cheapest" or (min(values) < max(values) and np.isfinite(min(values))):
            words[int(np.argmin(values))].append(name)
    names = []
    for at, word in enumerate(words, start=1):
        text = ", ".join(word) or f"another way {at}"
        names.append(text[:1].upper() + text[1:])
    return tuple(names)


def _fittings(line: Line) -> float:
    return float(len(line.study.fittings.vents) + len(line.study.fittings.drains))


def _faulted(line: Line) -> NoLine:
    """Return the error that the best line is faulted for what the graph cannot see."""
    found = next(
        each
        for each in line.study.findings
        if each.severity == "fault" and each.code in line.barred
    )
    return NoLine(
        f"The best line found has a fault that no proposal may have. {found.message}",
        "Lift what it names, or allow more (max_depth under [trench], longest_span and margin "
        "under [search]).",
        station_m=found.station_m,
    )


def _notes(site: Site, settings: Settings) -> Iterator[str]:
    """Yield what was assumed or left out."""
    book, grid = site.book, site.grid
    yield (
        f"Costs are in {book.currency or 'the money of the prices'}. Priced by usual ratios of "
        f"{book.date} and not by you: {', '.join(book.defaults)}. The cost is the study's own bill "
        "of pipe, trench, bench, bends, bridges, vents and drains, the yearly visits to these, and "
        "what the land asks."
    )
    if grid.factor > 1:
        yield (
            f"The ground was searched in means of {grid.factor} x {grid.factor} cells of the raster"
            f" ({grid.cell_m:.1f} m); every line was then laid on the raster itself."
        )
    if site.ladder.kind == "assumed":
        yield (
            "No pipe was given; a metre of pipe is priced as PE100 of 200 mm in the class that the "
            "head at rest asks for."
        )
    if site.ladder.kind == "chosen":
        kinds = ", ".join(each.pipe.label for each in site.ladder.rungs)
        yield f"The pipe was chosen by the design flow and the head at rest: {kinds}."
    if not any(each.kind == "stream" for each in settings.layer):
        rows, cols = site.terrain.shape
        yield (
            "The raster is too large to follow its water here, so that nothing keeps lines out of "
            "stream beds: give the streams as a layer."
            if rows * cols > MOST_FOLLOWED
            else "Streams were found by following the water over the raster, and a line in or "
            "across their beds was priced as such; give them as a layer where you know better."
        )
    bound = ("valve", "branch", "tap", "relief", "survey", "waive")
    left = [key for key in bound if key in settings.given]
    trench = settings.given.get("trench", {})
    left += [f"trench.{key}" for key in ("span", "limit") if key in trench]
    if left:
        yield f"Left out, as they speak of stations of a drawn line: {', '.join(left)}."
    if len(settings.pipe) > 1 and site.ladder.kind == "given":
        yield (
            "The settings' pipes lie where the head at rest asks for each, with a fifth of its "
            "rating or more left for surge, and not at the stations of a drawn line."
        )
