"""Which grounds are likely under a raster's profile, and how large its error is.

The ground along the line is taken as a Gaussian process whose level and grade are free, seen
through a cell and through linear interpolation between cells. What is not known (how large and how
long its waves are, how rough it is, whether the raster's error is as large and as long as told) is
weighed by how well it explains the profile.
"""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray
from routing.doubt.spectra import (
    Knots,
    covariance,
    error_spectrum,
    ground_spectrum,
    interpolation_gain,
    window_gain,
)
from routing.doubt.trade_data import limits
from routing.value import dataclass

__all__ = ["TABLE", "GroundPrior", "likely_priors"]

LENGTHS_CELLS = (1.0, 2.0, 4.0, 8.0, 16.0, 40.0)
SMOOTHNESS = (0.5, 0.7, 1.5, 6.0)
"""How smooth the ground may be below these lengths [-]: the first two as self-affine ground of that
Hurst exponent, the last without any feature smaller than its length."""
SIZES = tuple(2.0**power for power in range(-6, 4))
"""Variance of the ground's waves over what would explain the profile without any error [-]."""

BLOCK = 24
"""Knots whose bends are weighed together."""

TABLE = 2048
"""Fine points of the tables of covariance."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundPrior:
    """One way the ground may be: size, length and smoothness of its waves; multiples of the error.

    ``error_size`` and ``error_reach`` multiply the error that was told and its range.
    """

    size_m: float
    length_m: float
    smoothness: float
    error_size: float
    error_reach: float


def likely_priors(knots: Knots, count: int, rng: np.random.Generator) -> tuple[GroundPrior, ...]:
    """Return ``count`` ways the ground may be, drawn by how well each explains the profile.

    Parameters
    ----------
    knots : Knots
        The profile, at least 5 knots
    count : int
        How many, > 0
    rng : Generator
        Random numbers

    Returns
    -------
    priors : tuple of GroundPrior
        Drawn with replacement

    Notes
    -----
    Second differences of the profile know nothing of level and grade. Blocks of 24 of them are
    weighed by their normal likelihood for every length and smoothness of the ground and every
    multiple of error and range; one decomposition each serves all sizes.
    """
    bends = np.diff(knots.height_m, 2)
    block = min(BLOCK, bends.size)
    blocks = -(-bends.size // block)
    begin = np.linspace(0, bends.size - block, blocks).round().astype(np.int64)
    seen = bends[begin[:, None] + np.arange(block)]
    overlap = blocks * block / bends.size
    shapes = [(length, smooth) for length in LENGTHS_CELLS for smooth in SMOOTHNESS]
    errors = [(size, reach) for size in knots.trust.sizes for reach in knots.trust.ranges]
    waves = np.stack([_bends_of_ground(knots, *shape) for shape in shapes])
    noise = np.stack([_bends_of_error(knots, *error) for error in errors])
    whole = max(float(np.mean(bends**2)), limits().least_error_m ** 2) / waves[:, 0]
    fit = _misfit(seen, waves * whole[:, None], noise)
    against = np.array([knots.trust.against(*error) for error in errors])
    score = -0.5 * fit / overlap - against[:, None]
    chance = np.cumsum(np.exp(score - score.max()))
    # One draw in each of equal parts spreads them as the chances do.
    drawn = np.searchsorted(chance / chance[-1], (np.arange(count) + rng.random(count)) / count)
    priors = []
    for index in np.minimum(drawn, chance.size - 1).tolist():
        size, error, shape = np.unravel_index(index, score.shape)
        priors.append(
            GroundPrior(
                size_m=float(np.sqrt(SIZES[int(size)] * whole[shape])),
                length_m=shapes[int(shape)][0] * knots.cell_m,
                smoothness=shapes[int(shape)][1],
                error_size=errors[int(error)][0],
                error_reach=errors[int(error)][1],
            )
        )
    return tuple(priors)


def _misfit(seen: FloatArray, waves: FloatArray, noise: FloatArray) -> FloatArray:
    """Return minus twice the log likelihood of blocks of bends, (sizes, errors, shapes).

    ``seen`` has shape (blocks, n), ``waves`` (shapes, lags) and ``noise`` (errors, lags) are
    covariances. In the axes of the ground against the error both are independent.
    """
    blocks, count = seen.shape
    lag = np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    root = np.linalg.inv(np.linalg.cholesky(noise[:, lag]))
    rough = 2.0 * np.log(np.einsum("eii->ei", root)).sum(axis=1)
    against = root[:, None] @ waves[:, lag][None] @ root.transpose(0, 2, 1)[:, None]
    share, axes = np.linalg.eigh(against)
    values = axes.transpose(0, 1, 3, 2) @ (root @ seen.T)[:, None]
    total = 1.0 + np.array(SIZES)[:, None, None, None] * np.maximum(share, 0.0)
    power = ((values**2).sum(axis=3) / total).sum(axis=3)
    return np.asarray(power + blocks * (np.log(total).sum(axis=3) - rough[:, None]))


def _bends_of_ground(knots: Knots, length_cells: float, smoothness: float) -> FloatArray:
    """Return the covariance of second differences of a ground of unit variance, by knots apart."""
    spectrum = ground_spectrum(knots, length_cells * knots.cell_m, smoothness, TABLE)
    seen = window_gain(knots, TABLE) * interpolation_gain(knots, TABLE)
    return _second(covariance(spectrum * seen**2, TABLE)[:: knots.per_cell])


def _bends_of_error(knots: Knots, size: float, reach: float) -> FloatArray:
    """Return the covariance of second differences of the error, by knots apart [m2]."""
    spectrum = error_spectrum(knots, size, reach, TABLE)
    return _second(covariance(spectrum, TABLE)[:: knots.per_cell])


def _second(table: FloatArray) -> FloatArray:
    """Return the covariance of second differences from that of the values, by knots apart."""
    lag = np.arange(BLOCK)
    near = table[np.abs(lag - 1)] + table[lag + 1]
    return 6.0 * table[lag] - 4.0 * near + table[np.abs(lag - 2)] + table[lag + 2]
