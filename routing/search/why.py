"""Why no line exists: which closed ground stands in the way, where, and what would lift it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from routing.arrays import IntArray
from routing.errors import NoLine
from routing.search.bans import LAND, MISSING, REASONS
from routing.search.cheapest import least_cost, least_to_go
from routing.search.graph import Terms, graph_of
from routing.search.site import Site

__all__ = ["closed_shares", "no_line"]

DETOUR = 30.0
"""How many times its length of open ground the proof of a barrier goes round closed ground [-]."""


def closed_shares(site: Site) -> list[dict[str, object]]:
    """Return what is closed to lines on the ground looked at, by reason and share of its cells."""
    found = []
    for bit, (name, lift) in REASONS.items():
        share = float(np.mean((site.shut & bit) > 0))
        if share > 0.0:
            found.append({"what": name, "share": round(share, 6), "lift": lift})
    return found


def no_line(site: Site) -> NoLine:
    """Return the error that says what stands between the stops of a site.

    Each reason is lifted alone, to see whether a way opens; then all ground is opened at a price,
    and what the way with the fewest closed cells crosses is named. A place that itself lies on
    closed land, and a pipe that is too narrow for any line, are said first.
    """
    if site.outlet_m >= site.intake_m:
        return NoLine(
            f"The end at {site.outlet_m:.1f} m does not lie below the water at the intake, "
            f"{site.intake_m:.1f} m: no line falls to it.",
            "Exchange the two places, or move the intake up or the powerhouse down.",
        )
    _refuse_places(site)
    loss_m, fall_m = site.ladder.gradient * site.straight_m, site.intake_m - site.outlet_m
    if loss_m >= fall_m:
        return NoLine(
            f"At the design flow the pipe loses {loss_m:.1f} m of head on the straight line of "
            f"the two places, and they fall by {fall_m:.1f} m: no line carries it.",
            "Take a larger pipe or less flow.",
        )
    alone = [name for bit, (name, _) in REASONS.items() if _opens(site, bit)]
    crossed, place = _barrier(site)
    lift = " ".join(dict.fromkeys(REASONS[bit][1] for bit in crossed))
    names = " and ".join(REASONS[bit][0] for bit in crossed) or "closed ground"
    only = f" Lifting one of these alone opens a way: {', '.join(alone)}." if alone else ""
    lon, lat = place if place is not None else (None, None)
    where = "" if place is None else f", first met at longitude {lon:.6f}, latitude {lat:.6f}"
    return NoLine(
        f"No line leads from the intake to the end: {names} stands in the way{where}.{only}",
        f"{lift} Or look further round the hill with a greater reach under [search].",
        lon=lon,
        lat=lat,
    )


def _refuse_places(site: Site) -> None:
    """Refuse places that no line can come to, whatever lies between them.

    Raises
    ------
    NoLine
        Of the first place on no-go land or without elevation.
    """
    shut = site.shut.reshape(-1)
    for at, (stop, (lon, lat)) in enumerate(zip(site.stops, site.places, strict=True)):
        if shut[stop] & LAND:
            raise NoLine(
                f"{_called(site, at)} lies on no-go land.",
                "Move it, or take the area out of the settings if it may be used.",
                lon=lon,
                lat=lat,
            )
        if shut[stop] & MISSING:
            raise NoLine(
                f"{_called(site, at)} lies where the raster has no elevation.",
                "Move it, or give a raster that covers this ground.",
                lon=lon,
                lat=lat,
            )


def _called(site: Site, at: int) -> str:
    """Return what a stop is called, and where it lies."""
    place = "{:.6f}, {:.6f}".format(*site.places[at])
    if at == 0:
        return f"The intake at {place}"
    if at == len(site.stops) - 1:
        return f"The powerhouse at {place}"
    return f"Place {at} to pass, at {place},"


def _opens(site: Site, bit: int) -> bool:
    """Return whether a way opens between all stops when one reason is lifted."""
    shut = site.shut & ~np.uint8(bit)
    if (shut == site.shut).all():
        return False
    field = site.field(shut=np.ascontiguousarray(shut))
    graph = graph_of(field, _level_terms(site), site.moves)
    for start, end in pairwise(site.stops):
        to = least_to_go(graph, site.grid.shape[1], np.array([end], dtype=np.int64))
        if not np.isfinite(to[start]):
            return False
    return True


def _level_terms(site: Site) -> Terms:
    """Return terms in which only length counts."""
    return site.terms._replace(
        trench=1.0, bench=0.0, vent=0.0, drain=0.0, longest_m=0.0, steep_factor=1.0
    )


def _barrier(site: Site) -> tuple[list[int], tuple[float, float] | None]:
    """Return the reasons on the way with the fewest closed cells, and the first place of them."""
    toll = np.where(site.shut > 0, DETOUR, 0.0).astype(np.float32)
    field = site.field(shut=np.zeros(site.grid.shape, dtype=np.uint8))
    level = np.where(np.isnan(site.grid.heights), np.float32(site.outlet_m), site.grid.heights)
    field = field._replace(extra=toll, heights=np.ascontiguousarray(level, dtype=np.float32))
    crossed: list[int] = []
    first: tuple[float, float] | None = None
    moves = site.moves._replace(turn=np.where(np.isfinite(site.moves.turn), 0.0, np.inf))
    cols, graph = site.grid.shape[1], graph_of(field, _level_terms(site)._replace(cut=1e9), moves)
    for start, end in pairwise(site.stops):
        to = np.array([end], dtype=np.int64)
        way = least_cost(graph, cols, least_to_go(graph, cols, to), start, to)
        if way is None:
            continue
        row, col = _passed(way.cells, site.grid.shape[1])
        bits = site.shut[row, col]
        if first is None and (bits > 0).any():
            at = int(np.argmax(bits > 0))
            lon, lat = site.grid.centres(row[at : at + 1] * site.grid.shape[1] + col[at : at + 1])
            first = float(lon[0]), float(lat[0])
        crossed += [bit for bit in REASONS if (bits & bit).any() and bit not in crossed]
    return crossed, first


def _passed(cells: IntArray, cols: int) -> tuple[IntArray, IntArray]:
    """Return rows and columns of all cells on a way, with those that a knight's move passes."""
    row, col = np.divmod(cells, cols)
    at = np.arange(0.0, cells.size - 0.75, 0.25)
    number = np.arange(cells.size)
    passed = [np.rint(np.interp(at, number, each)).astype(np.int64) for each in (row, col)]
    return passed[0], passed[1]
