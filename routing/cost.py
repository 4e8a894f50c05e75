"""What a line costs by the user's own prices, and what has no price."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from routing.laid_line import LaidLine
from routing.pipe import Pipe
from routing.settings import PriceSettings
from routing.strength import LayingRules, Offer
from routing.strength.class_line import joint_costs

__all__ = ["Cost", "line_cost", "offer_price"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Sum of all that has a price [money], and what has none."""

    total: float
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


def line_cost(prices: PriceSettings, line: LaidLine, vents: int, drains: int) -> Cost | None:
    """Return what pipe, its joints, trench, vents and drains cost; None without any price.

    Pipe is counted along its slope; blocks, supports, intake, machine and tax are never priced.
    """
    if prices == PriceSettings(currency=prices.currency, date=prices.date):
        return None
    parts: list[tuple[str, float, float | None]] = [
        ("trench", line.pipe.excavation.volume_m3, prices.trench_per_m3),
        ("vents", vents, prices.vent),
        ("drains", drains, prices.drain),
    ]
    runs = () if line.schedule is None else line.schedule.runs
    station, slope = line.pipe.station_m, line.pipe.slope_station_m
    for run in runs:
        first, last = np.interp([run.from_m, run.to_m], station, slope)
        parts.append((run.pipe.label, float(last - first), offer_price(run.pipe, prices)))
    joints = joint_costs(
        [Offer(pipe=run.pipe, price_per_m=offer_price(run.pipe, prices) or 0.0) for run in runs],
        LayingRules(adapter_price=prices.adapter, joint_price=prices.joint),
    )
    total = sum(amount * price for _, amount, price in parts if price is not None)
    lacking = [what for what, amount, price in parts if amount > 0 and price is None]
    if not runs:
        lacking.insert(0, "pipe")
    return Cost(
        total=total + float(np.trace(joints, offset=1)),
        currency=prices.currency,
        date=prices.date,
        not_priced=(*dict.fromkeys(lacking), "blocks, supports, intake, machine and tax"),
    )
