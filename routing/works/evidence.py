"""How well an explanation fits readings: the weight of each size and place it may have."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import FloatArray
from routing.value import dataclass

__all__ = ["Fitted", "Guesses", "fit", "log_sum"]

FAR_OUT = 30.0
"""Standard deviations from which the tail is taken by its series, whose next term is 2e-12 [-]."""
_ERFC = np.frompyfunc(math.erfc, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guesses:
    """One explanation in all the places and sizes tried, (n,) guesses, (m,) readings that may be.

    ``effect_m`` (n, m) is what it adds to the heads; ``slope_m`` (n, m) what each metre of one
    more size adds, which may be from 0 to ``most_m`` (n,), every size as likely as any other:
    ``per_m`` is how likely. ``weight`` (n,) is that of each guess, summing to at most 1. ``place``
    (n, 2) are its stations, ``size`` (n,) and ``limb`` (n,) what the effect was made with.
    """

    causes: tuple[str, ...]
    effect_m: FloatArray
    weight: FloatArray
    place: FloatArray
    size: FloatArray
    limb: FloatArray
    slope_m: FloatArray | None = None
    most_m: FloatArray | None = None
    per_m: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """An explanation held against the readings, by guess (n,).

    ``log_weight`` is the logarithm of how likely the readings are with each guess, ``best_m`` the
    best of its further size, ``heads_m`` (n, m) what it adds then; ``misfit`` is what it then
    leaves over, in standard errors, squared and summed.
    """

    guesses: Guesses
    log_weight: FloatArray
    best_m: FloatArray
    heads_m: FloatArray
    misfit: FloatArray

    @property
    def total(self) -> float:
        """Return the logarithm of the explanation's whole weight."""
        return log_sum(self.log_weight)


def log_sum(values: FloatArray) -> float:
    """Return the logarithm of the sum of the exponentials of values.

    >>> import numpy as np
    >>> round(log_sum(np.log([1.0, 2.0])), 6) == round(float(np.log(3.0)), 6)
    True
    """
    most = float(np.max(values))
    return most + float(np.log(np.sum(np.exp(values - most))))


def fit(guesses: Guesses, seen_m: FloatArray, read: list[int], inverse: FloatArray) -> Fitted:
    r"""Hold an explanation against readings.

    .. math::
        w = \int_0^{x_\mathrm{max}} \exp\left[-\tfrac12 (r - a x)^T C^{-1} (r - a x)\right]
            \frac{dx}{X}

    Parameters
    ----------
    guesses : Guesses
        What it adds to the heads
    seen_m : array, shape (k,)
        Heads read less those predicted [m]
    read : list of int
        Which of the readings that may be they are [-]
    inverse : array, shape (k, k)
        Inverse of their covariance [1/m2]

    Returns
    -------
    fitted : Fitted
        Weights and best sizes

    Notes
    -----
    The integral over the further size is taken exactly: a normal density cut off at both ends.
    Checked by ``tests/routing/works/test_diagnose.py``.
    """
    rest = seen_m - guesses.effect_m[:, read]
    weighted = rest @ inverse
    square = np.einsum("ij,ij->i", weighted, rest)
    best = np.zeros(rest.shape[0])
    log = np.log(guesses.weight) - 0.5 * square
    heads = guesses.effect_m
    if guesses.slope_m is not None and guesses.most_m is not None:
        slope = guesses.slope_m[:, read]
        stiff = np.maximum(np.einsum("ij,ij->i", slope @ inverse, slope), 1e-12)
        middle = np.einsum("ij,ij->i", weighted, slope) / stiff
        root = np.sqrt(stiff)
        inside = _log_between(-middle * root, (guesses.most_m - middle) * root)
        log = log + 0.5 * stiff * middle**2 + 0.5 * np.log(2.0 * np.pi / stiff) + inside
        log = log + np.log(guesses.per_m)
        best = np.clip(middle, 0.0, guesses.most_m)
        heads = heads + guesses.slope_m * best[:, None]
        left = rest - slope * best[:, None]
        square = np.einsum("ij,ij->i", left @ inverse, left)
    return Fitted(
        guesses=guesses,
        log_weight=log,
        best_m=best,
        heads_m=heads,
        misfit=square,
    )


def _log_between(low: FloatArray, high: FloatArray) -> FloatArray:
    """Return the logarithm of the normal probability between two bounds, also far out."""
    flip = low > 0.0
    a, b = np.where(flip, -high, low), np.where(flip, -low, high)
    # Both bounds now lie so that the upper one's tail is the greater.
    upper, lower = _log_normal(b), _log_normal(a)
    gap = np.minimum(lower - upper, -1e-300)
    return np.asarray(upper + np.log(-np.expm1(gap)))


def _log_normal(values: FloatArray) -> FloatArray:
    """Return the logarithm of the normal distribution, also far out in its lower tail.

    Beyond ``FAR_OUT`` by the series of Mills' ratio (Abramowitz and Stegun 1964, 26.2.12).

    >>> _log_normal(np.array([0.0, -60.0])).round(6).tolist()
    [-0.693147, -1805.013561]
    """
    x = np.clip(values, -FAR_OUT, FAR_OUT)
    tail = 0.5 * np.asarray(_ERFC(np.abs(x) / np.sqrt(2.0)), dtype=np.float64)
    near = np.where(x > 0.0, np.log1p(-tail), np.log(tail))
    far = np.minimum(values, -FAR_OUT)
    over = far**-2.0
    series = 1.0 - over * (1.0 - 3.0 * over * (1.0 - 5.0 * over * (1.0 - 7.0 * over)))
    beyond = -0.5 * far**2 - np.log(-far) - 0.5 * np.log(2.0 * np.pi) + np.log(series)
    return np.where(values < -FAR_OUT, beyond, near)
