"""What pipe the search counts with under a head, and what a turn and a steep metre cost."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.search.ladder import ladders, sizes_on_offer
from routing.search.prices import price_book
from routing.search.rules import rules
from routing.search.site import _turn_price
from routing.settings import settings_from_mapping


def told(**tables):
    return settings_from_mapping(tables)


def test_ladder__a_fifth_of_the_rating_is_kept_for_surge():
    """PE100 SDR17 is PN 10 (ISO 4427-1, from memory): 10 bar is 102.0 m of water of 10 degrees.

    The share that is kept is common practice; 999.70 kg/m3 is the density of water at 10 degrees.
    """
    asked = told(pipe=[{"from": "0 m", "catalogue": "PE100-SDR17-200"}])
    (ladder,) = sizes_on_offer(asked, price_book(asked.prices))
    assert ladder.rungs[0].most_head_m == pytest.approx(0.8 * 1e6 / (999.70 * 9.80665), rel=1e-4)


def test_ladder__the_next_stronger_class_is_on_hand_for_surges():
    asked = told(flow={"design": "15 L/s"})
    book = price_book(asked.prices)
    ladder = ladders(asked, book, choose=True)(1000.0, 60.0)
    heads = [rung.most_head_m for rung in ladder.rungs]
    assert heads == sorted(heads)
    low_m = 1.15 * 60.0 + 2.0
    assert sum(head >= low_m for head in heads) >= 2
    # What is on hand for surges alone is not paid for at rest.
    assert ladder.by_head(60.0).max() < ladder.rungs[-1].price_m


def test_turn__costs_in_proportion_up_to_a_whole_bend():
    book = price_book(told().prices)
    grid = SimpleNamespace(east_m=5.0, south_m=5.0)
    price = _turn_price(told(), book, grid)
    assert [price(angle) for angle in (0.0, 22.5, 45.0, 90.0)] == pytest.approx(
        [0.0, 0.5 * book.bend, book.bend, book.bend]
    )
    assert math.isinf(price(135.0))
    # A chord of 5 m on a radius of 10 m turns by 2 asin(5 / 20) = 29 degrees: 30 is the least.
    bent = _turn_price(told(search={"least_radius": "10 m"}), book, grid)
    assert math.isfinite(bent(30.0))
    assert math.isinf(bent(45.0))


def test_rules__are_those_that_the_guide_tells():
    """Half as much again above 35 % (guide, What is sought); 0.5 m below the hydraulic line."""
    rule = rules()
    assert rule["steep_from"] == 0.35
    assert rule["steep_factor"] == 1.5
    assert rule["margin"] == 0.5
    assert rule["apart_share"] == 0.03
    assert rule["longest_span"] == 30.0


WEAK, STRONG = "PE100-SDR26-200", "PE100-SDR17-200"
STATION = np.arange(0.0, 1001.0, 10.0)


def two_pipes(weak: float, strong: float):
    """Return a ladder of two pipes at these prices for a metre."""
    asked = told(
        pipe=[{"from": "0 m", "catalogue": WEAK}, {"from": "500 m", "catalogue": STRONG}],
        prices={"date": "2026-11-25", "per_metre": {WEAK: weak, STRONG: strong}},
    )
    (ladder,) = sizes_on_offer(asked, price_book(asked.prices))
    return ladder


def pocket(from_m: float, to_m: float):
    """Return heads at rest that the weaker pipe holds at the intake's end and in a pocket only."""
    weak_m, strong_m = 30.0, 60.0  # the weaker is used under 49 m, the stronger under 82 m
    light = (STATION <= 300.0) | ((STATION >= from_m) & (STATION <= to_m))
    return np.where(light, weak_m, strong_m)


@pytest.mark.parametrize(
    ("weak", "to_m", "found"),
    [
        # 200 m of pocket save 200 x 10; two changes cost 2 x 6 x 30.
        (20.0, 800.0, [(WEAK, 0.0), (STRONG, 300.0), (WEAK, 600.0), (STRONG, 800.0)]),
        # 200 x 1 is less than the two changes, 300 x 1 above it more than one of them.
        (29.0, 800.0, [(WEAK, 0.0), (STRONG, 300.0)]),
        # 300 x 0.5 does not pay for a single change.
        (29.5, 800.0, [(STRONG, 0.0)]),
        # A pocket of a weaker pipe is 100 m long at the least (common practice).
        (20.0, 690.0, [(WEAK, 0.0), (STRONG, 300.0)]),
    ],
)
def test_runs__a_change_of_pipe_must_pay(weak, to_m, found):
    """A change costs as much as 6 m of the dearer pipe at the least (common practice)."""
    runs = two_pipes(weak, 30.0).runs(STATION, pocket(600.0, to_m))
    assert [(run["catalogue"], float(run["from"].split()[0])) for run in runs] == found


def test_runs__a_price_of_the_users_own_for_a_change_goes_before():
    asked = told(
        pipe=[{"from": "0 m", "catalogue": WEAK}, {"from": "500 m", "catalogue": STRONG}],
        prices={"date": "2026-11-25", "per_metre": {WEAK: 29.5, STRONG: 30.0}, "joint": 1.0},
    )
    (ladder,) = sizes_on_offer(asked, price_book(asked.prices))
    assert len(ladder.runs(STATION, pocket(600.0, 800.0))) == 4


@given(st.lists(st.floats(1.0, 140.0), min_size=26, max_size=26))
def test_runs__are_few_and_none_is_short(knots):
    """Five sticks of 12 m at the least, three kinds at the most (common practice)."""
    head = np.interp(STATION, np.linspace(0.0, 1000.0, 26), knots)
    usual = told(flow={"design": "15 L/s"})
    book = price_book(usual.prices)
    ladder = ladders(usual, book, choose=True)(1000.0, 60.0)
    runs = ladder.runs(STATION, head)
    starts = [float(run["from"].split()[0]) for run in runs]
    assert np.diff([*starts, 1000.0]).min() >= 60.0
    assert len({run["catalogue"] for run in runs}) <= 3
    strongest = ladder.rungs[-1].pipe.id
    holds = {rung.pipe.id: rung.most_head_m for rung in ladder.rungs}
    for run, start, end in zip(runs, starts, [*starts[1:], 1000.0], strict=True):
        inside = (STATION >= start) & (STATION <= end)
        assert run["catalogue"] == strongest or head[inside].max() <= holds[run["catalogue"]]
