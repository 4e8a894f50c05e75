"""The bilinear surface under pieces of a leg that stay in one cell: a quadratic each."""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.value import dataclass

__all__ = ["CellPieces", "extra_points", "over_cells"]

NEGLIGIBLE_WEIGHT = 1e-7
"""Bilinear weight up to which a corner may be missing [-]: rounding of a line through centres."""

MOST_STEPS = 4096
"""Most equal steps within one piece [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CellPieces:
    """Heights over pieces of legs, each ``level + rise x + bend x**2`` for x from 0 to 1 [m]."""

    level: FloatArray
    rise: FloatArray
    bend: FloatArray
    missing: BoolArray

    def height_m(self, piece: IntArray, share: FloatArray) -> FloatArray:
        """Return heights at shares of pieces [m]."""
        return self.level[piece] + share * (self.rise[piece] + share * self.bend[piece])


def over_cells(
    corners: FloatArray,
    row: FloatArray,
    col: FloatArray,
    drow: FloatArray,
    dcol: FloatArray,
) -> CellPieces:
    """Return the quadratics over pieces that begin at ``row``, ``col`` within their cells.

    Parameters
    ----------
    corners : FloatArray, shape (4, n)
        Elevations at (0, 0), (0, 1), (1, 0) and (1, 1) of each cell; NaN = missing [m]
    row, col : FloatArray, shape (n,)
        Where each piece begins, from the cell's upper left corner [cells]
    drow, dcol : FloatArray, shape (n,)
        How far each piece goes [cells]

    Returns
    -------
    CellPieces
        A piece is missing where a missing corner has weight somewhere along it

    Notes
    -----
    With a, b, c, d the bilinear coefficients, z = a + b col + c row + d row col; along a straight
    piece row and col are linear in x, so z is a quadratic with the second coefficient d drow dcol.

    Examples
    --------
    >>> import numpy as np
    >>> one = np.array([0.0])
    >>> saddle = over_cells(np.array([[0.0], [1.0], [1.0], [0.0]]), one, one, one + 1, one + 1)
    >>> saddle.height_m(np.array([0]), np.array([0.5]))
    array([0.5])
    """
    missing = np.zeros(row.shape, dtype=np.bool_)
    broken = np.flatnonzero(np.isnan(corners).any(axis=0))
    if broken.size:
        corners = corners.copy()
        filled, lost = _without_weightless(
            corners[:, broken], row[broken], col[broken], drow[broken], dcol[broken]
        )
        corners[:, broken] = filled
        missing[broken] = lost
    level = corners[0]
    by_col = corners[1] - level
    by_row = corners[2] - level
    twist = corners[3] - corners[2] - by_col
    return CellPieces(
        level=level + by_col * col + (by_row + twist * col) * row,
        rise=(by_col + twist * row) * dcol + (by_row + twist * col) * drow,
        bend=twist * drow * dcol,
        missing=missing,
    )


def extra_points(pieces: CellPieces, tolerance_m: float) -> tuple[IntArray, FloatArray]:
    """Return the turning points of the quadratics and the steps that keep chords close to them.

    Parameters
    ----------
    pieces : CellPieces
        The quadratics
    tolerance_m : float
        How far a chord may leave the surface, > 0 [m]

    Returns
    -------
    piece, share : IntArray and FloatArray, shape (k,)
        Points strictly inside their pieces, in no order; a missing piece gets its middle

    Notes
    -----
    A chord over the share h of a quadratic leaves it by abs(bend) h**2 / 4 in its middle.
    """
    bend, rise = pieces.bend, pieces.rise
    bent = (bend != 0.0) & ~pieces.missing
    turn = np.zeros(bend.shape)
    np.divide(-0.5 * rise, bend, out=turn, where=bent)
    turning = np.flatnonzero((turn > 0.0) & (turn < 1.0))
    steps = np.sqrt(np.abs(bend) * (0.25 / tolerance_m))
    steps[pieces.missing] = 2.0
    # Each piece is one part, and two where it turns; parts are cut into equal steps.
    part = np.concatenate([np.arange(bend.size), turning])
    begin = np.concatenate([np.zeros(bend.size), turn[turning]])
    length = np.concatenate([np.ones(bend.size), 1.0 - turn[turning]])
    length[turning] = turn[turning]
    count = np.minimum(np.ceil(steps[part] * length - 1e-9), MOST_STEPS).astype(np.int64)
    cuts = np.maximum(count - 1, 0)
    cut = np.repeat(np.arange(part.size), cuts)
    nth = np.arange(cut.size) - np.repeat(np.cumsum(cuts) - cuts, cuts) + 1
    share = begin[cut] + length[cut] * (nth / count[cut])
    return (
        np.concatenate([turning, part[cut]]),
        np.concatenate([turn[turning], share]),
    )


def _without_weightless(
    corners: FloatArray, row: FloatArray, col: FloatArray, drow: FloatArray, dcol: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Return corners with weightless missing ones filled, and which pieces are missing."""
    heaviest = np.zeros(corners.shape)
    for share in (0.0, 0.5, 1.0):
        r, c = row + share * drow, col + share * dcol
        weights = np.stack([(1 - r) * (1 - c), (1 - r) * c, r * (1 - c), r * c])
        np.maximum(heaviest, weights, out=heaviest)
    gone = np.isnan(corners)
    lost = np.asarray((gone & (heaviest > NEGLIGIBLE_WEIGHT)).any(axis=0))
    known = np.where(gone, 0.0, corners).sum(axis=0) / np.maximum((~gone).sum(axis=0), 1)
    return np.where(gone, known, corners), lost
