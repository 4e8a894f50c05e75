"""Grounds drawn given a profile."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from routing.doubt.draw import SHORT, _weights, drawn_grounds
from routing.doubt.prior import (
    BLOCK,
    SIZES,
    SMOOTHNESS,
    TABLE,
    GroundPrior,
    _misfit,
    _second,
    likely_priors,
)
from routing.doubt.spectra import (
    Knots,
    covariance,
    error_spectrum,
    ground_spectrum,
    interpolation_gain,
    window_gain,
)
from routing.doubt.trade_data import trust_in

PRIOR = GroundPrior(size_m=9.0, length_m=120.0, smoothness=1.5, error_size=1.0, error_reach=1.0)


def knots(height, sigma=1.0, **more):
    given = {"cell_m": 30.0, "per_cell": 3, "range_m": 60.0, "step_m": 0.0}
    return Knots(height_m=height, sigma_m=sigma, trust=trust_in("stated"), **{**given, **more})


def rng(seed=0):
    return np.random.default_rng(seed)


def test_drawn_grounds__level_and_grade_are_free():
    height = rng(1).normal(0.0, 3.0, 50)
    slope = 800.0 - 7.0 * np.arange(50)
    flat = drawn_grounds(knots(height), [PRIOR], 4, rng())
    tilted = drawn_grounds(knots(height + slope), [PRIOR], 4, rng())
    fine = 800.0 - 7.0 * np.arange(flat.shape[0]) / 3.0
    assert np.allclose(tilted - fine[:, None], flat, atol=1e-6)


@pytest.mark.parametrize("count", [40, SHORT + 61])
def test_drawn_grounds__mean_and_spread_are_those_of_kriging(count):
    """Against the textbook formulas with dense matrices, and a constant and a slope estimated."""
    height = 5.0 * np.sin(np.arange(count) / 3.0) + rng(2).normal(0.0, 1.0, count)
    line = knots(height)
    drawn = drawn_grounds(line, [PRIOR], 1500, rng(3))
    middle = slice((count // 2 - 6) * 3, (count // 2 + 6) * 3)
    gain = window_gain(line, TABLE) * interpolation_gain(line, TABLE)
    waves = ground_spectrum(line, 120.0, 1.5, TABLE) * 81.0
    own = covariance(waves, TABLE)
    towards = covariance(waves * gain, TABLE)
    shown = covariance(waves * gain**2 + error_spectrum(line, 1.0, 1.0, TABLE), TABLE)
    at, fine = 3 * np.arange(count), np.arange((count - 1) * 3 + 1)[middle]
    k = shown[np.abs(at[:, None] - at)]
    c = towards[np.abs(at[:, None] - fine)]
    f = np.stack([np.ones(count), at / 100.0], axis=1)
    g = np.stack([np.ones(fine.size), fine / 100.0])
    inverse = np.linalg.inv(k)
    beta = np.linalg.inv(f.T @ inverse @ f)
    mean = g.T @ (beta @ f.T @ inverse @ height)
    mean += c.T @ inverse @ (height - f @ (beta @ f.T @ inverse @ height))
    rest = g - f.T @ inverse @ c
    var = own[0] - np.einsum("ij,ij->j", c, inverse @ c) + np.einsum("ij,ij->j", rest, beta @ rest)
    assert np.allclose(drawn[middle].mean(axis=1), mean, atol=5.0 * np.sqrt(var / 1500).max())
    assert np.allclose(drawn[middle].std(axis=1), np.sqrt(var), rtol=0.12)


def test_weights__add_up_and_follow_a_slope():
    line = knots(np.zeros(30))
    waves = ground_spectrum(line, 100.0, 1.0, TABLE) * 4.0
    gain = window_gain(line, TABLE) * interpolation_gain(line, TABLE)
    shown = covariance(waves * gain**2 + error_spectrum(line, 1.0, 1.0, TABLE), TABLE)[::3]
    weights = _weights(shown, covariance(waves * gain, TABLE), 30, np.arange(88), 3)
    assert np.allclose(weights.sum(axis=1), 1.0)
    assert np.allclose(weights @ (3.0 * np.arange(30)), np.arange(88), atol=1e-6)


def test_misfit__is_the_normal_likelihood():
    line = knots(rng(4).normal(0.0, 2.0, BLOCK + 2))
    bends = np.diff(line.height_m, 2)[None]
    gain = window_gain(line, TABLE) * interpolation_gain(line, TABLE)
    seen = ground_spectrum(line, 60.0, 1.0, TABLE) * gain**2
    wave = _second(covariance(seen, TABLE)[::3])
    noise = _second(covariance(error_spectrum(line, 1.0, 1.0, TABLE), TABLE)[::3])
    fit = _misfit(bends, wave[None], noise[None])
    lag = np.abs(np.subtract.outer(np.arange(BLOCK), np.arange(BLOCK)))
    for size, value in zip(SIZES, fit[:, 0, 0], strict=True):
        exact = -2.0 * multivariate_normal(None, (size * wave + noise)[lag]).logpdf(bends[0])
        assert value + BLOCK * np.log(2.0 * np.pi) == pytest.approx(exact, rel=1e-9)


def test_likely_priors__find_a_ground_that_was_made():
    """Smooth long waves without any error: no prior makes them short and rough."""
    at = np.arange(200)
    height = 20.0 * np.sin(at / 9.0) + 5.0 * np.sin(at / 5.0)
    priors = likely_priors(knots(height, sigma=0.05), 8, rng())
    assert all(prior.smoothness == SMOOTHNESS[-1] and prior.length_m >= 120.0 for prior in priors)
    rough = likely_priors(knots(np.cumsum(rng(7).normal(0, 3.0, 200)), sigma=0.05), 8, rng())
    assert all(prior.smoothness <= 1.0 for prior in rough)


def test_likely_priors__hear_of_an_error_twice_too_large():
    made = rng(5)
    noise = np.zeros(400)
    for i in range(1, 400):
        noise[i] = 0.6 * noise[i - 1] + made.normal(0.0, 0.8)
    height = 900.0 - 3.0 * np.arange(400) + noise
    sizes = [p.error_size for p in likely_priors(knots(height, sigma=2.0), 8, rng())]
    assert np.mean(sizes) < 0.8
