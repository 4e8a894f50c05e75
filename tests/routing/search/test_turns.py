"""Turns against the prominence of peaks as scipy.signal.find_peaks has it, an independent code."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.signal import find_peaks

from routing.search.turns import turn

PRICES = SimpleNamespace(slack_m=0.6, drain=1.0, vent=1000.0)


def turns_of(heights, prices=PRICES):
    """Return how many sags and summits are passed."""
    falling, extreme, total = True, heights[0], 0.0
    for here in heights[1:]:
        falling, extreme, price = turn(falling, extreme, here, prices)
        total += price
    return total % 1000.0, total // 1000.0


@pytest.mark.parametrize("seed", range(20))
def test_turn__counts_the_peaks_of_that_prominence(seed):
    heights = np.cumsum(np.random.default_rng(seed).normal(-0.02, 0.3, 300))
    # From high above to far below, so that each sag has its summit.
    heights = np.concatenate([[1e3], heights, [-1e3]])
    peaks, facts = find_peaks(heights, prominence=0.0)
    assert (facts["prominences"] > 0.0).all()
    expected = int((facts["prominences"] > PRICES.slack_m).sum())
    assert expected > 0
    assert peaks.size > expected
    assert turns_of(heights) == (expected, expected)


@pytest.mark.parametrize(
    ("rise", "found"), [(0.59, (0.0, 0.0)), (0.61, (1.0, 0.0))], ids=["within", "beyond"]
)
def test_turn__a_rise_that_can_be_dug_through_is_none(rise, found):
    assert turns_of([0.0, 0.3 * rise, 0.7 * rise, rise]) == found


def test_turn__passes_over_missing_heights():
    assert turns_of([5.0, np.nan, 4.0, np.nan, 5.0, np.nan, 4.0]) == (1.0, 1.0)
