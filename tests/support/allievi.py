"""Heads at the valve of one frictionless pipe, one critical time apart.

Source: L. Allievi, Theory of Water-Hammer, 1925, from memory:
h_i^2 + h_(i-1)^2 - 2 = 2 rho (tau_(i-1) h_(i-1) - tau_i h_i) with h^2 = H / H0, rho = a V / 2 g H0.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np


def allievi_chain(pipeline_constant: float, opening: Sequence[float]) -> np.ndarray:
    """Return H / H0 at every whole critical time, for the openings tau at those times."""
    roots = [1.0]
    for before, now in pairwise(opening):
        last, drop = roots[-1], pipeline_constant * now
        inside = drop**2 + 2.0 - last**2 + 2.0 * pipeline_constant * before * last
        roots.append(math.sqrt(inside) - drop)
    return np.square(roots)
