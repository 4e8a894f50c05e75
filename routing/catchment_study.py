"""The catchment of a study's intake, followed over the raster; the last rasters stay in memory."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from threading import Lock
from typing import TYPE_CHECKING, Any

from routing.finding import Finding
from routing.settings import CatchmentSettings
from routing.terrain import Terrain
from routing.value import dataclass

if TYPE_CHECKING:
    from routing.catchment import Catchment, StreamNetwork

__all__ = ["StudyCatchment", "catchment_of", "followed", "snap_distance_m"]

LEAST_SNAP_M = 25.0
"""An intake is snapped to a stream two cells away, or so far [m]; our own estimate."""

MOST_KEPT = 2
"""Rasters whose water stays in memory once it was followed."""

OUTLINE_POINTS = 2000
"""Most points of an outline that is told."""

_kept: OrderedDict[object, StreamNetwork] = OrderedDict()

_one_at_a_time = Lock()

Ring = tuple[tuple[float, ...], tuple[float, ...], bool]
"""Longitudes and latitudes of a closed ring [deg], and whether it is a hole in the one before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyCatchment:
    """The catchment of the intake.

    ``snapped_m`` is the way from the intake to the stream's cell, None where the area was given;
    ``method`` is "d8", "freeman" or "as given". ``rings`` are its outline, thinned; none where
    it was given.
    """

    area_m2: float
    at_least: bool
    snapped_m: float | None
    method: str
    threshold_m2: float
    lon: float
    lat: float
    rings: tuple[Ring, ...] = ()


def followed(terrain: Terrain, threshold_m2: float, *, wait: bool = True) -> StreamNetwork | None:
    """Return the streams of a terrain, from memory where its water was followed before.

    None where it was not and ``wait`` is False. Two rasters are kept; a file that changed since is
    followed anew.
    """
    from routing.catchment import drain, stream_network

    key = _state(terrain)
    if key is None:
        return stream_network(drain(terrain), threshold_m2) if wait else None
    with _one_at_a_time:
        network = _kept.get(key)
        if network is None and not wait:
            return None
        if network is None:
            network = stream_network(drain(terrain), threshold_m2)
        elif network.threshold_m2 > threshold_m2:
            network = stream_network(network.drainage, threshold_m2)
        _kept[key] = network
        _kept.move_to_end(key)
        while len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    return network


def _state(terrain: Terrain) -> object:
    """Return what tells a terrain's cells from any others; None for files within an archive."""
    files = [tile.path for tile in terrain.tiles]
    if not all(path.exists() for path in files):
        return None
    found = [(path, path.stat()) for path in files]
    return (
        tuple((path, each.st_mtime_ns, each.st_size) for path, each in found),
        tuple(tile.band for tile in terrain.tiles),
        terrain.transform,
        terrain.crs_wkt,
        terrain.unit,
    )


def snap_distance_m(terrain: Terrain) -> float:
    """Return how far an intake is moved to a stream where nothing else is asked [m]."""
    return max(2.0 * terrain.cell_m, LEAST_SNAP_M)


def catchment_of(
    asked: CatchmentSettings, network: StreamNetwork, lon: float, lat: float
) -> tuple[StudyCatchment, list[Finding]]:
    """Return the catchment of the stream nearest to the intake, and what is doubtful about it."""
    from routing.catchment import catchment_at, outline, spread_areas

    snap = snap_distance_m(network.drainage.terrain) if asked.snap is None else asked.snap
    network = network.above(asked.threshold)
    found = catchment_at(network, lon, lat, snap_m=snap)
    area_m2, at_least = found.area_m2, found.at_least
    if asked.method == "freeman":
        spread = spread_areas(network.drainage)
        area_m2 = float(spread.area_m2[found.row, found.col])
        at_least = bool(spread.at_least[found.row, found.col])
        found = replace(found, area_m2=area_m2, at_least=at_least)
    result = StudyCatchment(
        area_m2=area_m2,
        at_least=at_least,
        snapped_m=found.snapped_m,
        method=asked.method,
        threshold_m2=asked.threshold,
        lon=found.lon,
        lat=found.lat,
        rings=_rings(outline(found)["coordinates"], network.drainage.terrain.cell_m),
    )
    return result, _doubts(found, asked.threshold, snap)


def _rings(polygons: list[Any], cell_m: float) -> tuple[Ring, ...]:
    """Return outlines thinned to half a cell, and further where they are long."""
    from shapely import LinearRing

    rings = [LinearRing(ring) for polygon in polygons for ring in polygon]
    step = 0.5 * cell_m / 111_000.0
    while True:
        thin = [ring.simplify(step, preserve_topology=True) for ring in rings]
        if sum(len(ring.coords) for ring in thin) <= OUTLINE_POINTS or step > 1.0:
            break
        thin, step, rings = [], 2.0 * step, [ring for ring in rings if ring.length > 16.0 * step]
    return tuple(
        (tuple(x for x, _ in ring.coords), tuple(y for _, y in ring.coords), not ring.is_ccw)
        for ring in thin
    )


def _doubts(found: Catchment, threshold_m2: float, snap_m: float) -> list[Finding]:
    doubts = []
    if found.at_least:
        doubts.append(
            Finding(
                code="catchment_at_least",
                severity="warning",
                message=f"The catchment of the intake reaches the edge of the raster, or cells "
                f"without elevation: {found.area_m2 / 1e6:.3g} km2 is the least that it can be. "
                "Give a raster that holds all of it, or its area as catchment.area.",
                station_m=0.0,
            )
        )
    if not found.on_stream:
        doubts.append(
            Finding(
                code="catchment_no_stream",
                severity="warning",
                message=f"The raster shows no stream of {threshold_m2 / 1e6:g} km2 or more within "
                f"{snap_m:.0f} m of the intake, so only what drains through its own cell was "
                "taken. Move the intake, or set catchment.snap or catchment.threshold.",
                station_m=0.0,
            )
        )
    if found.rival_m2 is not None:
        doubts.append(
            Finding(
                code="catchment_rival",
                severity="warning",
                message=f"A greater stream, of {found.rival_m2 / 1e6:.3g} km2, also lies within "
                f"{snap_m:.0f} m of the intake; the nearer one was taken. If that is wrong, move "
                "the intake, or raise catchment.threshold.",
                station_m=0.0,
            )
        )
    return doubts
