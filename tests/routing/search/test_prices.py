"""The price book of a search: usual ratios in the gaps, and what a fitting costs over its life."""

from __future__ import annotations

import pytest

from routing.errors import InputError, SettingsError
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
    assert usual.unit == DIGGING
    assert usual.currency is None
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


def test_price_book__own_prices_of_crossings_go_before_the_ratios():
    """A road crossing of 900 as told; all other land by its ratio to a cubic metre at 30."""
    own = book(prices={"trench_per_m3": 30.0, "crossing": {"road": 900.0}})
    assert own.land["road"] == (900.0, 2.0 * 30.0)
    assert own.land["stream"] == (15.0 * 30.0, 4.0 * 30.0)
    assert own.prices.crossing["road"] == 900.0
    (crossings,) = (each for each in own.defaults if each.startswith("crossings of "))
    assert "streams" in crossings
    assert "roads" not in crossings
    assert "crossings" not in own.defaults


def test_price_book__a_crossing_alone_gives_the_unit():
    """12 m3 of trench are a road crossing: at 600 for one a cubic metre comes to 50."""
    own = book(prices={"crossing": {"road": 600.0}, "currency": "crowns"})
    assert own.currency == "crowns"
    assert own.trench_m3 == pytest.approx(50.0)
    assert book().land["road"] == (12.0, 2.0)


def test_price_book__dear_ground_without_a_price_of_other_trench_is_refused():
    told = settings_from_mapping({"prices": {"ground": {"rock": 90.0}}})
    with pytest.raises(InputError, match=r"has a price of 'rock', and other trench has none"):
        price_book(told.prices, told.energy, ["rock"])


def test_price_book__a_crossing_of_no_kind_of_land_is_refused():
    with pytest.raises(SettingsError, match=r"crossing = 'roads' is not a choice") as refused:
        book(prices={"crossing": {"roads": 600.0}})
    assert "road, stream, parcel" in str(refused.value)
