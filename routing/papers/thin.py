"""Thinning for drawing only: the fewest points that draw the same lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.arrays import FloatArray, IntArray

__all__ = ["thinned"]


def thinned(
    x: FloatArray,
    lines: Sequence[FloatArray],
    tolerance: Sequence[float],
    keep: IntArray | None = None,
) -> IntArray:
    """Return the indices to draw of several lines over the same ``x``.

    Straight pieces between the kept points stay within ``tolerance[k]`` of ``lines[k]``, measured
    along y. Points where a line begins or ends being missing (NaN) are kept, and so are those of
    ``keep``. Each pass splits all pieces that are still too coarse at their worst point, at once.

    >>> x = np.arange(5.0)
    >>> thinned(x, [np.array([0.0, 1.0, 2.0, 3.0, 0.0])], [0.1])
    array([0, 3, 4])
    """
    count = len(x)
    chosen = np.zeros(count, dtype=bool)
    chosen[[0, -1]] = True
    if keep is not None:
        chosen[keep] = True
    values = []
    for line in lines:
        missing = np.isnan(line)
        change = np.flatnonzero(missing[1:] != missing[:-1])
        chosen[change] = chosen[change + 1] = True
        values.append(np.where(missing, 0.0, line))
    while True:
        kept = np.flatnonzero(chosen)
        starts = kept[:-1]
        excess = np.zeros(count)
        for line, allowed in zip(values, tolerance, strict=True):
            np.maximum(
                excess, np.abs(line - np.interp(x, x[kept], line[kept])) / allowed, out=excess
            )
        worst = np.maximum.reduceat(excess, starts) if len(starts) else np.zeros(0)
        split = worst > 1.0
        if not split.any():
            return kept
        piece = np.repeat(np.arange(len(starts)), np.diff(kept))
        peaks = np.flatnonzero((excess[:-1] == worst[piece]) & split[piece])
        # One point per piece: the first of equal peaks.
        chosen[peaks[np.unique(piece[peaks], return_index=True)[1]]] = True
