"""Stretches of a line that the finest grid does not hold, taken from the coarser ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.errors import ProfileError
from routing.finding import Finding
from routing.line.ground.legs import Legs, lay_legs
from routing.line.ground.trace import FREE, Trace, trace_grid
from routing.terrain import Terrain

__all__ = ["change_findings", "patch_trace"]

STEP_M = 50.0
"""Places of a leg are carried to another map projection this close together [m]: a straight line
between them leaves the leg by less than a millimetre."""

MOST_CHANGES_TOLD = 20
"""Most changes of raster that are told one by one [-]."""


def patch_trace(trace: Trace, legs: Legs, terrain: Terrain, chord_tolerance_m: float) -> Trace:
    """Return the trace with its missing stretches taken from the terrain's further grids."""
    for number, grid in enumerate(terrain.others, start=1):
        same_map = grid.crs_wkt == terrain.crs_wkt
        parts: list[Trace] = []
        done = 0
        runs = trace.gaps()
        if not runs:
            break
        trace = _replaced(trace, ground=trace.ground.copy(), leap_m=trace.leap_m.copy())
        for first, last in runs:
            # Points at the very place of the last one, a vertex perhaps, stay in the trace.
            last = first + int(
                np.searchsorted(trace.station[first : last + 1], trace.station[last])
            )
            patch = _patch(trace, legs, grid, first, last, same_map, chord_tolerance_m)
            if patch is None:
                continue
            parts += [_slice(trace, done, first), _fitted(trace, patch, first, last, number)]
            done = last
        if parts:
            trace = _joined([*parts, _slice(trace, done, trace.station.size)])
    return trace


def change_findings(
    trace: Trace, terrain: Terrain
) -> tuple[tuple[float, ...], tuple[Finding, ...]]:
    """Return the stations where the line passes from grid to grid, and a note on each."""
    kept = np.flatnonzero(~trace.missing[:-1])
    grid = trace.grid[kept]
    changed = np.flatnonzero(grid[1:] != grid[:-1]) + 1
    at, before, after = kept[changed], grid[changed - 1], grid[changed]
    grids = terrain.grids
    findings = []
    for place, old, new in list(zip(at.tolist(), before.tolist(), after.tolist(), strict=True))[
        :MOST_CHANGES_TOLD
    ]:
        leap = float(trace.leap_m[place])
        findings.append(
            Finding(
                code="terrain_changes",
                severity="note",
                message=f"From station {trace.station[place]:.1f} m elevations come from "
                f"{_called(grids[new])} instead of {_called(grids[old])}; the two differ by "
                f"{abs(leap):.2f} m there.",
                station_m=float(trace.station[place]),
            )
        )
    if at.size > MOST_CHANGES_TOLD:
        findings.append(
            Finding(
                code="terrain_changes",
                severity="note",
                message=f"The line passes from one raster's cells to another's {at.size} times; "
                f"the first {MOST_CHANGES_TOLD} are told.",
            )
        )
    return tuple(trace.station[at].tolist()), tuple(findings)


def _called(grid: Terrain) -> str:
    """Return how a note calls a grid."""
    more = f" and {len(grid.tiles) - 1} more" if len(grid.tiles) > 1 else ""
    return f"{grid.tiles[0].path.name}{more} (cell {grid.cell_m:.3g} m)"


def _patch(
    trace: Trace,
    legs: Legs,
    grid: Terrain,
    first: int,
    last: int,
    same_map: bool,
    chord_tolerance_m: float,
) -> Trace | None:
    """Return the surface of another grid between two points of a trace, None where it has none."""
    begin, end = float(trace.station[first]), float(trace.station[last])
    if end <= begin:
        return None
    inner = np.arange(first + 1, last)
    inner = inner[trace.rank[inner] < FREE]
    station, rank = trace.station[inner], trace.rank[inner]
    lon, lat = trace.lon[inner], trace.lat[inner]
    steps = 0 if same_map else int(np.ceil((end - begin) / STEP_M)) - 1
    if steps > 0:
        more = begin + (end - begin) * np.arange(1, steps + 1) / (steps + 1)
        more_lon, more_lat, more = legs.place(*legs.find(more))
        station = np.concatenate([station, more])
        lon, lat = np.concatenate([lon, more_lon]), np.concatenate([lat, more_lat])
        rank = np.concatenate([rank, np.full(more.size, FREE)])
    ends = [first, last]
    station = np.concatenate([trace.station[ends], station])
    lon = np.concatenate([trace.lon[ends], lon])
    lat = np.concatenate([trace.lat[ends], lat])
    rank = np.concatenate([trace.rank[ends], rank])
    order = np.lexsort((rank, station))
    station, lon, lat, rank = station[order], lon[order], lat[order], rank[order]
    distinct = np.append(True, np.diff(station) > 0.0)
    station, lon, lat, rank = station[distinct], lon[distinct], lat[distinct], rank[distinct]
    reference = grid.reference
    try:
        row, col = reference.to_nodes(lon, lat)
    except ProfileError:  # the line runs where the other raster's map projection has no places
        return None
    own = lay_legs(reference, row, col, lon, lat)
    patch = trace_grid(
        grid,
        own,
        vertex_rank=rank,
        wanted_m=np.empty(0),
        window=None,
        chord_tolerance_m=chord_tolerance_m,
        whole=False,
    )
    if patch.missing[:-1].all():
        return None
    return _replaced(patch, station=np.interp(patch.station, own.vertex_station_m, station))


def _fitted(trace: Trace, patch: Trace, first: int, last: int, number: int) -> Trace:
    """Return a patch without its last point, fitted to the ground known at its ends.

    What is learnt of the trace's point ``last`` is written to the trace, whose arrays are ours.
    """
    ground, leap = patch.ground.copy(), np.zeros(patch.ground.size)
    if first > 0:
        leap[0] = ground[0] - trace.ground[first]
        ground[0] = trace.ground[first]
    lon, lat = patch.lon.copy(), patch.lat.copy()
    lon[0], lat[0] = trace.lon[first], trace.lat[first]
    if last == trace.station.size - 1:
        trace.ground[last] = ground[-1]
    else:
        trace.leap_m[last] = trace.ground[last] - ground[-1]
    fitted = _replaced(
        patch,
        lon=lon,
        lat=lat,
        ground=ground,
        leap_m=leap,
        grid=np.full(ground.size, number, dtype=np.int64),
    )
    return _slice(fitted, 0, ground.size - 1)


def _replaced(trace: Trace, **changes: FloatArray | IntArray) -> Trace:
    values = {field.name: getattr(trace, field.name) for field in fields(trace)}
    return Trace(**{**values, **changes})


def _slice(trace: Trace, begin: int, end: int) -> Trace:
    return _replaced(
        trace, **{field.name: getattr(trace, field.name)[begin:end] for field in fields(trace)}
    )


def _joined(parts: Sequence[Trace]) -> Trace:
    return _replaced(
        parts[0],
        **{
            field.name: np.concatenate([getattr(part, field.name) for part in parts])
            for field in fields(parts[0])
        },
    )
