"""Grounds that the raster's profile allows: drawn at random, given what it says."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.arrays import FloatArray
from routing.doubt.prior import TABLE, GroundPrior
from routing.doubt.spectra import (
    Knots,
    covariance,
    error_spectrum,
    ground_spectrum,
    interpolation_gain,
    window_gain,
)

__all__ = ["drawn_grounds"]

REACH = 32
"""Knots to either side that tell of the ground at a place."""

BLOCK = 32
"""Knots whose ground is worked out at a time."""

SHORT = 4 * REACH
"""Lines of up to so many knots are worked out in one piece."""


def drawn_grounds(
    knots: Knots, priors: Sequence[GroundPrior], each: int, rng: np.random.Generator
) -> FloatArray:
    """Return grounds drawn given the profile, ``each`` for every way the ground may be.

    Parameters
    ----------
    knots : Knots
        The profile, one knot a cell
    priors : sequence of GroundPrior
        Ways the ground may be
    each : int
        Grounds for each of them
    rng : Generator
        Random numbers

    Returns
    -------
    ground_m : array, shape (fine points, grounds)
        Elevations ``knots.fine_m`` apart from the first knot to the last [m]

    Notes
    -----
    A ground and an error are drawn without looking at the profile; what the raster would have
    shown of them is compared with what it shows, and the difference carried over by the best
    linear unbiased weights with level and grade free (conditioning by kriging). The weights reach
    32 knots to either side, which is all that counts, so that the work grows as the line does.
    """
    count = knots.height_m.size
    fine = (count - 1) * knots.per_cell + 1
    longest = max(prior.length_m for prior in priors)
    pad = int(4.0 * max(longest, knots.range_m) / knots.fine_m)
    points = _even(fine + pad)
    ground = np.empty((fine, each * len(priors)))
    gain = window_gain(knots, points) * interpolation_gain(knots, points)
    for index, prior in enumerate(priors):
        own = slice(index * each, (index + 1) * each)
        waves = ground_spectrum(knots, prior.length_m, prior.smoothness, points)
        waves = waves * prior.size_m**2
        errors = error_spectrum(knots, prior.error_size, prior.error_reach, points)
        free = _coloured(waves, points, each, rng)
        truth = np.fft.irfft(free, points, axis=1)[:, :fine].T
        shown = np.fft.irfft(free * gain + _coloured(errors, points, each, rng), points, axis=1)
        missing = knots.height_m[:, None] - shown[:, : fine : knots.per_cell].T
        ground[:, own] = truth + _carried(missing, knots, prior)
    return ground


def _even(points: int) -> int:
    """Return the next product of 2, 3 and 5 that is even: transforms of it are quick."""
    best = 1 << (points - 1).bit_length()
    for threes in (1, 3, 9):
        for fives in (1, 5, 25):
            base = threes * fives
            size = base << max(-(-points // base) - 1, 1).bit_length()
            best = min(best, size) if size >= points else best
    return best


def _coloured(spectrum: FloatArray, points: int, each: int, rng: np.random.Generator) -> np.ndarray:
    """Return the transforms of ``each`` random series of a spectrum, (each, points // 2 + 1)."""
    pair = rng.standard_normal((each, spectrum.size, 2))
    free = pair.view(np.complex128)[..., 0]
    free[:, [0, -1]] = free[:, [0, -1]].real * np.sqrt(2.0)
    return free * np.sqrt(0.5 * points * spectrum)


def _carried(missing: FloatArray, knots: Knots, prior: GroundPrior) -> FloatArray:
    """Return what the differences at knots, (knots, draws), say of the fine points."""
    per, count = knots.per_cell, missing.shape[0]
    fine = (count - 1) * per + 1
    waves = ground_spectrum(knots, prior.length_m, prior.smoothness, TABLE) * prior.size_m**2
    errors = error_spectrum(knots, prior.error_size, prior.error_reach, TABLE)
    gain = window_gain(knots, TABLE) * interpolation_gain(knots, TABLE)
    shown = covariance(waves * gain**2 + errors, TABLE)[::per]
    cross = covariance(waves * gain, TABLE)
    if count <= SHORT:
        return _weights(shown, cross, count, np.arange(fine), per) @ missing
    size = 2 * REACH + 1
    out = np.empty((fine, missing.shape[1]))
    ends = REACH * per
    out[:ends] = _weights(shown, cross, size, np.arange(ends), per) @ missing[:size]
    last = np.arange(ends + 1, (size - 1) * per + 1)
    out[fine - ends :] = _weights(shown, cross, size, last, per) @ missing[-size:]
    middle = _weights(shown, cross, size, REACH * per + np.arange(per), per)
    wide = np.zeros((BLOCK * per, BLOCK + size - 1))
    for knot in range(BLOCK):
        wide[knot * per : (knot + 1) * per, knot : knot + size] = middle
    centres = count - 2 * REACH
    for begin in range(0, centres, BLOCK):
        some = min(BLOCK, centres - begin)
        part = wide[: some * per, : some + size - 1] @ missing[begin : begin + some + size - 1]
        at = ends + begin * per
        part = part[: fine - ends - at]  # the last knot has no steps behind it
        out[at : at + part.shape[0]] = part
    return out


def _weights(
    shown: FloatArray, cross: FloatArray, count: int, places: np.ndarray, per: int
) -> FloatArray:
    """Return the weights of ``count`` knots for fine places counted from the first of them."""
    at = np.arange(count)
    known = shown[np.abs(np.subtract.outer(at, at))]
    towards = cross[np.abs(np.subtract.outer(at * per, places))]
    line = np.column_stack([np.ones(count), at / count])
    aim = np.stack([np.ones(places.size), places / (per * count)])
    solved = np.linalg.solve(known, np.concatenate([towards, line], axis=1))
    weight, level = solved[:, : places.size], solved[:, places.size :]
    free = np.linalg.solve(line.T @ level, aim - line.T @ weight)
    return np.asarray((weight + level @ free).T)
