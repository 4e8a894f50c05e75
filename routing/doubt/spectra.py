"""Ground and error as random waves along the line, and what a raster shows of them."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.doubt.trade_data import Trust, limits
from routing.value import dataclass

__all__ = [
    "Knots",
    "covariance",
    "error_spectrum",
    "ground_spectrum",
    "interpolation_gain",
    "window_gain",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Knots:
    """The profile at knots one cell apart, ``per_cell`` fine steps from one to the next.

    ``sigma_m``, ``range_m`` and ``step_m`` tell the local error of the raster, ``trust`` how far
    that is believed. ``per_cell`` is odd.
    """

    height_m: FloatArray
    cell_m: float
    per_cell: int
    sigma_m: float
    range_m: float
    step_m: float
    trust: Trust

    def __post_init__(self) -> None:
        object.__setattr__(self, "height_m", frozen(self.height_m))

    @property
    def fine_m(self) -> float:
        """Distance between the points at which grounds are drawn [m]."""
        return self.cell_m / self.per_cell


def ground_spectrum(knots: Knots, length_m: float, smoothness: float, points: int) -> FloatArray:
    """Return the spectrum of a ground of unit variance on ``points`` fine points (Matern)."""
    turn = 2.0 * smoothness * (knots.fine_m / length_m) ** 2
    return _of_unit_variance((turn + _waves(points) ** 2) ** -(smoothness + 0.5), points)


def error_spectrum(knots: Knots, size: float, reach: float, points: int) -> FloatArray:
    """Return the spectrum of the profile's error on ``points`` fine points [m2].

    ``size`` and ``reach`` multiply the error and the range that were told. The local part falls off
    exponentially along the line; rounding differs from cell to cell. Both are interpolated between
    cells, along the line and across it.
    """
    numbers = limits()
    range_m = reach * knots.range_m
    alike = np.exp(-knots.cell_m / range_m)
    across = (2.0 + alike) / 3.0 if knots.per_cell > 1 else 1.0
    keep = np.exp(-knots.fine_m / range_m)
    local = (1.0 - keep * keep) / (1.0 - 2.0 * keep * np.cos(_waves(points)) + keep * keep)
    seen = interpolation_gain(knots, points) ** 2
    rounding = numbers.interpolated_share * knots.step_m**2 / 12.0 + numbers.least_error_m**2
    variance = (size * knots.sigma_m) ** 2 * across
    whole: FloatArray = variance * local * seen + rounding * _of_unit_variance(seen, points)
    return whole


def window_gain(knots: Knots, points: int) -> FloatArray:
    """Return what a mean over one cell leaves of each wave [-]."""
    window = np.zeros(points)
    window[: knots.per_cell] = 1.0 / knots.per_cell
    return np.asarray(np.fft.rfft(np.roll(window, -(knots.per_cell // 2))).real)


def interpolation_gain(knots: Knots, points: int) -> FloatArray:
    """Return what linear interpolation between cells leaves of each wave [-]."""
    return window_gain(knots, points) ** 2


def covariance(spectrum: FloatArray, points: int) -> FloatArray:
    """Return the covariance 0, 1, 2, ... fine points apart, (points // 2 + 1,)."""
    return np.fft.irfft(spectrum, points)[: points // 2 + 1]


def _waves(points: int) -> FloatArray:
    """Return the angular wave numbers of ``points`` points one apart, (points // 2 + 1,) [-]."""
    return 2.0 * np.pi * np.arange(points // 2 + 1) / points


def _of_unit_variance(spectrum: FloatArray, points: int) -> FloatArray:
    """Return a spectrum scaled so that its process has the variance 1."""
    return np.asarray(spectrum / covariance(spectrum, points)[0])
