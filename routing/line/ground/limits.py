"""What a line and a raster must agree on before the profile is believed."""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray, FloatArray
from routing.errors import NotElevation, OutsideTerrain, ProfileError
from routing.finding import Finding
from routing.line.ground.legs import lay_legs
from routing.line.ground.trace import Trace
from routing.line.route import Route
from routing.terrain import Terrain

__all__ = ["check_ends", "check_heights", "check_inside", "leaps", "stairs", "steepness"]

LOWEST_M, HIGHEST_M = -11_500.0, 9_000.0
"""Heights that ground on Earth keeps within [m], the sea floor included."""

CLIFF_M, CLIFF_GRADE = 10.0, 5.0
"""Step, and grade of it, from which ground is doubted [m, -]; common practice, no source."""

LEAST_LEVEL = 20
"""Level stretches from which a raster is called one of whole units [-]."""

WHOLE = 1e-6

EDGE_CELLS = 1e-6
"""How far beyond the outer edge a point still counts as on it [cells]: rounding of projections."""


def check_inside(terrain: Terrain, route: Route, row: FloatArray, col: FloatArray) -> None:
    """Refuse a line that leaves the raster, naming where it first does."""
    margins = np.stack(
        [
            row + 0.5,
            terrain.shape[0] - 0.5 - row,
            col + 0.5,
            terrain.shape[1] - 0.5 - col,
        ]
    )
    inside = (margins >= -EDGE_CELLS).all(axis=0)
    if inside.all():
        return
    remedy = "Draw the line on the raster, or give the neighbouring tile as well."
    out = int(np.argmin(inside))
    if out == 0:
        lon, lat = float(route.lon[0]), float(route.lat[0])
        raise OutsideTerrain(
            f"The line begins outside the raster, at longitude {lon:.7f}, latitude {lat:.7f} "
            f"(station 0 m).{_far_off(margins[:, 0])}",
            remedy,
            station_m=0.0,
            lon=lon,
            lat=lat,
        )
    # A leg from inside to outside leaves where its first margin runs out.
    before, after = margins[:, out - 1], margins[:, out]
    leaving = after < 0.0
    share = float(np.min(np.maximum(before, 0.0)[leaving] / (before - after)[leaving]))
    part = slice(0, out + 1)
    legs = lay_legs(terrain.reference, row[part], col[part], route.lon[part], route.lat[part])
    lon_at, lat_at, station = legs.place(np.array([out - 1]), np.array([share]))
    raise OutsideTerrain(
        f"The line leaves the raster at station {station[0]:.1f} m, longitude {lon_at[0]:.7f}, "
        f"latitude {lat_at[0]:.7f}, on its way to point {out + 1}.",
        remedy,
        station_m=float(station[0]),
        lon=float(lon_at[0]),
        lat=float(lat_at[0]),
    )


def check_ends(trace: Trace, terrain: Terrain) -> None:
    """Refuse a line that begins or ends beside all of several tiles or rasters."""
    for first, last in trace.gaps():
        end = 0 if first == 0 else last
        if first > 0 and last < trace.station.size - 1:
            continue
        lon, lat = float(trace.lon[end]), float(trace.lat[end])
        if any(_on_a_tile(grid, lon, lat) for grid in terrain.grids):
            continue
        begins = "begins" if end == 0 else "ends"
        raise OutsideTerrain(
            f"The line {begins} outside the rasters, at longitude {lon:.7f}, latitude {lat:.7f} "
            f"(station {trace.station[end]:.1f} m).",
            "Draw the line on the rasters, or give the neighbouring tile as well.",
            station_m=float(trace.station[end]),
            lon=lon,
            lat=lat,
        )


def _on_a_tile(grid: Terrain, lon: float, lat: float) -> bool:
    """Return whether a place lies on a tile of the grid."""
    try:
        row, col = grid.reference.to_nodes([lon], [lat])
    except ProfileError:
        return False
    return bool(grid.index.owners_at(row, col)[0] >= 0)


def check_heights(
    ground: FloatArray, station: FloatArray, lon: FloatArray, lat: FloatArray
) -> None:
    """Refuse heights that no ground on Earth has."""
    wrong = (ground < LOWEST_M) | (ground > HIGHEST_M)
    if wrong.any():
        at = int(np.argmax(wrong))
        raise NotElevation(
            f"The raster gives an elevation of {ground[at]:.6g} m at station {station[at]:.1f} m, "
            f"longitude {lon[at]:.7f}, latitude {lat[at]:.7f}, which no ground has.",
            "Check that it holds elevations, and its unit and missing value; set unit under "
            "[terrain] if they are feet.",
            station_m=float(station[at]),
            lon=float(lon[at]),
            lat=float(lat[at]),
        )


def steepness(station: FloatArray, ground: FloatArray) -> tuple[Finding, ...]:
    """Return the warning on a line steeper from end to end than 100 %, if it is."""
    drop = float(ground[0] - ground[-1])
    if abs(drop) <= station[-1]:
        return ()
    return (
        Finding(
            code="steep_profile",
            severity="warning",
            message=f"The line changes {abs(drop):.0f} m in height over {station[-1]:.0f} m: check "
            "the vertical unit of the raster.",
        ),
    )


def leaps(station: FloatArray, ground: FloatArray, terrain: Terrain) -> tuple[Finding, ...]:
    """Return warnings on steps that are rather faults of a raster than ground.

    A damaged block often decodes to zeros: ground at exactly zero beside high ground.
    """
    rise, run = np.diff(ground), np.diff(station)
    steep = (np.abs(rise) > CLIFF_M) & (np.abs(rise) > CLIFF_GRADE * run)
    at = np.flatnonzero(steep)
    if not at.size:
        return ()
    zero = (ground[at] == 0.0) != (ground[at + 1] == 0.0)
    findings = []
    for code, places in (("zero_block", at[zero]), ("cliff", at[~zero])):
        if not places.size:
            continue
        first = int(places[0])
        change, over = abs(float(rise[first])), float(run[first])
        more = f", and {places.size - 1} more like it" if places.size > 1 else ""
        where = f"at station {station[first]:.1f} m the ground steps {change:.1f} m within "
        where += f"{over:.1f} m{more}"
        if code == "zero_block":
            text = (
                f"Zeros in the raster: {where}, from or to exactly 0. A part of the file is "
                "damaged or was never filled; fetch it again, or take a raster that holds this "
                "ground."
            )
        else:
            text = (
                f"A cliff in the raster: {where}. If there is none on the ground, a part of the "
                "file is damaged, or tiles of different units or datums meet here."
            )
        findings.append(
            Finding(code=code, severity="warning", message=text, station_m=float(station[first]))
        )
    return tuple(findings)


def stairs(ground: FloatArray, assumed: BoolArray, terrain: Terrain) -> tuple[Finding, ...]:
    """Return the note on ground of whole units in a raster whose type could hold more."""
    if any(found.code == "stair_steps" for found in terrain.findings):
        return ()
    known = ground[~assumed] / terrain.metres_per_unit
    # Between cell centres the surface is not whole; level runs at whole heights are the sign.
    level = known[1:][known[1:] == known[:-1]]
    whole = np.abs(level - np.round(level)) < WHOLE
    if level.size < LEAST_LEVEL or not whole.all() or np.unique(np.round(level)).size < 2:
        return ()
    return (
        Finding(
            code="stair_steps",
            severity="note",
            message="The raster seems to hold whole units only, so gentle ground shows as flats "
            "and steps that may not be there.",
        ),
    )


def _far_off(margin: FloatArray) -> str:
    """Return a hint when the place is so far off that the axes or the system must be wrong."""
    if float(margin.min()) < -1e5:
        return " It lies far away: check the order of longitude and latitude, and the raster's CRS."
    return ""
