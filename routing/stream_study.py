"""The water at a study's intake: its catchment, and what of the flow is known or guessed.

The catchment is followed over the raster where the settings have [catchment], or where a flow is
carried over from a gauged place by areas. Nothing is assumed of a stream of which nothing was said.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from threading import Lock
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from routing.check import Check, failed_findings
from routing.energy_study import stream_over_year
from routing.finding import Finding
from routing.flow.area_ratio import area_ratio_checks, flow_by_area_ratio
from routing.laid_line import LaidLine
from routing.settings import Settings
from routing.terrain import Terrain
from routing.value import dataclass

if TYPE_CHECKING:
    from routing.catchment import Catchment, StreamNetwork

__all__ = [
    "FlowBasis",
    "StreamFlow",
    "StudyCatchment",
    "followed",
    "settings_at_intake",
    "snap_distance_m",
    "stream_at_intake",
]

FlowBasis = Literal["as given", "record", "ratio of areas", "specific yield"]

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


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamFlow:
    """Catchment and flow at the intake, and the settings as they then stand.

    ``settings`` hold the flows at the intake: record or curve carried over, mean annual flow and
    residual flow filled in where they follow. ``basis`` says from what the mean flow is known, None
    where it is not; ``guess`` that it, and all that follows, is an estimate. ``ratio`` is the
    intake's catchment over the gauged place's.
    """

    settings: Settings
    catchment: StudyCatchment | None
    mean_m3_s: float | None
    basis: FlowBasis | None
    guess: bool
    ratio: float | None
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[str, ...]


def stream_at_intake(
    settings: Settings, terrain: Terrain, lon: float, lat: float, *, wait: bool = True
) -> StreamFlow:
    """Return what is known of the water at the intake.

    Parameters
    ----------
    settings : Settings
        [catchment], [energy] and [intake] as the user stated them
    terrain : Terrain
        The elevation raster; followed only where the settings ask for the catchment
    lon, lat : float
        The intake, WGS 84 [deg]
    wait : bool
        False takes a catchment only if the raster's water is in memory already, as for a line
        being dragged; flows that hang on it are then left out, with a note

    Returns
    -------
    StreamFlow
        Catchment, mean flow, and the settings with the flows at the intake
    """
    asked = settings.catchment
    needed = asked.specific_yield is not None or settings.energy.gauged_area is not None
    catchment: StudyCatchment | None = None
    findings: list[Finding] = []
    if asked.area is not None:
        catchment = StudyCatchment(
            area_m2=asked.area,
            at_least=False,
            snapped_m=None,
            method="as given",
            threshold_m2=asked.threshold,
            lon=lon,
            lat=lat,
        )
    elif needed or "catchment" in settings.given:
        network = followed(terrain, asked.threshold, wait=wait)
        if network is None:
            findings.append(_later())
        else:
            catchment, notes = _catchment(settings, network, lon, lat)
            findings += notes
    return _with_flows(settings, catchment, findings)


def settings_at_intake(settings: Settings, terrain: Terrain, line: LaidLine) -> Settings:
    """Return the settings with the flows at the intake of a line, as its study would have them.

    The raster's water is followed only where a flow hangs on it.
    """
    if settings.energy.gauged_area is None and settings.intake.residual_share is None:
        return settings
    return stream_at_intake(settings, terrain, float(line.lon[0]), float(line.lat[0])).settings


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


def _catchment(
    settings: Settings, network: StreamNetwork, lon: float, lat: float
) -> tuple[StudyCatchment, list[Finding]]:
    """Return the catchment of the stream nearest to the intake, and what is doubtful about it."""
    from routing.catchment import catchment_at, outline, spread_areas

    asked = settings.catchment
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


def _with_flows(
    settings: Settings, catchment: StudyCatchment | None, findings: list[Finding]
) -> StreamFlow:
    """Return the settings with the flows at the intake, and where those come from."""
    energy, intake, gauged = settings.energy, settings.intake, settings.energy.gauged_area
    ratio: float | None = None
    checks: tuple[Check, ...] = ()
    if gauged is not None and (energy.record or energy.curve):
        if catchment is None:
            energy = replace(energy, record=(), curve=())
        else:
            ratio, checks = catchment.area_m2 / gauged, area_ratio_checks(catchment.area_m2, gauged)
            energy = _carried(settings, catchment.area_m2, gauged)
    mean, basis = _mean(settings, replace(settings, energy=energy), catchment, ratio)
    residual = intake.residual
    if residual is None and intake.residual_share is not None and mean is not None:
        residual = intake.residual_share * mean
    intake = replace(
        intake,
        residual=residual,
        residual_share=None,
        mean_annual_flow=intake.mean_annual_flow if mean is None else mean,
    )
    guess = basis in ("ratio of areas", "specific yield") or ratio is not None
    if guess:
        findings.append(_guessed(basis, catchment))
    return StreamFlow(
        settings=replace(settings, energy=energy, intake=intake),
        catchment=catchment,
        mean_m3_s=mean,
        basis=basis,
        guess=guess,
        ratio=ratio,
        checks=checks,
        findings=(*findings, *failed_findings(checks)),
        assumptions=_assumed(settings, basis, ratio, mean),
    )


def _carried(settings: Settings, area_m2: float, gauged_m2: float) -> Any:
    """Return [energy] with record or curve as at the intake."""
    energy = settings.energy
    factor = float(flow_by_area_ratio(1.0, area_m2, gauged_m2, energy.area_exponent))
    return replace(
        energy,
        gauged_area=None,  # carried once, and not again
        record=tuple(factor * flow for flow in energy.record),
        curve=tuple(replace(point, flow=factor * point.flow) for point in energy.curve),
    )


def _mean(
    stated: Settings, carried: Settings, catchment: StudyCatchment | None, ratio: float | None
) -> tuple[float | None, FlowBasis | None]:
    """Return the mean annual flow at the intake, from the surest of what was said."""
    if stated.intake.mean_annual_flow is not None:
        return stated.intake.mean_annual_flow, "as given"
    curve = stream_over_year(carried.energy)
    if curve is not None:
        share = np.linspace(0.0, 1.0, 1001)
        mean = float(np.trapezoid(curve.at(share), share))
        return mean, "record" if ratio is None else "ratio of areas"
    yields = stated.catchment.specific_yield
    if yields is not None and catchment is not None:
        return yields * catchment.area_m2, "specific yield"
    return None, None


def _assumed(
    settings: Settings, basis: FlowBasis | None, ratio: float | None, mean: float | None
) -> tuple[str, ...]:
    words = []
    if ratio is not None:
        words.append(
            f"Flows of the gauged place were carried to the intake by {ratio:.3g} to the power "
            f"{settings.energy.area_exponent:g}, the ratio of the catchments; what follows from "
            "them is an estimate."
        )
    if basis == "specific yield" and mean is not None:
        words.append(
            f"Mean annual flow {mean * 1e3:.3g} L/s from the specific yield given, a guess until "
            "the stream is gauged."
        )
    if settings.intake.residual_share is not None and mean is not None:
        words.append(
            f"Residual flow {settings.intake.residual_share * mean * 1e3:.3g} L/s, "
            f"{settings.intake.residual_share:.0%} of the mean annual flow; the permit's figure "
            "counts."
        )
    return tuple(words)


def _guessed(basis: FlowBasis | None, catchment: StudyCatchment | None) -> Finding:
    source = {
        "ratio of areas": "carried over from a gauged place by the ratio of the catchments",
        "specific yield": "from a specific yield and the catchment",
    }.get(basis or "", "carried over from a gauged place by the ratio of the catchments")
    least = " of which the raster holds a part only" if catchment and catchment.at_least else ""
    return Finding(
        code="flow_guessed",
        severity="warning",
        message=f"The flow at the intake is a guess, {source}{least}: so are mean annual flow, "
        "residual flow by share and energy of a year. Gauge the stream over a dry and a wet "
        "season before money is spent.",
        station_m=0.0,
    )


def _later() -> Finding:
    return Finding(
        code="catchment_later",
        severity="note",
        message="The catchment, and what hangs on it, is worked out when the study is saved: this "
        "raster's water was not followed yet.",
        station_m=0.0,
    )
