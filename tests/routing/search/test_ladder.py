"""What pipe the search counts with under a head, and what a turn and a steep metre cost."""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest

from routing.search.ladder import find_ladder, sizes_on_offer
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
    given = told(pipe=[{"from": "0 m", "catalogue": "PE100-SDR17-200"}])
    (ladder,) = sizes_on_offer(given, price_book(given.prices))
    assert ladder.rungs[0].most_head_m == pytest.approx(0.8 * 1e6 / (999.70 * 9.80665), rel=1e-4)


def test_ladder__the_next_stronger_class_is_on_hand_for_surges():
    given = told(flow={"design": "15 L/s"})
    book = price_book(given.prices)
    ladder = find_ladder(given, book, length_m=1000.0, head_m=60.0, choose=True)
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
