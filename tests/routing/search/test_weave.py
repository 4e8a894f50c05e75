"""Lines woven beside a way: against every chain of legs there is, on strips with few of them."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from strips import strip, way

from routing.search import weave
from routing.search.legs import line_price
from routing.search.smooth import smoothed
from routing.search.weave import woven

pytestmark = pytest.mark.usefixtures("compiled")


def rough(seed, rows=15, cols=30):
    draw = np.random.default_rng(seed)
    return 100.0 - 0.5 * np.arange(cols)[None, :] + 0.4 * draw.standard_normal((rows, cols))


@pytest.mark.parametrize("seed", range(6))
def test_woven__is_the_cheapest_of_all_chains(seed, monkeypatch):
    """Five rows of three places: every choice of place, or of passing the row, is priced.

    Heights are looked at as for the exact price.
    """
    monkeypatch.setattr(weave, "ACROSS", (1.0,))
    monkeypatch.setattr(weave, "COARSER", 1.0)
    told = strip(rough(seed))
    points = way(7, 30)
    hung = np.zeros(len(points) - 1, dtype=np.bool_)
    places, count, _ = weave._rows_of(points, hung, weave.ROW_CELLS, (1.0,))
    assert count.tolist() == [1, 3, 3, 3, 3, 3, 1]
    least = np.inf
    for choice in product(range(-1, 3), repeat=5):
        taken = [(at + 1, b) for at, b in enumerate(choice) if b >= 0]
        inner = [places[at, b] for at, b in taken]
        steps = np.diff([0, *(at for at, _ in taken), 6])
        if steps.max() > weave.ONWARD:
            continue
        line = np.array([points[0], *inner, points[-1]])
        least = min(least, line_price(*told, line, np.zeros(len(line) - 1, dtype=np.bool_)))
    found, legs = woven(*told, points, hung)
    price = line_price(*told, found, legs)
    # The few ways kept at each place may lose the best one by a little, never gain.
    assert least - 1e-6 <= price <= 1.02 * least


def test_woven__leads_round_bumps_that_a_way_runs_over():
    """Bumps of half a metre in a row under the way, even ground four cells beside it."""
    heights = 100.0 - 0.5 * np.arange(40)[None, :] + np.zeros((15, 1))
    heights[6:9, 6:34:4] += 1.5
    told = strip(heights)
    points = way(7, 40)
    hung = np.zeros(len(points) - 1, dtype=np.bool_)
    before = line_price(*told, points, hung)
    line, legs, price = smoothed(*told, *woven(*told, points, hung))
    free = told[2]._replace(vent=0.0, drain=0.0)
    turned = before - line_price(told[0], told[1], free, points, hung)
    assert turned == pytest.approx(7 * 70.0)
    assert price == pytest.approx(line_price(told[0], told[1], free, line, legs))


def test_woven__keeps_to_the_way_where_all_beside_it_is_closed():
    heights = 100.0 - 0.5 * np.arange(30)[None, :] + np.zeros((15, 1))
    shut = np.ones((15, 30), np.uint8)
    rows = np.array([7, 7, 7, 8, 9, 9, 8, 7, 6, 5, 5, 6, 7, 7, 7, 7])
    points = np.column_stack([rows, np.arange(4, 20)]).astype(np.float64)
    for (r, c), (r1, _) in zip(points.astype(int), points[1:].astype(int), strict=False):
        shut[[r, r1], c] = 0
        shut[[r, r1], c + 1] = 0
    told = strip(heights, shut)
    line, legs = woven(*told, points, np.zeros(15, dtype=np.bool_))
    assert np.isfinite(line_price(*told, line, legs))
    assert line[0].tolist() == points[0].tolist()
    assert line[-1].tolist() == points[-1].tolist()


def test_woven__a_bridge_stays_where_it_hangs():
    """A gully 40 m deep: the bridge over it is taken whole, its ends unmoved."""
    heights = 100.0 - 0.5 * np.arange(30)[None, :] + np.zeros((15, 1))
    heights[:, 13:16] -= 40.0
    told = strip(heights)
    points = np.vstack([way(7, 30)[:11], way(7, 30)[14:]])
    hung = np.zeros(len(points) - 1, dtype=np.bool_)
    hung[10] = True
    line, legs = woven(*told, points, hung)
    assert legs.sum() == 1
    at = int(np.flatnonzero(legs)[0])
    assert line[at : at + 2].tolist() == points[10:12].tolist()


@pytest.mark.parametrize("seed", range(4))
def test_smoothed__its_price_is_that_of_its_line(seed):
    """Prices are kept by leg and bend while corners move: at the end they add up to the whole."""
    told = strip(rough(seed, cols=40))
    points = way(7, 40)[::5]
    line, hung, price = smoothed(*told, points, np.zeros(len(points) - 1, dtype=np.bool_))
    assert len(line) >= 3
    assert price == pytest.approx(line_price(*told, line, hung), rel=1e-9)
