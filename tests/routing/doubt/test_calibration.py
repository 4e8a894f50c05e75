"""Said probabilities against what came true, on rasters of known ground."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from doubted_lines import came_true, cases, doubted

from routing.doubt import chances, forced_turns, sound

BINS = ((0.0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 1.01))
FRESH = 80
"""Lines from here on took no part in fitting the chances (those before it and from 200 on did)."""

TOLD = {
    "right": {},
    "twice": {"told": 2.0},
    "half": {"told": 0.5},
    "nothing but whole metres": {"told": 0, "steps": 1.0},
}


@cache
def said_and_true(count, *, told=None, reach=None, steps=None):
    """Return said probabilities and what came true, summits and sags of all lines together.

    ``told`` and ``reach`` multiply the true error and range; 0: not told at all.
    """
    said, true = [], []
    for case in cases(count, first=FRESH):
        if steps is not None:
            case = {**case, "step_m": steps}
        if told == 0 and case["cell_m"] < 30.0:
            continue  # a fine raster that states nothing has no probabilities
        rmse = "right" if told is None else told * case["sigma_m"] or None
        range_m = "right" if told != 0 else None
        if reach is not None:
            range_m = reach * case["range_m"]
        known, line = doubted(case, rmse_m=rmse, range_m=range_m)
        found = chances(line, sound(line))
        said.append(np.concatenate([found.summit, found.sag]))
        true.append(np.concatenate(came_true(known, line, case["play_m"])))
    return np.concatenate(said), np.concatenate(true)


def together(count):
    """Return the same of all ways of telling the error together."""
    columns = zip(*(said_and_true(count, **told) for told in TOLD.values()), strict=True)
    return tuple(np.concatenate(column) for column in columns)


def brier(said, true):
    return float(np.mean((said - true) ** 2))


def check_bins(said, true, least, within):
    """Each bin with enough in it is as often true as said."""
    for low, high in BINS:
        inside = (said >= low) & (said < high)
        if inside.sum() >= least:
            gap = said[inside].mean() - true[inside].mean()
            assert abs(gap) <= within, (low, high, int(inside.sum()), gap)


def test_chances__calibrated_where_the_error_is_told_right():
    """On every raster and every ground in turn, self-affine ones among them."""
    said, true = said_and_true(40)
    assert said.size >= 400
    assert brier(said, true) <= 0.16
    check_bins(said, true, least=60, within=0.12)
    assert brier(said, true) < 0.6 * brier(np.ones_like(said), true), "better than all real"


@pytest.mark.parametrize("told", [name for name in TOLD if name != "right"])
def test_chances__still_useful_where_the_error_is_told_wrong(told):
    said, true = said_and_true(40, **TOLD[told])
    assert said.size >= 400
    assert brier(said, true) <= 0.21


def test_chances__calibrated_whatever_is_told():
    """Right, twice too large, half, or nothing: nobody who reads a chance knows which."""
    said, true = together(40)
    assert brier(said, true) <= 0.17
    check_bins(said, true, least=60, within=0.12)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("told", "reach", "steps", "most"),
    [
        (None, None, None, 0.16),
        (2.0, None, None, 0.21),
        (0.5, None, None, 0.21),
        (None, 2.0, None, 0.21),
        (None, 0.5, None, 0.21),
        (0, None, 1.0, 0.21),
    ],
)
def test_chances__calibrated_over_many_lines(told, reach, steps, most):
    said, true = said_and_true(120, told=told, reach=reach, steps=steps)
    assert said.size >= 1500
    assert brier(said, true) <= most
    if told is None and reach is None:
        check_bins(said, true, least=100, within=0.12)


@pytest.mark.slow
def test_chances__calibrated_over_many_lines_whatever_is_told():
    said, true = together(100)
    check_bins(said, true, least=100, within=0.12)


@pytest.mark.slow
def test_chances__expected_number_is_as_wide_as_it_errs():
    """One and two standard deviations hold about the shares of a normal distribution."""
    within, counts = [], []
    for case in cases(120):
        known, line = doubted(case)
        expected = chances(line, sound(line)).expected
        true = forced_turns(known.truth_m - case["play_m"], known.truth_m)
        counts.append((expected.mean, float(true.summit.sum())))
        off = abs(counts[-1][1] - expected.mean)
        within.append([off <= max(share * expected.sd, 0.5) for share in (1.0, 2.0)])
    one, two = np.mean(within, axis=0)
    assert 0.65 <= one <= 0.92
    assert two >= 0.88
    said, came = np.sum(counts, axis=0)
    assert 0.9 <= said / came <= 1.12
