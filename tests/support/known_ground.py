"""Grounds that are known, and rasters of them with errors that are known: for tests of doubt.

A ground is a random field drawn four times as fine as the raster's cells; a raster is its mean over
each cell, plus an error alike over a range, rounded to a step. Nothing here knows the house's own
model: fields are drawn on the plane by their spectrum.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

FINER = 4


@dataclass(frozen=True, kw_only=True)
class KnownLine:
    """A line over a raster and over the true ground beneath it; all in m, shape (n,)."""

    station_m: np.ndarray
    raster_m: np.ndarray
    truth_m: np.ndarray
    cell_m: float


def field(shape, step, spectrum, rng):
    """Return a random field of unit variance with a spectrum over wave numbers [1/m]."""
    ky = 2.0 * np.pi * np.fft.fftfreq(shape[0], step)
    kx = 2.0 * np.pi * np.fft.rfftfreq(shape[1], step)
    wave = np.hypot(ky[:, None], kx[None, :])
    wave[0, 0] = 1.0  # not the level
    power = spectrum(wave)
    power[0, 0] = 0.0
    noise = np.fft.rfft2(rng.standard_normal(shape))
    values = np.fft.irfft2(noise * np.sqrt(power), shape)
    return values / values.std()


def self_affine(hurst):
    """Return the spectrum of a surface that looks alike at every scale: Hurst's exponent."""
    return lambda k: k ** (-2.0 * (hurst + 1.0))


GROUNDS = {
    # Hills of every size with smooth slopes below 40 m, as landscapes have; rolling hills; and
    # rough ground.
    "fractal": lambda k: (1e-6 + k**2) ** -1.9 * np.exp(-0.5 * (40.0 * k) ** 2),
    "rolling": lambda k: ((1.0 / 150.0) ** 2 + k**2) ** -3.0,
    "smooth": lambda k: np.exp(-0.5 * (90.0 * k) ** 2),
    "rough": lambda k: (1e-6 + k**2) ** -1.9,
    # Alike at every scale, as mountains are taken to be (Hurst exponents of 0.6 to 0.9).
    **{f"self-affine {hurst}": self_affine(hurst) for hurst in (0.6, 0.7, 0.8, 0.9)},
}


def exponential_error(shape, cell, range_m, rng):
    """Return an error of unit variance on cells whose covariance is exp(-distance / range)."""
    apart = [cell * np.minimum(np.arange(n), n - np.arange(n)) for n in shape]
    alike = np.exp(-np.hypot(apart[0][:, None], apart[1][None, :]) / range_m)
    power = np.maximum(np.fft.rfft2(alike).real, 0.0)
    return np.fft.irfft2(np.fft.rfft2(rng.standard_normal(shape)) * np.sqrt(power), shape)


def bilinear(grid, row, col):
    r, c = np.floor(row).astype(int), np.floor(col).astype(int)
    v, u = row - r, col - c
    return (
        grid[r, c] * (1 - v) * (1 - u) + grid[r, c + 1] * (1 - v) * u
        + grid[r + 1, c] * v * (1 - u) + grid[r + 1, c + 1] * v * u
    )  # fmt: skip


def known_line(
    seed, *, kind="rough", cell_m=30.0, relief_m=12.0, fall=0.06, sigma_m=1.6, range_m=100.0,
    step_m=0.0, cells=96,
):  # fmt: skip
    """Return a line across a raster of known ground, about ``cells`` cells long."""
    rng = np.random.default_rng(seed)
    rows = 64
    across = 2 ** int(np.ceil(np.log2(cells * 1.15)))
    fine = cell_m / FINER
    truth = relief_m * field((rows * FINER, across * FINER), fine, GROUNDS[kind], rng)
    truth = truth + 1000.0 - fall * fine * np.arange(across * FINER)
    raster = truth.reshape(rows, FINER, across, FINER).mean(axis=(1, 3))
    if sigma_m:
        raster = raster + sigma_m * exponential_error(raster.shape, cell_m, range_m, rng)
    if step_m:
        raster = np.round(raster / step_m) * step_m
    # A line of two legs, in units of cells.
    turn = rng.uniform(0.2, 0.8, 3) * rows
    bend = rng.uniform(0.4, 0.6) * cells
    legs = np.array([[2.0, turn[0]], [bend, turn[1]], [cells, turn[2]]])
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(legs, axis=0).T))])
    at = np.arange(0.0, length[-1], 1.0 / 8.0)
    col, row = np.interp(at, length, legs[:, 0]), np.interp(at, length, legs[:, 1])
    centre = (FINER - 1) / 2.0
    return KnownLine(
        station_m=at * cell_m,
        raster_m=bilinear(raster, row, col),
        truth_m=bilinear(truth, FINER * row + centre, FINER * col + centre),
        cell_m=cell_m,
    )
