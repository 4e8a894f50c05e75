"""Small helpers for the arrays that frozen values carry."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["BoolArray", "FloatArray", "IntArray", "frozen", "stretches"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def frozen(values: ArrayLike, dtype: Any = np.float64) -> NDArray[Any]:
    """Return ``values`` as a C-ordered array of ``dtype`` that nobody can write to.

    An array that is already so is returned as it is; any other is copied, so the caller's own
    array stays writable.
    """
    array = np.asarray(values)
    if array.dtype == dtype and array.flags.c_contiguous and not array.flags.writeable:
        return array
    array = np.array(values, dtype=dtype, order="C")
    array.flags.writeable = False
    return array


def stretches(mask: BoolArray) -> list[tuple[int, int]]:
    """Return the first and last index of each run of True, in order.

    >>> stretches(np.array([True, True, False, True]))
    [(0, 1), (3, 3)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False]))))
    return [
        (first, stop - 1)
        for first, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    ]
