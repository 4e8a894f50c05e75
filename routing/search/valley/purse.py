"""Prices, sizes of pipe and limits of a screening, as the compiled chain takes them."""

from __future__ import annotations

import numpy as np

from routing.errors import SettingsError
from routing.flow import capital_recovery_factor
from routing.flow.power import find_turbine
from routing.flow.requirements import asked
from routing.inputs import find_limits
from routing.search.ladder import Ladder, sizes_on_offer
from routing.search.prices import PriceBook, price_book
from routing.search.rules import dug_through_m, rules
from routing.search.valley.chain import Purse
from routing.search.valley.land import CROSSED
from routing.settings import Settings
from routing.trench import trench_width_m
from routing.water import water_at

__all__ = ["RANKS", "purse_of", "rank_of"]

RANKS = ("worth", "power per cost", "head per length")
MOST_HEAD_M = 2000.0
"""Heads beyond this are not screened [m]."""


def rank_of(settings: Settings, book: PriceBook) -> str:
    """Return by what candidates are ranked: as asked, else the most that is known."""
    energy, wanted = settings.energy, settings.screen.rank_by
    priced = None not in (energy.price_per_kwh, energy.interest, energy.years, energy.hours)
    priced = priced and book.currency is not None
    flowing = settings.flow.design is not None or settings.catchment.specific_yield is not None
    if wanted == "worth" and not (priced and flowing):
        raise SettingsError(
            'screen.rank_by = "worth" needs a flow, prices, and what a kilowatt hour is worth.',
            "Give design under [flow] or specific_yield under [catchment], prices under [prices], "
            "and price_per_kwh, interest, years and hours under [energy].",
        )
    if wanted == "power per cost" and not flowing:
        raise SettingsError(
            'screen.rank_by = "power per cost" needs a flow.',
            "Give design under [flow], or specific_yield under [catchment].",
        )
    if wanted is not None:
        return wanted
    return RANKS[0] if priced and flowing else RANKS[1] if flowing else RANKS[2]


def purse_of(settings: Settings) -> Purse:
    """Return what a screening counts with."""
    rule, screen = rules(), settings.screen
    book, water = price_book(settings.prices, settings.energy), water_at(settings.flow.temperature)
    ladders = sizes_on_offer(settings, book)
    heads = screen.most_head or min(MOST_HEAD_M, max(each.most_head_m for each in ladders))
    limits = [find_limits(settings.trench, each.outside_diameter_m)[0] for each in ladders]
    depth = [each.cover_m + each.outside_diameter_m + each.bedding_m for each in limits]
    energy = settings.energy
    efficiency = settings.turbine.efficiency
    return Purse(
        bore_m=np.array([_bore_m(each) for each in ladders]),
        rough_m=np.array([each.rungs[-1].pipe.roughness_m for each in ladders]),
        trench=np.array(
            [
                book.trench_m3 * trench_width_m(each.outside_diameter_m) * deep
                for each, deep in zip(ladders, depth, strict=True)
            ]
        ),
        section_m2=np.array(
            [
                trench_width_m(each.outside_diameter_m) * deep
                for each, deep in zip(ladders, depth, strict=True)
            ]
        ),
        most_head_m=np.minimum([each.most_head_m for each in ladders], MOST_HEAD_M + 10.0),
        by_head=np.array([each.by_head(heads + 5.0) for each in ladders]),
        depth_m=float(limits[0].cover_m + limits[0].outside_diameter_m / 2.0),
        bench=book.bench_m3 * settings.trench.bench_width**2 / 2.0,
        bench_from=settings.trench.bench_from,
        cut=settings.trench.bench_face,
        steep_from=rule["steep_from"],
        steep_factor=rule["steep_factor"],
        vent=book.vent,
        drain=book.drain,
        slack_m=dug_through_m(limits[0].max_depth_m - depth[0]),
        margin_m=rule["margin"],
        intake_above_m=settings.intake.level_above_ground,
        outlet_above_m=settings.outlet.level_above_ground or 0.0,
        viscosity=water.kinematic_viscosity_m2_s,
        weight_kn=water.weight_n_m3 / 1000.0,
        efficiency=find_turbine(settings.turbine.kind).water_to_wire
        if efficiency is None
        else efficiency,
        most_loss=energy.most_loss or asked("loss_most").bound / 100.0,
        fastest=asked("velocity_plastic").bound,
        least_head=screen.least_head,
        most_head=float(heads),
        most_length=screen.most_length,
        worth=(energy.price_per_kwh or 0.0) * (energy.hours or 0.0),
        recovery=capital_recovery_factor(energy.interest or 0.0, energy.years or 1.0),
        rank=RANKS.index(rank_of(settings, book)),
        crossing=np.array([book.land[kind][0] for kind in CROSSED]),
    )


def _bore_m(ladder: Ladder) -> float:
    """Return the least bore of a size's classes [m]."""
    return min(each.pipe.inside_diameter_m for each in ladder.rungs)
