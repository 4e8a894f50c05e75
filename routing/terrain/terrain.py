"""A terrain: one raster, or several tiles on one grid, with everything that reading it needs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from pathlib import Path
from typing import Literal

import numpy as np
from pyproj import CRS, Geod

from routing.errors import InputError, MissingCrs, RasterTooLarge, TerrainMismatch
from routing.finding import Finding
from routing.terrain.accuracy import SourceClass, find_class
from routing.terrain.extents import TileIndex, index_tiles
from routing.terrain.formats import SAYS_UNIT
from routing.terrain.georeference import (
    GridReference,
    HorizontalSystem,
    reference,
    split_crs,
)
from routing.terrain.notes import band_notes, crs_overridden, terrain_notes
from routing.terrain.raster import Affine6, Raster, read_facts, settled
from routing.terrain.sources import archives_kept, find_sources, shown
from routing.terrain.tiles import group_tiles, join_tiles
from routing.terrain.units import METRES_PER_UNIT, UnitSource, VerticalUnit, decide_unit
from routing.value import dataclass

__all__ = ["Terrain", "open_terrain"]

KindSource = Literal["setting", "file", "format"]

TRUE_SCALE = 0.005
"""A projected cell is called by its size on the map where the map is true to this share [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terrain:
    """Elevation rasters as one grid of cells, by its facts; the cells stay in the files.

    Attributes
    ----------
    tiles : tuple of Raster
        The files, the first one first where they overlap
    crs_wkt, crs_name : str
        Horizontal coordinate system
    cell_m : float
        Mean size of a cell on the ground, at the middle of the grid [m]
    shape : tuple of int
        Rows and columns of the grid [-]
    transform : tuple of 6 floats
        a, b, c, d, e, f: x = a col + b row + c, y = d col + e row + f, at corners of cells
    unit, unit_source, metres_per_unit
        The vertical unit, what states it, and its length [m]
    rmse_m : float or None
        Stated root mean square error of elevations [m]
    vertical_datum : str or None
        Vertical datum, as stated; elevations are never moved between datums
    kind : SourceClass or None
        The kind of elevation data, as told by ``kind_source``: "setting", "file" or "format"
    findings : tuple of Finding
        What was assumed
    index : TileIndex
        Which tile holds which cell
    others : tuple of Terrain
        Further grids, coarser or less wanted ones last: used where this one has no elevation
    """

    tiles: tuple[Raster, ...]
    crs_wkt: str
    crs_name: str
    cell_m: float
    shape: tuple[int, int]
    transform: Affine6
    unit: str
    unit_source: UnitSource
    rmse_m: float | None
    vertical_datum: str | None
    findings: tuple[Finding, ...]
    index: TileIndex = field(compare=False, repr=False)
    kind: SourceClass | None = None
    kind_source: KindSource | None = None
    others: tuple[Terrain, ...] = ()

    @property
    def grids(self) -> tuple[Terrain, ...]:
        """The grid itself and the further ones, the finest first."""
        return (self, *self.others)

    @property
    def metres_per_unit(self) -> float:
        """Metres in one vertical unit."""
        return METRES_PER_UNIT[self.unit]

    @property
    def reference(self) -> GridReference:
        """The grid's place on Earth, for use in the calling thread."""
        return reference(self.crs_wkt, self.transform, self.shape)


def open_terrain(
    paths: Sequence[Path],
    *,
    unit: str | None = None,
    crs: str | None = None,
    band: int | None = None,
    rmse_m: float | None = None,
    vertical_datum: str | None = None,
    source: str | None = None,
) -> Terrain:
    """Read what elevation rasters say of themselves; no cell is read and no file stays open.

    Parameters
    ----------
    paths : sequence of Path
        Rasters, folders of tiles, zip archives of tiles. Tiles on one grid are one grid; where
        they overlap the first one counts. Of different grids the one with the finer cell counts
    unit : str, optional
        Vertical unit, "m", "ft" or "US survey foot", over what the files state
    crs : str, optional
        Horizontal coordinate system as PROJ understands it, over what the files state
    band : int, optional
        Band that holds the elevations, from 1; without it the first, with a warning where there are
        more [-]
    rmse_m : float, optional
        Root mean square error of the elevations, > 0, over what the files state [m]
    vertical_datum : str, optional
        Name of the vertical datum, over what the files state
    source : str, optional
        Kind of elevation data, an id of the table of kinds such as "lidar"

    Returns
    -------
    Terrain
        The facts of the finest grid, with the others in ``others`` and a finding for each fact
        that was assumed

    Raises
    ------
    UnreadableRaster, NotElevation, MissingCrs, RasterTooLarge, TerrainMismatch
        If a file is no such raster, or tiles state different vertical datums.
    InputError
        If there is no path, or the error or the kind given cannot be used.

    Notes
    -----
    Reads GeoTIFF, Esri ASCII grid, USGS DEM, SRTM tile, ERDAS Imagine and GeoPackage rasters. Of
    files beside the raster only .prj is honoured.
    """
    if isinstance(paths, str | Path):
        paths = [Path(paths)]
    if not paths:
        raise InputError("No elevation raster was given.", "Give at least one.")
    if rmse_m is not None and not (math.isfinite(rmse_m) and rmse_m > 0.0):
        raise InputError(
            f"The error of the raster, rmse = {rmse_m:g} m, must be a positive length.",
            'Give it as, for example, rmse = "0.8 m" under [terrain].',
        )
    with archives_kept(), settled():
        files = find_sources([Path(path) for path in paths])
        rasters = [read_facts(path, band or 1, unit_given=unit is not None) for path in files]
    systems, found = _systems(rasters, crs)
    found = (*found, *band_notes(rasters, said=band is not None))
    sorted_out: dict[tuple[str, str], list[tuple[Raster, VerticalUnit]]] = {}
    for raster in rasters:
        system = systems[raster.crs_wkt]
        stated = decide_unit(
            raster.path,
            setting=unit,
            tag=raster.unit_tag,
            crs_metres=system.vertical_metres,
            map_metres=system.map_unit_m,
            stated_by_format=raster.driver in SAYS_UNIT,
        )
        sorted_out.setdefault((system.wkt, stated.name), []).append((raster, stated))
    grids = []
    for members in sorted_out.values():
        stated = members[0][1]
        for group in group_tiles([raster for raster, _ in members]):
            system = systems[group[0].crs_wkt]
            grids.append(_grid(group, system, stated, rmse_m, vertical_datum, source))
    grids.sort(key=lambda grid: grid.cell_m)  # stable: of equals the first one given
    if vertical_datum is None:
        _check_datums(rasters, systems)
    notes = (*found, *(note for grid in grids for note in grid.findings))
    return replace(grids[0], others=tuple(grids[1:]), findings=tuple(dict.fromkeys(notes)))


def _grid(
    group: Sequence[Raster],
    system: HorizontalSystem,
    stated: VerticalUnit,
    rmse_m: float | None,
    vertical_datum: str | None,
    source: str | None,
) -> Terrain:
    """Return the terrain of rasters that lie on one grid."""
    if system.turn is not None:
        group = _unrolled(group, system.turn)
    tiles, shape = join_tiles(group)
    transform = tiles[0].transform
    cell_m = _cell_m(system, transform, shape)
    if not math.isfinite(cell_m):
        raise MissingCrs(
            f"The raster {shown(tiles[0].path)} has its corner at {transform[2]:.10g}, "
            f"{transform[5]:.10g}, which is no place in {system.name}.",
            "Set crs under [terrain] to the system that its numbers are in, for example crs = "
            '"EPSG:32633".',
        )
    index = index_tiles([(t.row0, t.col0, t.row0 + t.shape[0], t.col0 + t.shape[1]) for t in tiles])
    if index is None:
        raise RasterTooLarge(
            f"The {len(tiles)} tiles overlap in too many ways.", "Merge them to fewer tiles."
        )
    first = tiles[0]
    kind, kind_source = find_class(source, first.about, first.driver)
    datum = vertical_datum or system.vertical_name or first.datum_tag
    shift_m = reference(system.wkt, transform, shape).accuracy_m
    return Terrain(
        tiles=tiles,
        crs_wkt=system.wkt,
        crs_name=system.name,
        cell_m=cell_m,
        shape=shape,
        transform=transform,
        unit=stated.name,
        unit_source=stated.source,
        rmse_m=rmse_m if rmse_m is not None else first.rmse_tag_m,
        vertical_datum=datum,
        findings=(*stated.findings, *terrain_notes(tiles, cell_m, datum, shift_m, kind)),
        index=index,
        kind=kind,
        kind_source=kind_source,
    )


def _unrolled(group: Sequence[Raster], turn: float) -> list[Raster]:
    """Return tiles in degrees with those beyond the antimeridian moved next to the first."""
    moved = []
    a, b, c, _, _, _ = group[0].transform
    middle = c + a * group[0].shape[1] / 2 + b * group[0].shape[0] / 2
    for raster in group:
        a, b, c, d, e, f = raster.transform
        own = c + a * raster.shape[1] / 2 + b * raster.shape[0] / 2
        turns = round((own - middle) / turn)
        moved.append(replace(raster, transform=(a, b, c - turn * turns, d, e, f)))
    return moved


def _check_datums(
    rasters: Sequence[Raster], systems: Mapping[str | None, HorizontalSystem]
) -> None:
    """Refuse rasters whose heights are measured from different datums, as far as they say so."""
    stated: dict[str, Path] = {}
    for raster in rasters:
        datum = systems[raster.crs_wkt].vertical_datum or raster.datum_tag
        if datum is not None:
            stated.setdefault(datum, raster.path)
    if len(stated) > 1:
        (one, first), (two, second) = list(stated.items())[:2]
        raise TerrainMismatch(
            f"Heights of {shown(first)} are measured from {one}, those of {shown(second)} from "
            f"{two}; heights are never converted from one datum to another.",
            "Give rasters of one vertical datum; if these are, name it as vertical_datum under "
            "[terrain].",
        )


def _systems(
    rasters: Sequence[Raster], crs: str | None
) -> tuple[dict[str | None, HorizontalSystem], tuple[Finding, ...]]:
    """Return the coordinate system behind each text, and what the settings changed.

    Systems that are the same in other words are one: each keeps its own vertical part.
    """
    texts: dict[str | None, Path] = {}
    for raster in rasters:
        texts.setdefault(raster.crs_wkt, raster.path)
    given = split_crs(crs, named="the settings") if crs is not None else None
    known: list[tuple[CRS, HorizontalSystem]] = []
    systems: dict[str | None, HorizontalSystem] = {}
    findings = []
    for text, path in texts.items():
        if text is None:
            if given is None:
                raise MissingCrs(
                    f"The raster {shown(path)} does not say which coordinate system it is in.",
                    'Set crs under [terrain], for example crs = "EPSG:32633", or put its .prj '
                    "file beside it.",
                )
            systems[text] = given
            continue
        own = split_crs(text, named=shown(path))
        if given is not None:
            if CRS.from_wkt(own.wkt) != CRS.from_wkt(given.wkt):
                findings.append(crs_overridden(path, own.name, given.name))
            if given.vertical_metres is None:
                own = replace(
                    given,
                    vertical_name=own.vertical_name,
                    vertical_datum=own.vertical_datum,
                    vertical_metres=own.vertical_metres,
                )
            else:
                own = given
            systems[text] = own
            continue
        flat = CRS.from_wkt(own.wkt)
        same = next((system for seen, system in known if seen == flat), None)
        if same is None:
            known.append((flat, own))
        else:
            own = replace(own, wkt=same.wkt, name=same.name)
        systems[text] = own
    return systems, tuple(findings)


def _cell_m(system: HorizontalSystem, transform: Affine6, shape: tuple[int, int]) -> float:
    """Return the mean size of a cell on the ground at the grid's middle [m].

    A projected cell is called by its size on the map where the map is nearly true to scale.
    """
    row, col = (shape[0] - 1) / 2, (shape[1] - 1) / 2
    lon, lat = reference(system.wkt, transform, shape).to_lonlat(
        [row, row, row - 0.5, row + 0.5], [col - 0.5, col + 0.5, col, col]
    )
    _, _, sides = Geod(ellps="WGS84").inv(lon[::2], lat[::2], lon[1::2], lat[1::2])
    ground = float(np.mean(sides))
    if system.map_unit_m is not None:
        a, b, _, d, e, _ = transform
        on_map = 0.5 * (math.hypot(a, d) + math.hypot(b, e)) * system.map_unit_m
        if abs(on_map - ground) <= TRUE_SCALE * ground:
            return on_map
    return ground
