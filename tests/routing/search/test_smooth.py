"""Corners moved and left out by prices kept of the legs: against whole prices at each step."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strips import strip, way

from routing.search import smooth
from routing.search.legs import line_price
from routing.search.smooth import legs_of, smoothed
from routing.search.turns import turn

LEGS = 6


pytestmark = pytest.mark.usefixtures("compiled")


def by_whole_prices(told, points, hung, held):
    """Return the line and its price, every change priced over the whole line."""
    line = points.copy()
    while True:
        best, reach = line_price(*told, line, hung), 2.0
        while reach >= 0.2:
            better = False
            for at in range(1, len(line) - 1):
                row, col = line[at]
                for k in range(0 if held[at] else 8):
                    turned = k * math.pi / 4.0
                    line[at] = row + reach * math.sin(turned), col + reach * math.cos(turned)
                    tried = line_price(*told, line, hung)
                    if tried < best - 1e-9 * abs(best):
                        best, better = tried, True
                        row, col = line[at]
                line[at] = row, col
            reach *= 1.0 if better else 0.5
        count = len(line)
        at = 1
        while at < len(line) - 1:
            fewer = np.delete(line, at, axis=0), np.delete(hung, at)
            if not held[at] and line_price(*told, *fewer) <= line_price(*told, line, hung):
                (line, hung), held, at = fewer, np.delete(held, at), 1
            else:
                at += 1
        if len(line) == count:
            return line, hung, best


@pytest.mark.parametrize("seed", range(8))
def test_smoothed__is_the_line_that_whole_prices_make(seed):
    """Rough ground with closed cells, tolls, dearer ground and a bridge that stays."""
    draw = np.random.default_rng(seed)
    heights = 100.0 - 0.5 * np.arange(40)[None, :] + 0.4 * draw.standard_normal((25, 40))
    ground, field, terms = strip(
        heights, (draw.random((25, 40)) < 0.02).astype(np.uint8), bench=3.0, bench_from=0.05
    )
    field.extra[:] = 0.3 * draw.random((25, 40))
    field.strain[:, 20:] = 1.6
    told = (ground._replace(radius_m=12.0 if seed % 2 else 0.0), field, terms)
    points = way(12, 40)[::3]
    hung = np.zeros(len(points) - 1, dtype=np.bool_)
    hung[5] = seed % 3 == 0
    field.shut[np.rint(points[:, 0]).astype(int), :] = 0
    held = np.append(hung, False) | np.append(False, hung)
    line, legs, price = smoothed(*told, points, hung)
    slow, bridges, least = by_whole_prices(told, points, hung, held)
    assert len(line) < len(points)
    assert np.array_equal(line, slow)
    assert np.array_equal(legs, bridges)
    assert price == pytest.approx(least, rel=1e-12)


def test_smoothed__a_line_through_closed_ground_has_no_price():
    shut = np.zeros((15, 30), np.uint8)
    shut[:, 15] = 1
    points = way(7, 30)[::5]
    line, _, price = smoothed(
        *strip(np.full((15, 30), 100.0), shut), points, np.zeros(len(points) - 1, dtype=np.bool_)
    )
    assert price == np.inf
    assert np.array_equal(line, points)


def paid_for(terms, first, legs):
    falling, top, paid = True, first, 0.0
    for here in np.concatenate(legs):
        falling, top, price = turn(falling, top, here, terms)
        paid += price
    return paid


@given(st.integers(0, 10**6), st.integers(1, LEGS - 1), st.integers(1, 2))
def test_turned__is_the_sum_over_all_heights_to_the_last_bit(seed, at, new):
    """Two legs of a line give way to one or two others; prices that no sum holds exactly."""
    draw = np.random.default_rng(seed)
    ground, _, terms = strip(np.full((9, 30), 100.0), vent=0.1, drain=1.0 / 3.0, slack_m=0.4)
    kept = legs_of(ground, way(4, 30)[: LEGS + 1])
    for leg in range(LEGS + 2):
        kept.counts[leg] = draw.integers(1, 12)
        kept.seen[leg] = 100.0 + np.cumsum(draw.normal(0.0, 0.3, kept.seen.shape[1]))
    kept.seen[draw.integers(LEGS + 2), 0] = np.nan
    kept.top[0] = 100.0
    seen = [kept.seen[leg, : kept.counts[leg]] for leg in range(LEGS + 2)]
    smooth._turn_on(terms, kept, 0)
    assert kept.paid[-1] == paid_for(terms, 100.0, seen[:LEGS])
    line = [*seen[: at - 1], *seen[LEGS : LEGS + new], *seen[at + 1 : LEGS]]
    assert smooth._turned(terms, kept, at - 1, new, at + 1) == paid_for(terms, 100.0, line)
