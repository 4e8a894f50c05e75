"""Compiled sampling and shading of map tiles: the light and colours of ``paint``, in one pass."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from routing.arrays import FloatArray
from routing.compiled import kernel
from routing.terrain.paint import (
    AMBIENT,
    BRIGHTEST,
    DARKEST,
    DIRECT,
    LIGHT_HEIGHT,
    light_table,
    tint_table,
)

__all__ = ["sampled", "shaded"]

Floats = NDArray[np.float32]
Words = NDArray[np.uint32]

CLEAR = 256 * 256
"""Place of the clear pixel in the table of colours."""


@kernel
def _between(a: float, b: float, c: float, d: float, t: float) -> float:
    """Return the value at ``t`` of 0 to 1 from b to c on the Catmull-Rom cubic through all four."""
    return b + 0.5 * t * (
        c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a))
    )


@kernel
def _linear(grid: Floats, r0: int, c0: int, r: float, c: float) -> float:
    """Return the bilinear value in the cell whose first node is ``r0``, ``c0``."""
    r1, c1 = min(r0 + 1, grid.shape[0] - 1), min(c0 + 1, grid.shape[1] - 1)
    upper = grid[r0, c0] + (grid[r0, c1] - grid[r0, c0]) * c
    lower = grid[r1, c0] + (grid[r1, c1] - grid[r1, c0]) * c
    value: float = upper + (lower - upper) * r
    return value


@kernel
def _cubic(grid: Floats, r0: int, c0: int, r: float, c: float) -> float:
    """Return the bicubic value in a cell, NaN where one of the sixteen nodes is missing."""
    rows, cols = grid.shape
    lines = np.empty(4)
    for k in range(4):
        i = min(max(r0 - 1 + k, 0), rows - 1)
        lines[k] = _between(
            grid[i, max(c0 - 1, 0)],
            grid[i, c0],
            grid[i, min(c0 + 1, cols - 1)],
            grid[i, min(c0 + 2, cols - 1)],
            c,
        )
    return _between(lines[0], lines[1], lines[2], lines[3], r)


@kernel
def _sample(
    grid: Floats, row: FloatArray, col: FloatArray, limits: FloatArray, smooth: bool, out: Floats
) -> None:
    """Fill ``out`` with the grid's values, its pixels placed by the (k, k) mesh row, col."""
    rows, cols = grid.shape
    mesh = row.shape[0]
    down = (mesh - 1) / max(out.shape[0] - 1, 1)
    across = (mesh - 1) / max(out.shape[1] - 1, 1)
    for i in range(out.shape[0]):
        m = min(int(i * down), mesh - 2)
        t = i * down - m
        for j in range(out.shape[1]):
            n = min(int(j * across), mesh - 2)
            u = j * across - n
            a, b = (1.0 - t) * (1.0 - u), (1.0 - t) * u
            c, d = t * (1.0 - u), t * u
            y = a * row[m, n] + b * row[m, n + 1] + c * row[m + 1, n] + d * row[m + 1, n + 1]
            x = a * col[m, n] + b * col[m, n + 1] + c * col[m + 1, n] + d * col[m + 1, n + 1]
            if y < limits[0] or y > limits[1] or x < limits[2] or x > limits[3]:
                out[i, j] = np.nan
                continue
            y = min(max(y, 0.0), rows - 1.0)
            x = min(max(x, 0.0), cols - 1.0)
            r0, c0 = int(y), int(x)
            value = np.nan
            if smooth:
                value = _cubic(grid, r0, c0, y - r0, x - c0)
            if value != value:
                value = _linear(grid, r0, c0, y - r0, x - c0)
            out[i, j] = value


@kernel
def _shade(
    heights: Floats,
    scale: Floats,
    low: np.float32,
    levels: np.float32,
    numbers: Floats,
    lights: Floats,
    table: Words,
    out: Words,
) -> None:
    """Fill the picture of all heights but the outermost.

    All in 32-bit numbers and without a branch in the first loop over a row, so that the compiler
    works on several pixels at a time.
    """
    zero, half, one, flat = numbers[0], numbers[1], numbers[2], numbers[3]
    dark, gain, last = numbers[4], numbers[5], numbers[6]
    east0, south0, share0 = lights[0, 0], lights[0, 1], lights[0, 2]
    east1, south1, share1 = lights[1, 0], lights[1, 1], lights[1, 2]
    east2, south2, share2 = lights[2, 0], lights[2, 1], lights[2, 2]
    cols = out.shape[1]
    index = np.empty(cols, dtype=np.int32)
    for i in range(out.shape[0]):
        above, row, below = heights[i], heights[i + 1], heights[i + 2]
        size = scale[i + 1]
        for j in range(cols):
            here = row[j + 1]
            north, south = above[j + 1], below[j + 1]
            west, east = row[j], row[j + 2]
            # Beside missing ground the slope is that of the other side.
            part = half if (north == north) & (south == south) else one
            rise = (south if south == south else here) - (north if north == north else here)
            down = rise * part * size
            part = half if (west == west) & (east == east) else one
            rise = (east if east == east else here) - (west if west == west else here)
            across = rise * part * size
            tilt = np.divide(one, np.sqrt(one + down * down + across * across))
            light = share0 * max(zero, flat - east0 * across - south0 * down)
            light += share1 * max(zero, flat - east1 * across - south1 * down)
            light += share2 * max(zero, flat - east2 * across - south2 * down)
            strength = min(max(dark + gain * light * tilt, zero), last)
            level = min(max((here - low) * levels, zero), last)
            pixel = (np.int32(level) << 8) | np.int32(strength)
            index[j] = pixel if here == here else CLEAR
        for j in range(cols):
            out[i, j] = table[index[j]]


def sampled(
    grid: Floats,
    row: FloatArray,
    col: FloatArray,
    limits: tuple[float, float, float, float],
    shape: tuple[int, int],
    *,
    smooth: bool,
) -> Floats:
    """Return a grid's values at pixels, NaN beyond ``limits`` or where missing.

    ``row``, ``col`` place a (k, k) mesh over the pixels, its outer points on the outer pixels, in
    node coordinates; ``limits`` is first and last row, first and last column. ``smooth`` takes the
    cubic through four nodes each way, for a picture finer than the cells, in which the creases of
    the bilinear surface would show.
    """
    out = np.empty(shape, dtype=np.float32)
    _sample.native(grid, row, col, np.array(limits), smooth, out)
    return out


def shaded(
    heights: Floats, pixel_m: FloatArray, low_m: float, high_m: float, raised: float
) -> NDArray[np.uint8]:
    """Return the (4, rows, columns) picture, clear where missing, of heights with a margin.

    ``heights`` has one pixel more on each side, so that neighbouring tiles meet without a seam;
    ``pixel_m`` is the size of a pixel in each of its rows, ``raised`` the exaggeration.
    """
    out = np.empty((heights.shape[0] - 2, heights.shape[1] - 2), dtype=np.uint32)
    scale = np.float32(255.0 / (BRIGHTEST - DARKEST))
    numbers = np.array(
        [
            0.0,
            0.5,
            1.0,
            math.sin(LIGHT_HEIGHT),
            (AMBIENT - DARKEST) * scale,
            DIRECT * scale,
            255.0,
        ],
        dtype=np.float32,
    )
    _shade.native(
        heights,
        (raised / pixel_m).astype(np.float32),
        np.float32(low_m),
        np.float32(255.0 / max(high_m - low_m, 1e-9)),
        numbers,
        light_table(),
        _colours(),
        out,
    )
    return np.moveaxis(out.view(np.uint8).reshape(*out.shape, 4), 2, 0)


@lru_cache(maxsize=1)
def _colours() -> Words:
    """Return the pixel, four bytes in one word, of each height and each strength of light.

    The last entry is clear.
    """
    strength = DARKEST + (BRIGHTEST - DARKEST) * (np.arange(256) + 0.5) / 256.0
    tones = np.minimum(tint_table()[:, :, None] * strength.astype(np.float32), 255.0)
    pixels = np.zeros((CLEAR + 1, 4), dtype=np.uint8)
    pixels[:CLEAR, :3] = tones.reshape(3, -1).T.astype(np.uint8)
    pixels[:CLEAR, 3] = 255
    table: Words = pixels.view(np.uint32).reshape(-1)
    return table
