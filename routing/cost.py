"""The bill of quantities of a line, its sum by the user's own prices, and what has no price."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from itertools import pairwise

import numpy as np

from routing.arrays import FloatArray
from routing.laid_line import LaidLine
from routing.land import KINDS
from routing.pipe import Pipe
from routing.settings import GroundSettings, PriceSettings
from routing.strength import LayingRules, Offer
from routing.strength.class_line import adapters_on, joint_costs
from routing.trench import LEAST_BEND_DEG
from routing.value import dataclass

__all__ = ["BillRow", "Cost", "Counts", "bill_of", "cost_of", "offer_price"]

USUAL_GROUND = ""
"""Class of the ground where nothing else was said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BillRow:
    """One row: what, of which size, how much of it [m, m3 or pieces], and the price of one."""

    what: str
    size: str
    quantity: float
    unit: str
    price: float | None

    @property
    def amount(self) -> float | None:
        """Return quantity times price [money]."""
        return None if self.price is None else self.quantity * self.price

    @property
    def name(self) -> str:
        """Return what is not priced, in words."""
        if self.what == "crossings":
            return f"crossings of {KINDS[self.size].plural}"
        if not self.size:
            return self.what
        return {"pipe": self.size, "trench": f"trench in “{self.size}”"}.get(
            self.what, f"{self.what} {self.size}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """What a line needs beside pipe and trench; None: not worked out, as while it is dragged."""

    vents: int = 0
    drains: int = 0
    valves: int = 0
    bends: int = 0
    taps: int | None = 0
    relief_valves: int | None = 0
    supports: int | None = 0
    concrete_m3: float | None = 0.0
    blocks_open: int = 0
    """Blocks too wide to be cast as such; an engineer makes foundations of them."""
    bench_m3: float | None = 0.0
    crossings: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Sum of all that has a price with its contingency [money], and what has none."""

    total: float
    contingency: float
    currency: str
    date: str | None
    not_priced: tuple[str, ...]


def offer_price(pipe: Pipe, prices: PriceSettings) -> float | None:
    """Return the user's price for a metre: its own, else by mass; None where there is none."""
    own = prices.per_metre.get(str(pipe.id))
    if own is not None:
        return own
    by_mass = prices.per_kg.get(pipe.material)
    return None if by_mass is None or pipe.mass_kg_m is None else by_mass * pipe.mass_kg_m


def bill_of(
    prices: PriceSettings,
    line: LaidLine,
    counts: Counts,
    ground: Sequence[GroundSettings] = (),
) -> tuple[BillRow, ...]:
    """Return the bill of quantities of a line; rows without quantity are left out.

    Pipe is counted along its slope, the trench between vertical walls by class of ground; prices
    may be lacking: the quantities stand all the same.
    """
    rows = [*_pipes(prices, line), *_trench(prices, line, ground)]
    per_m3 = prices.trench_per_m3 if prices.bench_per_m3 is None else prices.bench_per_m3
    spans = sum(span.to_m - span.from_m for span in line.pipe.spans)
    counted: tuple[tuple[str, str, float | None, str, float | None], ...] = (
        ("bench", "", counts.bench_m3, "m3", per_m3),
        ("vents", "", counts.vents, "", prices.vent),
        ("drains", "", counts.drains, "", prices.drain),
        ("isolating valves", "", counts.valves, "", prices.valve),
        ("gauge taps", "", counts.taps, "", prices.tap),
        ("relief valves", "", counts.relief_valves, "", prices.relief),
        ("bends", f"of {LEAST_BEND_DEG:g}° or more", counts.bends, "", prices.bend),
        ("concrete", "of blocks and anchors", counts.concrete_m3, "m3", prices.concrete_per_m3),
        ("blocks left open", "", counts.blocks_open, "", None),
        ("pipe bridges", "", spans, "m", prices.span_per_m),
        ("supports", "of pipe bridges", counts.supports, "", prices.support),
    )
    rows += [
        BillRow(what=what, size=size, quantity=float(number), unit=unit, price=price)
        for what, size, number, unit, price in counted
        if number
    ]
    rows += [
        BillRow(
            what="crossings",
            size=kind,
            quantity=float(number),
            unit="",
            price=prices.crossing.get(kind),
        )
        for kind, number in counts.crossings.items()
        if number
    ]
    rows += [
        BillRow(what=name, size="", quantity=1.0, unit="", price=sum_)
        for name, sum_ in prices.sums.items()
    ]
    return tuple(rows)


def _pipes(prices: PriceSettings, line: LaidLine) -> Iterator[BillRow]:
    runs = () if line.schedule is None else line.schedule.runs
    station, slope = line.pipe.station_m, line.pipe.slope_station_m
    lengths: dict[str, tuple[Pipe, float]] = {}
    for run in runs:
        first, last = np.interp([run.from_m, run.to_m], station, slope)
        _, before = lengths.get(run.pipe.label, (run.pipe, 0.0))
        lengths[run.pipe.label] = (run.pipe, before + float(last - first))
    if not runs:
        yield BillRow(what="pipe", size="", quantity=line.pipe.pipe_length_m, unit="m", price=None)
    for label, (pipe, length) in lengths.items():
        yield BillRow(
            what="pipe", size=label, quantity=length, unit="m", price=offer_price(pipe, prices)
        )
    if line.schedule is None or len(runs) < 2:
        return
    offers = [Offer(pipe=run.pipe, price_per_m=0.0) for run in runs]
    adapters = {adapter.station_m for adapter in adapters_on(line.schedule)}
    costs = np.diag(
        joint_costs(offers, LayingRules(adapter_price=prices.adapter, joint_price=prices.joint)),
        k=1,
    )
    sums: Counter[str] = Counter()
    counts: Counter[str] = Counter()
    for at, (_, below) in enumerate(pairwise(runs)):
        what = "adapters" if below.from_m in adapters else "changes of pipe"
        sums[what] += costs[at]
        counts[what] += 1
    for what, count in counts.items():
        price = float(sums[what]) / count
        yield BillRow(what=what, size="", quantity=float(count), unit="", price=price or None)


def _trench(
    prices: PriceSettings, line: LaidLine, ground: Sequence[GroundSettings]
) -> Iterator[BillRow]:
    for kind, volume in trench_volumes(line, ground).items():
        price = prices.trench_per_m3 if kind == USUAL_GROUND else prices.ground.get(kind)
        yield BillRow(what="trench", size=kind, quantity=volume, unit="m3", price=price)


def trench_volumes(line: LaidLine, ground: Sequence[GroundSettings]) -> dict[str, float]:
    """Return the digging of the trench by class of ground; they add up to the trench's own [m3]."""
    pipe, dug = line.pipe, line.pipe.excavation
    length = np.where(pipe.in_span[:-1] | pipe.in_span[1:], 0.0, np.diff(pipe.station_m))
    each: FloatArray = dug.width_m * length * (dug.depth_m[:-1] + dug.depth_m[1:]) / 2.0
    middle = (pipe.station_m[:-1] + pipe.station_m[1:]) / 2.0
    volumes: dict[str, float] = {}
    left = np.ones(middle.size, dtype=np.bool_)
    for stretch in ground:
        inside = left & (middle >= stretch.from_) & (middle <= stretch.to)
        left &= ~inside
        volumes[stretch.kind] = volumes.get(stretch.kind, 0.0) + float(each[inside].sum())
    rest = {USUAL_GROUND: float(each[left].sum())}
    return {kind: volume for kind, volume in {**rest, **volumes}.items() if volume > 0.0}


def cost_of(
    prices: PriceSettings, rows: Sequence[BillRow], lacking: Sequence[str] = ()
) -> Cost | None:
    """Return what a bill comes to; None where nothing at all was priced.

    ``lacking`` names what was not worked out. A share for what is not foreseen is added only where
    the user says how much.
    """
    if prices == PriceSettings(currency=prices.currency, date=prices.date):
        return None
    sum_ = sum(row.amount for row in rows if row.amount is not None)
    contingency = sum_ * (prices.contingency or 0.0)
    left = [row.name for row in rows if row.price is None]
    if prices.contingency is None:
        left.append("a share for what is not foreseen")
    outside = "tax and all else" if prices.sums else "intake, machine, tax and all else"
    return Cost(
        total=sum_ + contingency,
        contingency=contingency,
        currency=prices.currency,
        date=prices.date,
        not_priced=(*dict.fromkeys([*left, *lacking]), outside),
    )
