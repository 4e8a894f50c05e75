"""The pressure that blocks and supports must hold."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError

__all__ = ["governing_pressure"]


def governing_pressure(
    static_pa: FloatArray,
    *,
    surge_pa: FloatArray | None = None,
    test_pa: FloatArray | None = None,
) -> tuple[FloatArray, tuple[str, ...]]:
    """Return at each station the pressure that blocks must hold, and which it is.

    Parameters
    ----------
    static_pa : FloatArray
        Pressure of the water at rest, shape (n,) [Pa]
    surge_pa : FloatArray, optional
        Rise above it, shape (n,) [Pa]
    test_pa : FloatArray, optional
        Pressure of the test, shape (n,) [Pa]

    Returns
    -------
    pressure_pa, which : FloatArray, tuple of str
        The greater of test and static with surge, never below zero, shape (n,) [Pa]; and "test",
        "static and surge" or "static"

    Raises
    ------
    InputError
        If the shapes differ.

    Notes
    -----
    Valid for: pressures above that of the air. Without surge and test the blocks hold the water at
    rest and no more: both should be given.
    Checked by ``tests/routing/anchors/test_place.py``.

    Examples
    --------
    >>> pressure, which = governing_pressure(np.array([0.0, 4e5]), test_pa=np.array([2e5, 3e5]))
    >>> pressure.tolist(), which
    ([200000.0, 400000.0], ('test', 'static'))

    References
    ----------
    .. [1] Common practice, no source.
    """
    shape = np.shape(static_pa)
    for name, values in (("surge_pa", surge_pa), ("test_pa", test_pa)):
        if values is not None and np.shape(values) != shape:
            raise InputError(
                f"{name} has shape {np.shape(values)}, but static_pa has {shape}.",
                "Give one value per station.",
            )
    rest = np.asarray(static_pa, dtype=np.float64)
    running = rest if surge_pa is None else rest + np.maximum(surge_pa, 0.0)
    word = "static" if surge_pa is None else "static and surge"
    pressure = running if test_pa is None else np.maximum(running, test_pa)
    which = tuple("test" if more else word for more in (pressure > running).tolist())
    return frozen(np.maximum(pressure, 0.0)), which
