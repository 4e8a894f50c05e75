"""Where straight legs cross the lines through cell centres of a grid."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray, IntArray

__all__ = ["edge_crossings", "grid_crossings"]


def grid_crossings(start: FloatArray, change: FloatArray, last: int) -> tuple[IntArray, FloatArray]:
    """Return each crossing of a whole number from 0 to ``last`` as leg and share of that leg.

    Parameters
    ----------
    start, change : FloatArray, shape (m,)
        Node coordinate at which each leg begins, and how far it goes [cells]
    last : int
        Last whole number that is a line of the grid [-]

    Returns
    -------
    leg : IntArray, shape (n,)
        Leg of each crossing, rising [-]
    share : FloatArray, shape (n,)
        Where on it, above 0 and below 1, rising within each leg [-]

    Examples
    --------
    >>> import numpy as np
    >>> grid_crossings(np.array([0.5, 2.5]), np.array([2.0, -1.0]), 9)
    (array([0, 0, 1]), array([0.25, 0.75, 0.5 ]))
    """
    end = start + change
    rising = change > 0.0
    low, high = np.minimum(start, end), np.maximum(start, end)
    first = np.maximum(np.floor(low) + 1.0, 0.0)
    final = np.minimum(np.ceil(high) - 1.0, float(last))
    count = np.maximum(final - first + 1.0, 0.0).astype(np.int64)
    leg = np.repeat(np.arange(start.size), count)
    nth = np.arange(leg.size) - np.repeat(np.cumsum(count) - count, count)
    line = np.where(rising[leg], first[leg] + nth, final[leg] - nth)
    share = (line - start[leg]) / change[leg]
    return leg, np.clip(share, 0.0, 1.0)


def edge_crossings(
    start: FloatArray, change: FloatArray, edges: FloatArray
) -> tuple[IntArray, FloatArray]:
    """Return each crossing of a few given lines, as leg and share of that leg, in no order.

    Examples
    --------
    >>> import numpy as np
    >>> edge_crossings(np.array([0.0]), np.array([4.0]), np.array([-0.5, 1.0, 9.5]))
    (array([0]), array([0.25]))
    """
    legs, shares = [], []
    moving = np.flatnonzero(change != 0.0)
    for edge in edges.tolist():
        share = (edge - start[moving]) / change[moving]
        inside = (share > 0.0) & (share < 1.0)
        legs.append(moving[inside])
        shares.append(share[inside])
    return np.concatenate([*legs, np.empty(0, np.int64)]), np.concatenate([*shares, np.empty(0)])
