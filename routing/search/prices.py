"""What things cost where the user has not said: in cubic metres of trench, or in their money."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from types import MappingProxyType

import numpy as np

from routing.cost import Counts, bill_of, cost_of, offer_price
from routing.errors import InputError
from routing.flow import capital_recovery_factor
from routing.land import GROUND, KINDS, Layer
from routing.land.judge import crosses
from routing.pipe import Pipe, load_catalogue
from routing.settings import EnergySettings, PriceSettings
from routing.strength import LayingRules, Offer
from routing.strength.class_line import joint_costs
from routing.study import Study
from routing.trade_table import named_numbers, trade_table
from routing.trench import LEAST_BEND_DEG, deflections_deg
from routing.value import dataclass

__all__ = ["DIGGING", "PriceBook", "classes_of", "land_prices", "price_book"]

DIGGING = "m3 of trench"
"""The measure of cost where the user has priced nothing: a cubic metre, dug and filled."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceBook:
    """Prices without a gap: the user's own, else the usual ratios to a metre of digging.

    ``unit`` is what costs are counted in: the money's name, "" where it has none, or
    :data:`DIGGING`. ``defaults`` names what the user did not price; ``vent`` and ``drain`` are one
    built and, with ``visits``, gone to each year of its life; ``bend``, ``bench_m3`` and ``span_m``
    are a bend, a cubic metre of bench and a metre of pipe bridge [money]; ``laying`` prices changes
    of pipe.
    """

    prices: PriceSettings
    unit: str
    date: str
    defaults: tuple[str, ...]
    trench_m3: float
    vent: float
    drain: float
    visits: float
    bend: float
    bench_m3: float
    span_m: float
    laying: LayingRules
    land: Mapping[str, tuple[float, float]]
    """What a crossing, and a metre along, of each kind of land costs [money]."""

    def dearer_m3(self, kind: str) -> float:
        """Return what a cubic metre costs more in a class of ground [money]."""
        return self.prices.ground[kind] - self.trench_m3

    def pipe_m(self, pipe: Pipe) -> float:
        """Return the price of a metre of pipe; 0 where neither price nor mass is known [money]."""
        return offer_price(pipe, self.prices) or 0.0

    @property
    def currency(self) -> str | None:
        """Name of the money, None where costs are counted in trench."""
        return None if self.unit == DIGGING else self.unit

    @property
    def told(self) -> str:
        """Return what costs are counted in, and which of the prices are not the user's own."""
        money = self.unit or "the money of the prices"
        counted = "cubic metres of trench" if self.currency is None else money
        return (
            f"Costs are in {counted}. Priced by usual ratios of {self.date} and not by you: "
            f"{', '.join(self.defaults)}."
        )

    def of_study(self, study: Study, bench_m3: float) -> float:
        """Return what a study's line costs by these prices [money].

        It is the study's own bill of pipe, trench, bench, bends, bridges, vents, drains and
        crossings, with the changes of pipe and the visits to vents and drains. A study of a line
        being dragged knows no bench; then ``bench_m3`` is taken.
        """
        counts = Counts(
            vents=len(study.fittings.vents),
            drains=len(study.fittings.drains),
            bends=int(np.count_nonzero(deflections_deg(study.line.bends) >= LEAST_BEND_DEG)),
            bench_m3=bench_m3 if study.bench is None else study.bench.volume_m3,
            crossings=Counter(each.kind for each in study.crossings if crosses(each)),
        )
        rows = bill_of(self.prices, study.line, counts, study.settings.trench.ground)
        cost = cost_of(self.prices, rows)
        beside = self.visits * (counts.vents + counts.drains) + self._changes(study)
        return beside + (cost.total - cost.contingency if cost is not None else 0.0)

    def _changes(self, study: Study) -> float:
        """Return the price of all changes of pipe, by the rule of the choice of pipe [money]."""
        runs = () if study.line.schedule is None else study.line.schedule.runs
        offers = [Offer(pipe=run.pipe, price_per_m=self.pipe_m(run.pipe)) for run in runs]
        return float(np.trace(joint_costs(offers, self.laying), offset=1)) if offers else 0.0


def classes_of(layers: Iterable[Layer]) -> tuple[str, ...]:
    """Return the classes of ground that layers hold, each once."""
    held = (shape.name for layer in layers if layer.kind == GROUND for shape in layer.shapes)
    return tuple(dict.fromkeys(held))


def price_book(
    prices: PriceSettings, energy: EnergySettings | None = None, classes: Sequence[str] = ()
) -> PriceBook:
    """Return the user's prices with the usual ratios in the gaps.

    Where digging is priced, all ratios are to that price; else where pipe is priced by mass, to
    that; else the book is in cubic metres of trench. Yearly visits count by their present worth,
    over the life and at the interest of ``energy``, else the usual ones. Ground of ``classes`` is
    dug at the price of all other where it has none.
    """
    priced_classes = [each for each in classes if each in prices.ground]
    if priced_classes and prices.trench_per_m3 is None:
        raise InputError(
            f"[prices] ground has a price of {priced_classes[0]!r}, and other trench has none, so "
            "that ground cannot be compared.",
            "Give trench_per_m3 under [prices] too.",
        )
    ratio = named_numbers(__file__, "price_book.csv")
    unit = _unit(prices, ratio)
    defaults = [
        name
        for name, given in (
            ("trench", prices.trench_per_m3),
            ("vents", prices.vent),
            ("drains", prices.drain),
            ("yearly visits", prices.visit),
            ("bends", prices.bend),
            ("benches", prices.bench_per_m3),
            ("pipe bridges", prices.span_per_m),
        )
        if given is None
    ]
    materials = {pipe.material for pipe in load_catalogue()}
    lacking = {each: unit * ratio["pipe_kg"] for each in materials if each not in prices.per_kg}
    if not prices.per_metre and not prices.per_kg:
        defaults.insert(0, "pipe")
    priced = len(defaults) < 8 or bool(prices.crossing)
    defaults += [f"trench in “{each}”" for each in classes if each not in prices.ground]
    if prices.joint is None:
        defaults.append("changes of pipe")
    dated = max(row["date"] for row in trade_table(__file__, "price_book.csv"))

    def own(value: float | None, name: str) -> float:
        return unit * ratio[name] if value is None else value

    land = {
        kind: (prices.crossing.get(kind, unit * crossing), unit * along)
        for kind, (crossing, along) in land_prices().items()
    }
    visits = own(prices.visit, "visit") * _years_paid(energy or EnergySettings(), ratio)
    whole = replace(
        prices,
        date=prices.date or dated,
        joint=None,
        adapter=None,
        per_kg=MappingProxyType({**lacking, **prices.per_kg}),
        trench_per_m3=own(prices.trench_per_m3, "trench_m3"),
        ground=MappingProxyType(
            {**dict.fromkeys(classes, own(prices.trench_per_m3, "trench_m3")), **prices.ground}
        ),
        vent=own(prices.vent, "vent"),
        drain=own(prices.drain, "drain"),
        bend=own(prices.bend, "bend"),
        bench_per_m3=own(prices.bench_per_m3, "bench_m3"),
        span_per_m=own(prices.span_per_m, "span_m"),
        crossing=MappingProxyType({kind: crossing for kind, (crossing, _) in land.items()}),
    )
    return PriceBook(
        prices=whole,
        unit=prices.currency if priced else DIGGING,
        date=dated if defaults else str(prices.date),
        defaults=(*defaults, *_unpriced(prices)),
        trench_m3=own(prices.trench_per_m3, "trench_m3"),
        vent=own(prices.vent, "vent") + visits,
        drain=own(prices.drain, "drain") + visits,
        visits=visits,
        bend=own(prices.bend, "bend"),
        bench_m3=own(prices.bench_per_m3, "bench_m3"),
        span_m=own(prices.span_per_m, "span_m"),
        laying=LayingRules(joint_price=prices.joint, adapter_price=prices.adapter),
        land=MappingProxyType(land),
    )


@cache
def land_prices() -> Mapping[str, tuple[float, float]]:
    """Return what a crossing, and a metre along, of each kind of land costs [trench m3]."""
    rows = trade_table(__file__, "land.csv")
    return {row["kind"]: (float(row["crossing"]), float(row["along_m"])) for row in rows}


def _unpriced(prices: PriceSettings) -> Iterator[str]:
    """Yield what land asks for at the usual ratios; a metre along it always does."""
    lacking = [KINDS[kind].plural for kind in land_prices() if kind not in prices.crossing]
    if len(lacking) == len(land_prices()):
        yield "crossings"
    else:
        if lacking:
            yield f"crossings of {', '.join(lacking)}"
        yield "pipe along roads, streams, services and protected ground"


def _years_paid(energy: EnergySettings, ratio: Mapping[str, float]) -> float:
    """Return what a payment each year is worth now, over one of them [years]."""
    years = ratio["visit_years"] if energy.years is None else energy.years
    interest = ratio["visit_interest"] if energy.interest is None else energy.interest
    return 1.0 / capital_recovery_factor(interest, years)


def _unit(prices: PriceSettings, ratio: Mapping[str, float]) -> float:
    """Return the money that a cubic metre of trench is worth."""
    for given, name in (
        (prices.trench_per_m3, "trench_m3"),
        (min(prices.per_kg.values(), default=None), "pipe_kg"),
        (prices.vent, "vent"),
        (prices.drain, "drain"),
    ):
        if given:
            return given / ratio[name]
    for kind, given in sorted(prices.crossing.items()):
        if given and land_prices().get(kind, (0.0, 0.0))[0]:
            return given / land_prices()[kind][0]
    own = [
        price / (ratio["pipe_kg"] * mass)
        for name, price in sorted(prices.per_metre.items())
        if price and (mass := load_catalogue().find(name).mass_kg_m)
    ]
    return own[0] if own else 1.0
