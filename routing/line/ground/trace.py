"""The surface of one grid along the legs of a line, point by point, with what is missing."""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.line.ground.crossings import edge_crossings, grid_crossings
from routing.line.ground.legs import Legs
from routing.line.ground.surface import extra_points, over_cells
from routing.terrain import GridWindow, Terrain, read_corners
from routing.value import dataclass

__all__ = ["ASKED", "FREE", "VERTEX", "Trace", "trace_grid"]

VERTEX, ASKED, FREE = 0, 1, 2
"""Ranks of points: where two merge, the lower one stays."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """Points along a line, in order, with the ground beneath; all arrays have shape (n,).

    ``missing`` and ``grid`` speak of the stretch from each point to the next: whether its ground
    is missing, and which of the terrain's grids it comes from; their last value means nothing. The
    height of a point between a known and a missing stretch is that of the known one. ``leap_m`` is
    what the next grid's ground at a point differs from the height kept, 0 elsewhere.
    """

    station: FloatArray
    lon: FloatArray
    lat: FloatArray
    ground: FloatArray
    rank: IntArray
    missing: BoolArray
    grid: IntArray
    leap_m: FloatArray

    def gaps(self) -> list[tuple[int, int]]:
        """Return the first and last point of each run of missing stretches."""
        gone = self.missing[:-1].astype(np.int8)
        edges = np.diff(gone, prepend=0, append=0)
        firsts, lasts = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
        return list(zip(firsts.tolist(), lasts.tolist(), strict=True))


def trace_grid(
    terrain: Terrain,
    legs: Legs,
    *,
    vertex_rank: IntArray,
    wanted_m: FloatArray,
    window: GridWindow | None,
    chord_tolerance_m: float,
    whole: bool,
) -> Trace:
    """Return the surface of the terrain's own grid along legs, exact between neighbouring points.

    ``whole`` says that the grid has cells everywhere beneath the line; where it has not, stretches
    beside its tiles are missing.
    """
    leg, share, rank = _break_points(terrain, legs, vertex_rank, wanted_m, whole)

    # Pieces between neighbouring breaks lie in one cell each; they end where the next begins.
    to = np.where(leg[1:] == leg[:-1], share[1:], 1.0)
    piece_leg, begin = leg[:-1], share[:-1]
    row0, col0 = legs.row0[piece_leg], legs.col0[piece_leg]
    drow, dcol = legs.drow[piece_leg], legs.dcol[piece_leg]
    middle = 0.5 * (begin + to)
    mid_row, mid_col = row0 + drow * middle, col0 + dcol * middle
    cell_row = np.clip(np.floor(mid_row), -1, terrain.shape[0] - 1)
    cell_col = np.clip(np.floor(mid_col), -1, terrain.shape[1] - 1)
    rows, cols = cell_row.astype(np.int64), cell_col.astype(np.int64)
    if whole:
        corners = _corners(terrain, window, rows, cols)
    else:
        tile = terrain.index.owners_at(mid_row, mid_col)
        on = np.flatnonzero(tile >= 0)
        corners = np.full((4, tile.size), np.nan)
        corners[:, on] = read_corners(terrain, rows[on], cols[on], tile[on])
    length = to - begin
    pieces = over_cells(
        corners,
        row0 + drow * begin - cell_row,
        col0 + dcol * begin - cell_col,
        drow * length,
        dcol * length,
    )

    piece, within = extra_points(pieces, chord_tolerance_m)
    last = np.array([begin.size - 1])
    all_piece = np.concatenate([np.arange(begin.size), last, piece])
    all_within = np.concatenate([np.zeros(begin.size), [1.0], within])
    all_rank = np.concatenate([rank, np.full(piece.size, FREE)])
    order = np.argsort(all_piece + 0.5 * all_within, kind="stable")
    all_piece, all_within, all_rank = all_piece[order], all_within[order], all_rank[order]
    lon, lat, station = legs.place(
        piece_leg[all_piece], begin[all_piece] + length[all_piece] * all_within
    )
    ground = pieces.height_m(all_piece, all_within)
    missing = pieces.missing[all_piece]
    if missing.any():
        after_known = np.flatnonzero(missing[1:] & ~missing[:-1]) + 1
        # The last point of all begins no piece; it has its height already.
        after_known = after_known[all_within[after_known] == 0.0]
        ground[after_known] = pieces.height_m(all_piece[after_known] - 1, np.ones(after_known.size))
    return Trace(
        station=station,
        lon=lon,
        lat=lat,
        ground=ground,
        rank=all_rank,
        missing=missing,
        grid=np.zeros(station.size, dtype=np.int64),
        leap_m=np.zeros(station.size),
    )


def _break_points(
    terrain: Terrain, legs: Legs, vertex_rank: IntArray, wanted_m: FloatArray, whole: bool
) -> tuple[IntArray, FloatArray, IntArray]:
    """Return leg, share and rank of vertices, wanted stations and crossings, in order."""
    count = legs.row0.size
    rows, cols = terrain.shape
    found_leg, found_share = legs.find(wanted_m)
    parts: list[tuple[IntArray, FloatArray, IntArray]] = [
        (np.append(np.arange(count), count - 1), np.append(np.zeros(count), 1.0), vertex_rank),
        (found_leg, found_share, np.full(found_leg.size, ASKED)),
    ]
    crossings = [
        grid_crossings(legs.row0, legs.drow, rows - 1),
        grid_crossings(legs.col0, legs.dcol, cols - 1),
    ]
    if not whole:
        index = terrain.index
        crossings += [
            edge_crossings(legs.row0, legs.drow, index.row_edges.astype(np.float64) - 0.5),
            edge_crossings(legs.col0, legs.dcol, index.col_edges.astype(np.float64) - 0.5),
        ]
    parts += [(leg, share, np.full(leg.size, FREE)) for leg, share in crossings]
    leg, share, rank = (np.concatenate(column) for column in zip(*parts, strict=True))
    # Half the share, so that the end of a leg never ties with the start of the next.
    order = np.argsort(leg + 0.5 * share, kind="stable")
    return leg[order], share[order], rank[order]


def _corners(
    terrain: Terrain, window: GridWindow | None, rows: IntArray, cols: IntArray
) -> FloatArray:
    """Return corner elevations, from memory where the window covers the line."""
    if window is not None and window.covers(rows, cols, terrain.shape):
        return window.read_corners(rows, cols)
    return read_corners(terrain, rows, cols)
