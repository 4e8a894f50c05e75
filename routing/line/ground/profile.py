"""The ground beneath the drawn line: every crossing, every turning point, every vertex."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray, frozen
from routing.errors import InputError
from routing.finding import Finding
from routing.line.ground.gaps import Gap, bridge_gaps
from routing.line.ground.legs import lay_legs
from routing.line.ground.limits import (
    check_ends,
    check_heights,
    check_inside,
    leaps,
    stairs,
    steepness,
)
from routing.line.ground.patches import change_findings, patch_trace
from routing.line.ground.trace import VERTEX, trace_grid
from routing.line.route import Route
from routing.terrain import GridWindow, Terrain
from routing.value import dataclass

__all__ = ["GroundProfile", "ground_profile"]

MERGE_M = 1e-3
"""Stations closer than this are one [m]."""

HEIGHT_DECIMALS = 9
"""Decimals that elevations keep [-], a nanometre."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundProfile:
    """The ground along a line, exact for the bilinear surface through cell centres.

    Attributes
    ----------
    station_m : FloatArray, shape (n,)
        WGS 84 distance in plan, strictly rising from 0 [m]
    lon, lat : FloatArray, shape (n,)
        Places, WGS 84, longitudes from -180 to 180 [deg]
    ground_m : FloatArray, shape (n,)
        Elevation, in the raster's vertical datum [m]
    vertex, assumed : BoolArray, shape (n,)
        Vertices of the drawn line; stations on ground that was bridged over a gap
    vertex_station_m, vertex_lon, vertex_lat : FloatArray, shape (k,)
        The drawn line [m, deg]
    findings : tuple of Finding
        What a reader of the profile must know
    gaps : tuple of Gap
        Stretches bridged straight
    changes_m : tuple of float
        Stations where the elevations pass from one of the terrain's grids to another [m]
    """

    station_m: FloatArray
    lon: FloatArray
    lat: FloatArray
    ground_m: FloatArray
    vertex: BoolArray
    assumed: BoolArray
    vertex_station_m: FloatArray
    vertex_lon: FloatArray
    vertex_lat: FloatArray
    findings: tuple[Finding, ...]
    gaps: tuple[Gap, ...] = ()
    changes_m: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for name in ("vertex", "assumed"):
            object.__setattr__(self, name, frozen(getattr(self, name), np.bool_))
        for name in ("station_m", "lon", "lat", "ground_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))
        for name in ("vertex_station_m", "vertex_lon", "vertex_lat"):
            object.__setattr__(self, name, frozen(getattr(self, name)))

    @property
    def ground_length_m(self) -> float:
        """Length along the slope of the ground [m]."""
        return float(np.hypot(np.diff(self.station_m), np.diff(self.ground_m)).sum())


def ground_profile(
    terrain: Terrain,
    route: Route,
    *,
    at_m: Sequence[float] = (),
    bridge_m: float | None = None,
    window: GridWindow | None = None,
    chord_tolerance_m: float = 0.02,
) -> GroundProfile:
    """Return the exact profile of the ground along a drawn line.

    Legs are straight in the raster's own coordinate system. Along one the bilinear surface is a
    chain of quadratics that break where the leg crosses a line through cell centres. Stations
    stand at every vertex, every such crossing, every turning point of a quadratic, and so close
    that a straight line between neighbours leaves the surface by no more than the tolerance.

    Parameters
    ----------
    terrain : Terrain
        Elevations; of several grids each place takes the finest that has an elevation there, and
        legs are straight in the system of the finest of all
    route : Route
        The drawn line, intake first
    at_m : sequence of float
        Further stations wanted, from 0 to the length of the line [m]
    bridge_m : float, optional
        Longest gap of missing elevation to bridge straight; none unless given, > 0 [m]
    window : GridWindow, optional
        Elevations in memory; used where it covers the line, else the files are read
    chord_tolerance_m : float
        Greatest distance of the profile's chords from the surface, > 0 [m]

    Returns
    -------
    GroundProfile
        Stations at least 1 mm apart; where two merge, vertices and wanted stations stay

    Raises
    ------
    OutsideTerrain
        If the line leaves the raster, whose outer half cell counts as inside.
    MissingElevation
        If elevation is missing on the line and may not be bridged.
    NotElevation
        If a height on the line is one that no ground has.
    InputError
        If a wanted station is not on the line or a tolerance is not positive.

    Notes
    -----
    Elevations are float64 whatever the raster's type. Places and stations between exact nodes are
    polynomials good to 1e-10 degrees and 1e-7 m. Only the raster's blocks under the line are read.
    Checked by ``tests/reference/test_terrain_profile.py``.
    """
    _check_positive("chord_tolerance_m", chord_tolerance_m)
    if bridge_m is not None:
        _check_positive("bridge_m", bridge_m)
    reference = terrain.reference
    row, col = reference.to_nodes(route.lon, route.lat)
    whole = not terrain.others and terrain.index.full
    if whole:
        check_inside(terrain, route, row, col)
    legs = lay_legs(reference, row, col, route.lon, route.lat)
    trace = trace_grid(
        terrain,
        legs,
        vertex_rank=np.full(row.size, VERTEX),
        wanted_m=_wanted(at_m, legs.length_m),
        window=window,
        chord_tolerance_m=chord_tolerance_m,
        whole=whole,
    )
    changes: tuple[float, ...] = ()
    found: tuple[Finding, ...] = ()
    if not whole:
        trace = patch_trace(trace, legs, terrain, chord_tolerance_m)
        check_ends(trace, terrain)
        changes, found = change_findings(trace, terrain)
    ground, assumed, gaps, bridged = bridge_gaps(trace, bridge_m)
    # Level ground must stay level: rounding would turn one flat top into several.
    ground = np.round(ground, HEIGHT_DECIMALS)
    station, lon, lat = trace.station, trace.lon, trace.lat
    keep = _distinct(station, trace.rank)
    vertex = trace.rank == VERTEX
    lon[vertex], lat[vertex] = route.lon, route.lat
    lon = _wrapped(lon)
    vertex_station = station[vertex]
    check_heights(ground, station, lon, lat)
    return GroundProfile(
        station_m=station[keep],
        lon=lon[keep],
        lat=lat[keep],
        ground_m=ground[keep],
        vertex=vertex[keep],
        assumed=assumed[keep],
        vertex_station_m=vertex_station,
        vertex_lon=lon[vertex],
        vertex_lat=lat[vertex],
        findings=(
            *_repeats(route),
            *found,
            *bridged,
            *steepness(station, ground),
            *leaps(station[keep], ground[keep], terrain),
            *stairs(ground[keep], assumed[keep], terrain),
        ),
        gaps=gaps,
        changes_m=changes,
    )


def _wanted(at_m: Sequence[float], length_m: float) -> FloatArray:
    """Return those wanted stations that lie on the line; whoever asked says what of the others."""
    wanted = np.asarray(at_m, dtype=np.float64).reshape(-1)
    if not np.all(wanted >= 0.0):
        raise InputError(
            f"The station {wanted[np.argmin(wanted >= 0.0)]:.3f} m is not on the line.",
            "Give stations from 0, the start of the line.",
        )
    return np.minimum(wanted[wanted <= length_m + MERGE_M], length_m)


def _distinct(station: FloatArray, rank: IntArray) -> IntArray:
    """Return the indices of points to keep: of two within a millimetre the one of lower rank."""
    kept = np.arange(station.size)
    while True:
        near = station[kept[1:]] - station[kept[:-1]] < MERGE_M
        if not near.any():
            return kept
        before, after = rank[kept[:-1]], rank[kept[1:]]
        drop = np.zeros(kept.size, dtype=np.bool_)
        drop[1:] = near & (after >= before) & (after > VERTEX)
        drop[:-1] |= near & (before > after)
        if not drop.any():
            return kept
        kept = kept[~drop]


def _check_positive(name: str, value: float) -> None:
    """Refuse a tolerance or length that is not positive."""
    if math.isnan(value) or value <= 0.0:
        raise InputError(f"{name} = {value:g} m is not positive.", "Give a length above 0.")


def _wrapped(lon: FloatArray) -> FloatArray:
    """Return longitudes from -180 to 180; those already there keep their value to the last bit."""
    beyond = np.abs(lon) > 180.0
    return np.where(beyond, (lon + 180.0) % 360.0 - 180.0, lon) if beyond.any() else lon


def _repeats(route: Route) -> tuple[Finding, ...]:
    """Return the note on repeated points of the drawn line, if there were any."""
    if not route.dropped:
        return ()
    return (
        Finding(
            code="points_dropped",
            severity="note",
            message=f"{route.dropped} repeated point(s) of the drawn line were left out.",
        ),
    )
