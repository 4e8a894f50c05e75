"""The height between the centres of cells, for the compiled loops of searches and valleys."""

from __future__ import annotations

from typing import Any

from routing.compiled import inner_kernel

__all__ = ["between_cells"]


@inner_kernel
def between_cells(heights: Any, row: Any, col: Any) -> Any:
    """Return the bilinear height at a row and column [cells], clamped to the rim.

    ``heights`` has shape (rows, cols), two of each at least; a corner that is NaN makes it NaN.

    >>> import numpy as np
    >>> float(between_cells.python(np.array([[0.0, 1.0], [2.0, 3.0]]), 0.5, 0.5))
    1.5
    """
    rows, cols = heights.shape
    r = min(max(row, 0.0), rows - 1.0)
    c = min(max(col, 0.0), cols - 1.0)
    i = min(int(r), rows - 2)
    j = min(int(c), cols - 2)
    u = r - i
    v = c - j
    upper = heights[i, j] * (1.0 - v) + heights[i, j + 1] * v
    lower = heights[i + 1, j] * (1.0 - v) + heights[i + 1, j + 1] * v
    return upper * (1.0 - u) + lower * u
