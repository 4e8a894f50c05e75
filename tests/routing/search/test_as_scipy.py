"""Small answers of the search against scipy, an independent code, over random ground and lines."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt
from scipy.spatial import cKDTree
from scipy.stats import spearmanr

from routing.search.lines import strained
from routing.search.propose import apart_m
from routing.search.valley.rank import _spearman

SIZE = (40, 55)


def hillside(south_m: float, east_m: float) -> Any:
    grid = SimpleNamespace(shape=SIZE, south_m=south_m, east_m=east_m, cell_m=min(south_m, east_m))
    return SimpleNamespace(grid=grid)


@pytest.mark.parametrize("within_m", [0.5, 10.0, 50.0, 1000.0])
@pytest.mark.parametrize("steps", [(10.0, 10.0), (10.0, 7.3), (3.1, 9.0)])
def test_strained__as_the_distance_transform(within_m: float, steps: tuple[float, float]) -> None:
    points = np.array([[3.0, 4.0], [20.0, 30.0], [39.0, 31.0]])
    given = np.full(SIZE, 1.5, dtype=np.float32)
    on = np.zeros(SIZE, dtype=bool)
    for a, b in itertools.pairwise(points):
        for share in np.linspace(0.0, 1.0, 2 * int(np.abs(b - a).max()) + 2):
            row, col = np.rint(a + share * (b - a)).astype(int)
            on[row, col] = True
    away = distance_transform_edt(~on, sampling=steps)
    found = strained(hillside(*steps), given, points, within_m, 2.0)
    assert np.array_equal(found, np.where(away < within_m, 3.0, 1.5).astype(np.float32))


@pytest.mark.parametrize("seed", range(5))
def test_apart__as_the_nearest_of_a_tree(seed: int) -> None:
    draw = np.random.default_rng(seed)
    one, other = draw.uniform(0.0, 40.0, (2, 6, 2))
    site = hillside(5.0, 4.0)

    def walked(corners: np.ndarray) -> np.ndarray:
        points = corners * [5.0, 4.0]
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        at = np.linspace(0.0, along[-1], int(along[-1] / 2.0))
        return np.stack([np.interp(at, along, points[:, k]) for k in (0, 1)], axis=1)

    paths = walked(one), walked(other)
    means = [cKDTree(b).query(a)[0].mean() for a, b in (paths, paths[::-1])]
    assert apart_m(site, one, other) == pytest.approx(max(means), rel=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_spearman__with_ties(seed: int) -> None:
    one, other = np.random.default_rng(seed).integers(0, 6, (2, 30)).astype(float)
    assert _spearman(one, other) == pytest.approx(spearmanr(one, other).statistic, abs=1e-14)
    assert _spearman(one[:2], other[:2]) is None
    assert _spearman(np.ones(9), other[:9]) is None
