"""Allievi's chain: the heads at the valve of one frictionless pipe, one critical time apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError

__all__ = ["allievi_chain"]


def allievi_chain(pipeline_constant: float, opening: Sequence[float]) -> FloatArray:
    r"""Return the head at the valve at every whole critical time, as a share of the static head.

    .. math::
        h_i^2 + h_{i-1}^2 - 2 = 2 \rho (\tau_{i-1} h_{i-1} - \tau_i h_i), \quad h^2 = H / H_0

    Parameters
    ----------
    pipeline_constant : float
        a V / (2 g H) with the velocity of the fully open valve, > 0 [-]
    opening : sequence of float
        Relative opening at 0, Tc, 2 Tc..., >= 0; the flow is steady at the first [-]

    Returns
    -------
    head_ratio : FloatArray
        H / H0 at the same times, (n,) [-]

    Raises
    ------
    InputError
        If an argument is outside the bound given above, or the head falls below the outlet, where
        the chain ends.

    Notes
    -----
    Valid for: one pipe without friction, discharging freely; between whole critical times the head
    may be higher when the law of the valve is not straight.
    Checked by ``tests/reference/test_surge.py``.

    Examples
    --------
    >>> allievi_chain(0.7648, [1.0, 0.8, 0.6, 0.4]).tolist()
    [1.0, 1.193, 1.1566, 1.1689]

    References
    ----------
    .. [1] L. Allievi. *Theory of Water-Hammer*, 1925, from memory.
    """
    if not (math.isfinite(pipeline_constant) and pipeline_constant > 0.0):
        raise InputError(
            f"The pipeline constant is {pipeline_constant:g}.", "Give a constant above zero."
        )
    if not opening or any(not (math.isfinite(each) and each >= 0.0) for each in opening):
        raise InputError("An opening of the valve is negative or missing.", "Give openings >= 0.")
    roots = [1.0]
    for before, now in pairwise(opening):
        last = roots[-1]
        inside = (
            (pipeline_constant * now) ** 2 + 2.0 - last**2 + 2.0 * pipeline_constant * before * last
        )
        root = math.sqrt(max(inside, 0.0)) - pipeline_constant * now
        if inside < 0.0 or root < 0.0:
            raise InputError(
                f"The head falls below the outlet after opening to {now:g}.",
                "Open more slowly, or run the method of characteristics.",
            )
        roots.append(root)
    return frozen(np.square(roots))
