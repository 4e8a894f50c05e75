"""[prices]: what pipe, trench and structures cost the user; none of it has a default."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from routing.errors import SettingsError
from routing.land import KINDS
from routing.settings.readers import choice, date, number, prices, quantity, text
from routing.settings.rows import row
from routing.value import dataclass

__all__ = ["MONEY", "PriceSettings"]

MONEY = number(0.0, 1e9)
"""Reads a price, in the user's own currency."""
_DATE = date
_KIND = choice(*KINDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceSettings:
    """[prices]: the user's own, on a date: pipe by catalogue id, or by material and mass."""

    currency: str = row(text(200), "name of the currency", "crowns", "")
    date: str | None = row(
        _DATE, "when the prices were asked", "2026-11-25", without="prices of pipe are an error"
    )
    per_metre: Mapping[str, float] = row(
        prices,
        "price of a metre laid, by catalogue id",
        {"PE100-SDR17-200": 31.0},
        {},
        without="by mass",
    )
    per_kg: Mapping[str, float] = row(
        prices,
        "price of a kilogram of pipe, by material, for all others",
        {"PE100": 2.6},
        {},
        without="such pipe has no price",
    )
    trench_per_m3: float | None = row(
        MONEY, "price of a cubic metre of trench, dug and filled", 30.0, without="not priced"
    )
    ground: Mapping[str, float] = row(
        prices,
        "price of a cubic metre of trench by the class of ground of `[[trench.ground]]`",
        {"rock": 95.0},
        {},
        without="trench in such ground has no price",
    )
    bench_per_m3: float | None = row(
        MONEY, "price of a cubic metre of bench", 12.0, without="as the trench"
    )
    vent: float | None = row(MONEY, "price of a vent, built", 120.0, without="not priced")
    drain: float | None = row(MONEY, "price of a drain, built", 90.0, without="not priced")
    visit: float | None = row(
        MONEY,
        "price of a visit to a vent or a drain, one a year; searches for lines count it",
        6.0,
        without="a usual ratio in searches, left out of the bill",
        page=("Each visit", ""),
    )
    valve: float | None = row(
        MONEY, "price of an isolating valve, built", 210.0, without="not priced"
    )
    tap: float | None = row(MONEY, "price of a gauge tap, built", 35.0, without="not priced")
    relief: float | None = row(MONEY, "price of a relief valve, built", 260.0, without="not priced")
    bend: float | None = row(
        MONEY,
        "price of a bend of 11.25 degrees or more, laid",
        48.0,
        without="not priced",
    )
    concrete_per_m3: float | None = row(
        MONEY,
        "price of a cubic metre of concrete of blocks and anchors, cast",
        260.0,
        without="not priced",
    )
    span_per_m: float | None = row(
        MONEY,
        "price of a metre of pipe bridge, beside its pipe and supports",
        85.0,
        without="not priced",
    )
    support: float | None = row(
        MONEY, "price of a support of a pipe bridge, built", 150.0, without="not priced"
    )
    crossing: Mapping[str, float] = row(
        prices,
        "price of a crossing by its kind in `[[layer]]`, such as sleeve or consent",
        {"road": 900.0},
        {},
        without="crossings have no price",
    )
    sums: Mapping[str, float] = row(
        prices,
        "sums of your own for what is not of the line",
        {"intake": 4000.0, "turbine and house": 15000.0},
        {},
        without="intake, machine and all else are left out, and told",
        page=("Other sums", ""),
    )
    contingency: float | None = row(
        quantity("ratio", "0 %", "100 %"),
        "share added for what is not foreseen; 30 % before a survey and 15 % after it are common",
        "30 %",
        without="none is added, and told",
    )
    joint: float | None = row(
        MONEY,
        "price of a change of pipe",
        40.0,
        without="that of 6 m of the dearer pipe in searches and choices, left out of the bill",
    )
    adapter: float | None = row(
        MONEY,
        "price of an adapter between two families of outside diameter",
        120.0,
        without="that of a change of pipe",
    )

    def consistent(self, name: str, given: Collection[str]) -> PriceSettings:
        """Return the prices if they say when they were asked, and crossings are of known kinds."""
        for kind in self.crossing:
            _KIND.read(kind, f"{name}.crossing")
        if (self.per_metre or self.per_kg) and self.date is None:
            raise SettingsError(
                "[prices] has no date.", 'Write when they were asked, as in date = "2026-11-25".'
            )
        return self
