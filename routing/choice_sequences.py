"""The best sequences of pipes for a line: classes of one size, and sizes of one standard.

What is chosen was tried by the checks of a study, its waves followed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from routing.arrays import FloatArray
from routing.choice import (
    ChoiceLine,
    DiameterChoice,
    PipeSweep,
    choose_diameters,
    quick_surge,
)
from routing.choice_case import ChoiceCase
from routing.errors import InputError, LeatlineError
from routing.flow import most_power_loss_share
from routing.flow.requirements import asked
from routing.pipe import PipeSchedule
from routing.rounding import kpa, metres, rounded
from routing.strength import Adapter, LayingRules, Offer, class_line, few_kinds

__all__ = ["best_sequences"]

MOST_STATIONS = 2000
"""More stations than this are thinned for the sequences of pipes; summits and sags stay."""
LATER_SWINGS = (1.0, 1.6)
"""Shares of the bound that a sequence of pipes is sought with: waves between unlike pipes seldom
rise higher, by a scan with the method of characteristics; what is found is followed in any case."""
MOST_OFFERS = 100
"""More pipes than this are not tried in sequence."""


def best_sequences(
    case: ChoiceCase, sweep: PipeSweep, best: int | None, notes: list[str]
) -> tuple[dict[str, Any] | None, dict[str, Any] | None]:
    """Return the best classes of the best size and the best sizes of its standard."""
    if best is None:
        return None, None
    like, frozen = sweep.offers[best].pipe, case.settings.given.get("site", {})
    must_stand = frozen.get("vents_may_freeze") is True
    test = case.trials.hydrotest(case.whole(like))
    case = replace(case, line=_thinned(replace(case.line, test=test)))
    usable = [
        offer
        for offer, margin in zip(sweep.offers, sweep.vacuum_margin_pa.tolist(), strict=True)
        if (margin >= 0.0 or not must_stand)
        and offer.pipe.rating_pa is not None
        and offer.pipe.elastic_dynamic_pa is not None
        and np.isfinite(offer.price_per_m)
        and (offer.pipe.material, offer.pipe.standard) == (like.material, like.standard)
    ]
    of_size = [offer for offer in usable if offer.pipe.nominal == like.nominal]
    alone = [sweep.offers[best]]
    classes = _first_that_fits(f"Classes of {like.nominal}", case, of_size, alone, _classes, notes)
    sizes = _first_that_fits("Several sizes", case, _worth_trying(usable), alone, _sizes, notes)
    _note_vacuum(sweep, [classes, sizes], notes)
    return classes, sizes


def _first_that_fits(
    what: str,
    case: ChoiceCase,
    offers: Sequence[Offer],
    alone: Sequence[Offer],
    choose: Callable[..., dict[str, Any]],
    notes: list[str],
) -> dict[str, Any] | None:
    """Return the cheapest sequence that the checks of a study hold for good, else the best pipe.

    Where unlike pipes meet, waves pass the bound of each alone; a sequence that then fails is
    sought again with more in hand.
    """
    said = ""
    tries = [(offers, swings) for swings in LATER_SWINGS] + [(alone, 1.0)]
    for some, swings in tries:
        line = replace(case.line, later_swings=swings)
        try:
            return choose(case, line, some, notes)
        except LeatlineError as error:
            said = error.problem
    notes.append(f"{what}: {said}")
    return None


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
    test = line.test
    if test is not None:
        test = replace(test, pressure_pa=test.pressure_pa[kept])
    return replace(
        line,
        test=test,
        station_m=line.station_m[kept],
        slope_station_m=line.slope_station_m[kept],
        pipe_m=line.pipe_m[kept],
    )


def _rules(case: ChoiceCase) -> LayingRules:
    """Return what a change of pipe costs: as given, else the trade's default."""
    prices = case.settings.prices
    return LayingRules(
        joint_price=prices.joint,
        adapter_price=prices.adapter,
        surge_factor=case.settings.surge.factor,
    )


def _tried(case: ChoiceCase, schedule: PipeSchedule) -> PipeSchedule:
    """Return a sequence that the checks of a study hold for good; InputError where they do not."""
    failed = case.trials.why_not(schedule, follow=True)
    if failed is not None:
        raise InputError(f"the cheapest sequence does not fit: {failed}.", "Take one pipe.")
    return schedule


def _classes(
    case: ChoiceCase, line: ChoiceLine, offers: Sequence[Offer], notes: list[str]
) -> dict[str, Any]:
    def find(some: Sequence[Offer]) -> Any:
        surge = [quick_surge(line, offer.pipe)[1] for offer in some]
        return class_line(
            station_m=line.station_m,
            slope_station_m=line.slope_station_m,
            static_pa=line.static_pa,
            surge_pa=line.water.weight_n_m3 * np.array(surge),
            offers=some,
            water=line.water,
            rules=_rules(case),
            test=line.test,
        )

    found = few_kinds(find, offers)
    return {
        "runs": _runs(_tried(case, found.schedule)),
        "cost": rounded(found.price, 2),
        "adapters": _adapters(found.adapters),
    }


def _sizes(
    case: ChoiceCase, line: ChoiceLine, offers: Sequence[Offer], notes: list[str]
) -> dict[str, Any]:
    """Return the cheapest sizes within the loss, with water kept over the summits if that goes."""
    gross = line.gross_head_m
    wise = asked("loss_most").bound / 100.0
    share = min(wise, most_power_loss_share() if case.most_loss is None else case.most_loss)
    per_lost_m = 0.0
    if case.worth is not None:
        one = min(1.0, gross)
        yearly = case.lost_kwh(case.worth, one) / one * case.worth.price_per_kwh
        per_lost_m = yearly / case.worth.recovery
    summits = np.full(line.station_m.shape, np.nan)
    rising = np.diff(line.pipe_m)
    summits[1:-1][(rising[:-1] > 0.0) & (rising[1:] <= 0.0)] = 0.0

    def find(least_head_m: FloatArray | None) -> dict[str, Any]:
        def best(some: Sequence[Offer]) -> DiameterChoice:
            chosen = choose_diameters(
                line,
                some,
                most_loss_m=share * gross,
                price_per_lost_m=per_lost_m,
                least_head_m=least_head_m,
                rules=_rules(case),
            )
            return chosen if some is offers else replace(chosen, proved=False)

        found = few_kinds(best, offers)
        return {
            "runs": _runs(_tried(case, found.schedule)),
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
        said = "The sizes chosen do not keep the flowing pressure above zero at a summit."
        notes.extend(() if said in notes else (said,))
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
