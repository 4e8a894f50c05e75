"""The price book of a search: usual ratios in the gaps, and what a fitting costs over its life."""

from __future__ import annotations

import pytest

from routing.search.prices import DIGGING, price_book
from routing.search.rules import dug_through_m
from routing.settings import settings_from_mapping


def book(**tables):
    told = settings_from_mapping(tables)
    return price_book(told.prices, told.energy)


def test_price_book__a_vent_costs_its_pit_and_a_visit_a_year():
    """A payment of 1 a year over 20 years at 8 % is worth 9.818 now.

    Source: present worth of an annuity, compound interest tables of engineering economy, which
    print 9.8181 (from memory).
    """
    usual = book()
    assert usual.currency == DIGGING
    assert "yearly visits" in usual.defaults
    assert usual.visits == pytest.approx(0.5 * 9.8181, rel=1e-4)
    assert usual.vent == pytest.approx(30.0 + usual.visits)
    assert usual.drain == pytest.approx(22.0 + usual.visits)
    # The bill has the fittings as they are built; the visits come on top of it.
    assert usual.prices.vent == pytest.approx(30.0)


def test_price_book__own_prices_life_and_interest_go_before():
    """7.7217 is the present worth of an annuity over 10 years at 5 % (same tables)."""
    prices = {"currency": "crowns", "date": "2026-11-25", "vent": 900.0, "visit": 12.0}
    own = book(prices={**prices, "trench_per_m3": 30.0}, energy={"interest": "5 %", "years": 10.0})
    assert own.currency == "crowns"
    assert own.vent == pytest.approx(900.0 + 12.0 * 7.7217, rel=1e-4)
    assert own.drain == pytest.approx(22.0 * 30.0 + 12.0 * 7.7217, rel=1e-4)
    assert own.bend == pytest.approx(4.0 * 30.0)
    assert not {"vents", "yearly visits", "trench"} & set(own.defaults)
    assert {"drains", "bends", "pipe", "crossings"} <= set(own.defaults)


def test_dug_through__is_a_share_of_the_room_and_never_nothing():
    assert dug_through_m(1.0) == pytest.approx(0.35)
    assert dug_through_m(0.0) == pytest.approx(0.05)
