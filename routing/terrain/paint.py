"""Light and colour of a shaded relief: pale, so that a line and its signs stand out on it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from routing.arrays import FloatArray

__all__ = ["exaggeration", "light_table", "painted", "tint_table", "typical_slope"]

LIGHTS = ((315.0, 0.55), (270.0, 0.2), (0.0, 0.25))
"""Where the light comes from [deg clockwise from north] and its share; common practice."""

LIGHT_HEIGHT = math.radians(45.0)

TINTS = ((196, 207, 190), (219, 219, 200), (233, 225, 208), (242, 240, 235))
"""Colours from the lowest to the highest ground."""

AMBIENT, DIRECT = 0.45, 0.78
"""Strength of a tone without any light, and what full light adds [-]."""

DARKEST, BRIGHTEST = 0.35, 1.18
"""Limits of that strength [-]."""

PLAIN = 232
"""Tone where elevation is missing."""

TYPICAL_SLOPE = 0.35
"""Slope to which gentle ground is exaggerated before it is lit [-]."""

MOST_EXAGGERATION = 6.0

STRIP_ROWS = 32
"""Rows painted at a time [-]; intermediate values stay in the cache."""


def painted(
    heights: NDArray[np.float32], pixel_m: FloatArray, low_m: float, high_m: float
) -> NDArray[np.uint8]:
    """Return the (3, rows, columns) picture of elevations, NaN where missing.

    ``pixel_m`` is the size of a pixel on the ground in each row [m].
    """
    rows, cols = heights.shape
    raised = exaggeration(typical_slope(heights, pixel_m))
    table = tint_table()
    picture = np.full((3, rows, cols), PLAIN, dtype=np.uint8)
    for begin in range(0, rows, STRIP_ROWS):
        end = min(begin + STRIP_ROWS, rows)
        first, last = max(begin - 1, 0), min(end + 1, rows)
        scale = (raised / pixel_m[first:last, None]).astype(np.float32)
        inner = slice(begin - first, end - first)
        south, east = np.gradient(heights[first:last])
        light = _light((south * scale)[inner], (east * scale)[inner])
        level = (heights[begin:end] - np.float32(low_m)) * np.float32(
            255.0 / max(high_m - low_m, 1e-9)
        )
        known = np.isfinite(level)
        lit = np.isfinite(light)
        strength = np.where(lit, np.clip(AMBIENT + DIRECT * light, DARKEST, BRIGHTEST), 1.0).astype(
            np.float32
        )
        index = np.where(known, level, 0.0).astype(np.uint8)
        for band in range(3):
            tone = np.minimum(table[band][index] * strength, 255.0).astype(np.uint8)
            np.copyto(picture[band, begin:end], tone, where=known)
    return picture


def light_table() -> NDArray[np.float32]:
    """Return for each light its part from the east, its part from the south and its share."""
    level = math.cos(LIGHT_HEIGHT)
    rows = [
        (level * math.sin(math.radians(azimuth)), -level * math.cos(math.radians(azimuth)), share)
        for azimuth, share in LIGHTS
    ]
    return np.array(rows, dtype=np.float32)


def _light(south: NDArray[np.float32], east: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the light on slopes, 0 turned away and 1 square to it [-]."""
    one = np.float32(1.0)
    flat = np.float32(math.sin(LIGHT_HEIGHT))
    tilt = one / np.sqrt(one + south * south + east * east)
    light = np.zeros_like(south)
    for by_east, by_south, share in light_table():
        facing = (flat - by_east * east - by_south * south) * tilt
        light += share * np.maximum(facing, np.float32(0.0))
    return light


def typical_slope(heights: NDArray[np.float32], pixel_m: FloatArray) -> float:
    """Return the slope that three quarters of the ground stay below, NaN where none is known [-].

    ``heights`` has shape (rows, columns), ``pixel_m`` the size of a pixel in each row.
    """
    every = max(1, min(heights.shape) // 100)
    thin = heights[::every, ::every].astype(np.float64)
    if min(thin.shape) < 2:
        return math.nan
    south, east = np.gradient(thin, every * float(np.mean(pixel_m)))
    slope = np.hypot(south, east)
    slope = slope[np.isfinite(slope)]
    return float(np.percentile(slope, 75)) if slope.size else math.nan


def exaggeration(slope: float) -> float:
    """Return how much to raise the ground: until gentle ground shows, steep ground not at all."""
    if not math.isfinite(slope):
        return 1.0
    return min(max(TYPICAL_SLOPE / max(slope, 1e-6), 1.0), MOST_EXAGGERATION)


def tint_table() -> NDArray[np.float32]:
    """Return the (3, 256) tones from the lowest to the highest ground."""
    stops = np.linspace(0.0, 255.0, len(TINTS))
    tones = np.array(TINTS, dtype=np.float64).T
    return np.stack([np.interp(np.arange(256.0), stops, tone) for tone in tones]).astype(np.float32)
