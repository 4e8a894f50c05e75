from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.fittings.simplify import _keep_nodes, simplified, simplify_tolerance

NONE = np.array([], int)


def wavy(seed: int, n: int = 400) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    station = np.cumsum(rng.uniform(0.5, 6.0, n))
    return station, 100.0 - 0.06 * station + np.cumsum(rng.normal(0.0, 0.25, n))


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("tolerance", [0.1, 0.4, 1.0])
def test_simplified__is_that_of_the_geometry_library(seed, tolerance):
    station, pipe = wavy(seed)
    line = shapely.linestrings(np.column_stack((station, pipe)))
    theirs = shapely.get_coordinates(shapely.simplify(line, tolerance, preserve_topology=False))
    ours = simplified(station, pipe, NONE, tolerance)
    np.testing.assert_array_equal(station[ours], theirs[:, 0])


@settings(deadline=None, max_examples=60)
@given(seed=st.integers(0, 10_000), tolerance=st.floats(0.05, 2.0))
def test_simplified__never_departs_more_than_it_may(seed, tolerance):
    station, pipe = wavy(seed, 120)
    fixed = np.unique(np.random.default_rng(seed).integers(1, 119, 5))
    nodes = simplified(station, pipe, fixed, tolerance)
    assert {0, 119, *fixed.tolist()} <= set(nodes.tolist())
    for a, b in pairwise(nodes.tolist()):
        grade = (pipe[b] - pipe[a]) / (station[b] - station[a])
        part = slice(a, b + 1)
        apart = np.abs(pipe[part] - pipe[a] - grade * (station[part] - station[a]))
        assert apart.max() / np.hypot(1.0, grade) <= tolerance + 1e-9


def test_simplified__two_stations():
    nodes = simplified(np.array([0.0, 10.0]), np.array([5.0, 4.0]), NONE, 0.1)
    np.testing.assert_array_equal(nodes, [0, 1])


def test_keep_nodes__compiled_and_interpreted_agree():
    station, pipe = wavy(3)
    kept = []
    for run in (_keep_nodes.python, _keep_nodes.native):
        keep = np.zeros(station.size, bool)
        run(station, pipe, np.array([0, 150, station.size - 1]), 0.3, keep)
        kept.append(keep)
    np.testing.assert_array_equal(*kept)


def test_simplify_tolerance__rises_with_the_error_and_stops():
    errors = [None, *np.linspace(0.0, 20.0, 81)]
    tolerances = [simplify_tolerance(error) for error in errors]
    assert tolerances == sorted(tolerances)
    assert (tolerances[0], tolerances[-1]) == (0.1, 1.0)
