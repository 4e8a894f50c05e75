"""Which pipe to buy for a study's line: the whole catalogue tried, the best class line, the sizes.

Works from the study document alone, so that a study just made, one read from disk and one saved
by the service are asked alike. The line is taken as it is laid; a chosen pipe wants a new study.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.choice import (
    ChoiceLine,
    PipeSweep,
    choose_diameters,
    lost_energy_kwh,
    quick_surge,
    sweep_pipes,
)
from routing.choice.sweep import FASTEST_M_S
from routing.choice_case import ChoiceCase, choice_case
from routing.errors import InputError, LeatlineError
from routing.flow import most_power_loss_share
from routing.judge.cost import offer_price
from routing.pipe import Pipe, PipeSchedule, load_catalogue
from routing.rounding import kpa, metres, rounded
from routing.settings import settings_from_mapping
from routing.strength import Adapter, Offer, class_line
from routing.strength.trade_data import limit
from routing.units import UnitSystem, in_units

__all__ = ["choose_pipes"]

MOST_STATIONS = 2000
"""More stations than this are thinned for the sequences of pipes; summits and sags stay."""
MOST_OFFERS = 100
"""More pipes than this are not tried in sequence."""


def choose_pipes(document: Mapping[str, Any], *, material: str | None = None) -> dict[str, Any]:
    """Return what every pipe of the catalogue would do on a study's line, and which to buy.

    Parameters
    ----------
    document : mapping
        A study as ``study.json`` holds it, with a design flow
    material : str, optional
        Only pipes of this material, such as "PE100"

    Returns
    -------
    choice : dict
        ``line``, ``sweep`` (a row for each pipe, the best first), ``class_line`` (the cheapest
        classes of the best size), ``diameters`` (the cheapest sizes within the loss), ``notes``

    Raises
    ------
    InputError
        If the study has no design flow or no fall, the material is not in the catalogue, or the
        prices name a pipe that does not exist.

    Notes
    -----
    Valid for: the line as laid, each pipe with the bound on the surge of a sudden blockage, as the
    study judges it; where unlike pipes meet the waves may pass it, which a new study shows.
    Without prices the lightest pipe within the loss stands first, which across materials says
    nothing of money.
    """
    settings = settings_from_mapping(document.get("settings") or {})
    catalogue = load_catalogue()
    for name in settings.prices.per_metre:
        catalogue.find(name)  # an unknown id is refused, naming the nearest
    pipes = catalogue.select(material=material) if material else tuple(catalogue)
    if not pipes:
        known = ", ".join(sorted({pipe.material for pipe in catalogue}))
        raise InputError(
            f"The catalogue has no pipe of the material {material!r}.", f"Give one of: {known}."
        )
    case, notes = choice_case(document, settings, pipes)
    offers = [_offer(pipe, case) for pipe in pipes]
    sweep = sweep_pipes(
        case.line,
        offers,
        efficiency=case.efficiency,
        worth=case.worth,
        recurring=settings.surge.recurring,
        vents_may_freeze=settings.site.vents_may_freeze,
        surge_factor=settings.surge.factor,
    )
    fits, order = _ranked(case, sweep)
    best = int(order[0]) if fits[order[0]] else None
    if best is None:
        notes.append("No pipe of the catalogue fits; the first of the list comes nearest.")
    chosen = {str(pipe["id"]) for pipe in document.get("pipes") or () if pipe["id"] is not None}
    units: UnitSystem = document["units"]
    classes, sizes = _sequences(case, sweep, best, notes)
    prices = settings.prices
    return {
        "name": document["name"],
        "units": units,
        "line": {
            "length_m": metres(case.line.length_m),
            "gross_head_m": metres(case.line.gross_head_m),
            "flow_m3_s": rounded(case.line.flow_m3_s, 9),
            "efficiency": rounded(case.efficiency, 6),
            "most_loss": case.most_loss,
            "head_in_hand_m": limit("head_in_hand"),
        },
        "ranked_by": case.ranked_by,
        "currency": prices.currency or None,
        "prices_of": prices.date,
        "tried": len(offers),
        "fitting": int(fits.sum()),
        "sweep": [_row(case, sweep, int(at), bool(fits[at]), chosen) for at in order],
        "class_line": classes,
        "diameters": sizes,
        "notes": [in_units(note, units) for note in notes],
    }


def _offer(pipe: Pipe, case: ChoiceCase) -> Offer:
    """Return a pipe on offer; where no money decides, its price is its mass."""
    cost = pipe.mass_kg_m if case.ranked_by == "mass" else offer_price(pipe, case.settings.prices)
    return Offer(pipe=pipe, price_per_m=np.nan if cost is None else cost)


def _ranked(case: ChoiceCase, sweep: PipeSweep) -> tuple[BoolArray, IntArray]:
    """Return which pipes fit, and all of them in order: those that fit and cost least first."""
    cost = sweep.yearly_cost if case.worth is not None else sweep.price
    fits = sweep.holds & np.isfinite(cost) & _stands(case, sweep)
    if case.most_loss is not None:
        fits = fits & (sweep.loss_share <= case.most_loss)
    # Of those that do not fit, the ones that hold the pressure and lose least come first.
    nearest = np.where(fits, np.nan_to_num(cost, nan=np.inf), sweep.loss_share)
    return fits, np.lexsort((nearest, ~sweep.holds, ~fits))


def _stands(case: ChoiceCase, sweep: PipeSweep) -> BoolArray:
    """Return which pipes bear a full vacuum, which only counts where the vents may freeze."""
    if not case.settings.site.vents_may_freeze:
        return np.ones(len(sweep.offers), dtype=np.bool_)
    return sweep.vacuum_margin_pa >= 0.0


def _row(
    case: ChoiceCase, sweep: PipeSweep, at: int, fits: bool, chosen: set[str]
) -> dict[str, Any]:
    pipe = sweep.offers[at].pipe
    priced = case.ranked_by != "mass"
    return {
        "id": pipe.id,
        "label": pipe.label,
        "material": pipe.material,
        "standard": pipe.standard,
        "series": pipe.series,
        "nominal": pipe.nominal,
        "inside_diameter_m": rounded(pipe.inside_diameter_m, 6),
        "velocity_m_s": metres(sweep.velocity_m_s[at]),
        "loss_m": metres(sweep.loss_aged_m[at]),
        "loss_new_m": metres(sweep.loss_new_m[at]),
        "loss_share": rounded(sweep.loss_share[at], 6),
        "power_kw": rounded(sweep.power_kw[at], 4),
        "wave_speed_m_s": rounded(sweep.wave_speed_m_s[at], 1),
        "surge_m": metres(sweep.surge_m[at]),
        "class_margin_kpa": kpa(sweep.class_margin_pa[at]),
        "vacuum_margin_kpa": kpa(sweep.vacuum_margin_pa[at]),
        "mass_kg": rounded(sweep.mass_kg[at], 1),
        "price": rounded(sweep.price[at], 2) if priced else None,
        "lost_kwh": rounded(sweep.lost_kwh[at], 1),
        "yearly_cost": rounded(sweep.yearly_cost[at], 2),
        "fits": fits,
        "verdict": "fits" if fits else _verdict(case, sweep, at),
        "in_study": pipe.id in chosen,
    }


def _verdict(case: ChoiceCase, sweep: PipeSweep, at: int) -> str:
    """Return the first reason why a pipe does not fit."""
    weight = case.line.water.weight_n_m3
    margin = float(sweep.class_margin_pa[at])
    if sweep.offers[at].pipe.rating_pa is None:
        return "no rating"
    if not np.isfinite(margin):
        return "not judged"
    if margin < limit("head_in_hand") * weight:
        return "class exceeded"
    if not _stands(case, sweep)[at]:
        return "vacuum flattens it"
    if sweep.loss_share[at] >= 1.0:
        return "takes all the head"
    if sweep.velocity_m_s[at] > FASTEST_M_S:
        return "too fast"
    if case.most_loss is not None and sweep.loss_share[at] > case.most_loss:
        return "loses too much"
    return "no price"


def _sequences(
    case: ChoiceCase, sweep: PipeSweep, best: int | None, notes: list[str]
) -> tuple[dict[str, Any] | None, dict[str, Any] | None]:
    """Return the best classes of the best size and the best sizes of its standard."""
    if best is None:
        return None, None
    like, stands = sweep.offers[best].pipe, _stands(case, sweep)
    usable = [
        offer
        for offer, bears in zip(sweep.offers, stands, strict=True)
        if bears
        and offer.pipe.rating_pa is not None
        and offer.pipe.elastic_dynamic_pa is not None
        and np.isfinite(offer.price_per_m)
        and (offer.pipe.material, offer.pipe.standard) == (like.material, like.standard)
    ]
    line = _thinned(case.line)
    classes = sizes = None
    try:
        classes = _classes(case, line, [o for o in usable if o.pipe.nominal == like.nominal])
    except LeatlineError as error:
        notes.append(f"Classes of {like.nominal}: {error.problem}")
    try:
        sizes = _sizes(case, line, _worth_trying(usable), notes)
    except LeatlineError as error:
        notes.append(f"Several sizes: {error.problem}")
    _note_vacuum(sweep, [classes, sizes], notes)
    return classes, sizes


def _note_vacuum(
    sweep: PipeSweep, found: Sequence[dict[str, Any] | None], notes: list[str]
) -> None:
    """Say of which pipes chosen the vents must keep a vacuum off."""
    margins = zip(sweep.offers, sweep.vacuum_margin_pa.tolist(), strict=True)
    weak = {offer.pipe.id for offer, margin in margins if margin < 0.0}
    runs = [run for part in found if part is not None for run in part["runs"]]
    names = sorted({str(run["id"]) for run in runs if run["id"] in weak})
    if names:
        notes.append(
            f"Only working vents keep a vacuum from flattening {', '.join(names)}. Never close "
            "them, keep them from frost, and drain slowly."
        )


def _worth_trying(offers: Sequence[Offer]) -> list[Offer]:
    """Return the offers that no other one beats in bore, rating and price at once."""
    kept = [
        offer
        for offer in offers
        if not any(_beats(other, offer) for other in offers if other is not offer)
    ]
    kept.sort(key=lambda offer: offer.price_per_m)
    return kept[:MOST_OFFERS]


def _beats(one: Offer, other: Offer) -> bool:
    better = (
        one.pipe.inside_diameter_m - other.pipe.inside_diameter_m,
        (one.pipe.rating_pa or 0.0) - (other.pipe.rating_pa or 0.0),
        other.price_per_m - one.price_per_m,
    )
    return min(better) >= 0.0 and max(better) > 0.0


def _thinned(line: ChoiceLine) -> ChoiceLine:
    """Return a line of fewer stations; its summits and sags stay, so no pressure is missed."""
    count = len(line.station_m)
    if count <= MOST_STATIONS:
        return line
    kept = np.zeros(count, dtype=bool)
    kept[np.linspace(0, count - 1, MOST_STATIONS).round().astype(int)] = True
    kept[1:-1] |= np.diff(np.sign(np.diff(line.pipe_m))) != 0
    return replace(
        line,
        station_m=line.station_m[kept],
        slope_station_m=line.slope_station_m[kept],
        pipe_m=line.pipe_m[kept],
    )


def _classes(case: ChoiceCase, line: ChoiceLine, offers: Sequence[Offer]) -> dict[str, Any]:
    prices, weight = case.settings.prices, line.water.weight_n_m3
    found = class_line(
        station_m=line.station_m,
        slope_station_m=line.slope_station_m,
        static_pa=line.static_pa,
        surge_pa=weight * np.array([quick_surge(line, offer.pipe)[1] for offer in offers]),
        offers=offers,
        water=line.water,
        adapter_price=prices.adapter,
        joint_price=prices.joint,
        recurring=case.settings.surge.recurring,
        surge_factor=case.settings.surge.factor,
    )
    return {
        "runs": _runs(found.schedule),
        "cost": rounded(found.price, 2),
        "adapters": _adapters(found.adapters),
    }


def _sizes(
    case: ChoiceCase, line: ChoiceLine, offers: Sequence[Offer], notes: list[str]
) -> dict[str, Any]:
    """Return the cheapest sizes within the loss, with water kept over the summits if that goes."""
    settings, gross = case.settings, line.gross_head_m
    share = most_power_loss_share() if case.most_loss is None else case.most_loss
    per_lost_m = 0.0
    if case.worth is not None:
        one = lost_energy_kwh(
            case.worth,
            design_m3_s=line.flow_m3_s,
            gross_head_m=gross,
            loss_at_design_m=np.array([min(1.0, gross)]),
            water=line.water,
        )
        yearly = float(one[0]) / min(1.0, gross) * case.worth.price_per_kwh
        per_lost_m = yearly / case.worth.recovery
    summits = np.full(line.station_m.shape, np.nan)
    rising = np.diff(line.pipe_m)
    summits[1:-1][(rising[:-1] > 0.0) & (rising[1:] <= 0.0)] = 0.0

    def find(least_head_m: FloatArray | None) -> dict[str, Any]:
        found = choose_diameters(
            line,
            offers,
            most_loss_m=share * gross,
            price_per_lost_m=per_lost_m,
            least_head_m=least_head_m,
            adapter_price=settings.prices.adapter,
            joint_price=settings.prices.joint,
            recurring=settings.surge.recurring,
            surge_factor=settings.surge.factor,
        )
        return {
            "runs": _runs(found.schedule),
            "cost": rounded(found.price, 2),
            "loss_m": metres(found.loss_m),
            "value": rounded(found.value, 2),
            "lower_bound": rounded(found.lower_bound, 2),
            "proved": found.proved,
            "adapters": _adapters(found.adapters),
        }

    try:
        return find(summits)
    except InputError:
        found = find(None)
        notes.append("The sizes chosen do not keep the flowing pressure above zero at a summit.")
        return found


def _runs(schedule: PipeSchedule) -> list[dict[str, Any]]:
    return [
        {
            "from_m": metres(run.from_m),
            "to_m": metres(run.to_m),
            "id": run.pipe.id,
            "label": run.pipe.label,
            "inside_diameter_m": rounded(run.pipe.inside_diameter_m, 6),
            "rating_kpa": kpa(run.pipe.rating_pa),
        }
        for run in schedule.runs
    ]


def _adapters(adapters: Sequence[Adapter]) -> list[dict[str, Any]]:
    return [
        {"station_m": metres(each.station_m), "above": each.above, "below": each.below}
        for each in adapters
    ]
