"""Steepness of planes, whose slope is known, in the colours of its classes."""

from __future__ import annotations

import numpy as np
import pytest

from routing.terrain.slope_tile import CLASSES, slope_classes

PIXEL_M = 4.0


def plane(rise: float, bearing: float) -> np.ndarray:
    row, col = np.mgrid[0:12, 0:14] * PIXEL_M
    heights = rise * (col * np.sin(bearing) + row * np.cos(bearing))
    return heights.astype(np.float32)


@pytest.mark.parametrize("bearing", [0.0, 0.7, 2.0, 4.4])
def test_slope_classes__a_plane_has_one_colour(bearing: float) -> None:
    for index, (least, colour) in enumerate(CLASSES):
        for rise, expected in (
            (least * 1.01, colour),
            (least * 0.99, CLASSES[index - 1][1] if index else (0, 0, 0, 0)),
        ):
            picture = slope_classes(plane(rise, bearing), np.full(12, PIXEL_M))
            assert picture.shape == (4, 10, 12)
            assert {tuple(pixel) for pixel in picture.reshape(4, -1).T.tolist()} == {expected}


def test_slope_classes__missing_ground_is_clear() -> None:
    heights = plane(2.0, 0.0)
    heights[5, 6] = np.nan
    picture = slope_classes(heights, np.full(12, PIXEL_M))
    assert picture[3, 4, 4] == picture[3, 3, 5] == 0
    assert picture[3, 0, 0] == CLASSES[-1][1][3]


def test_classes__rise() -> None:
    least = [each for each, _ in CLASSES]
    assert least == sorted(least)
    assert all(0 < cover < 255 for _, (*_, cover) in CLASSES)
