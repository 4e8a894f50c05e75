"""Which pipe to buy for a study's line: the whole catalogue tried, the best class line, the sizes.

Works on the laid line of a study. The formulas of the choice rank all pipes at once; what is said
to fit was then tried by the checks of a study, with that pipe in the line. The line is taken as it
is laid; a chosen pipe wants a new study.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.choice import (
    ChoiceLine,
    DiameterChoice,
    PipeSweep,
    choose_diameters,
    lost_energy_kwh,
    quick_surge,
    sweep_pipes,
)
from routing.choice_case import ChoiceCase, choice_case
from routing.errors import InputError, LeatlineError
from routing.flow import most_power_loss_share
from routing.flow.requirements import asked as flow_asked
from routing.judge.cost import offer_price
from routing.laid_line import LaidLine
from routing.pipe import Pipe, PipeSchedule, load_catalogue, schedule_pipes
from routing.pipe_trial import REASONS, why_not
from routing.rounding import kpa, metres, rounded
from routing.settings import Settings
from routing.strength import Adapter, LayingRules, Offer, class_line
from routing.strength.trade_data import limit
from routing.units import UnitSystem, in_units

__all__ = ["choose_pipes"]

MOST_STATIONS = 2000
"""More stations than this are thinned for the sequences of pipes; summits and sags stay."""
FITS = "fits"
MOST_FOLLOWED = 3
"""Of so many pipes that fit the surge is followed in time; the bound judges the others."""
LATER_SWINGS = (1.0, 1.6)
"""Shares of the bound that a sequence of pipes is sought with; unlike pipes pass it by up to 1.6
times, found by a scan with the method of characteristics."""
MOST_OFFERS = 100
"""More pipes than this are not tried in sequence."""


def choose_pipes(
    laid: LaidLine, settings: Settings, *, name: str = "", material: str | None = None
) -> dict[str, Any]:
    """Return what every pipe of the catalogue would do on a study's line, and which to buy.

    Parameters
    ----------
    laid : LaidLine
        The line as a study laid it
    settings : Settings
        What the study was told, with a design flow
    name : str
        What the study is called
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
    Valid for: the line as laid. What fits was tried by the checks of a study. Without prices the
    lightest pipe within the loss stands first, which across materials says nothing of money.
    """
    catalogue = load_catalogue()
    for priced in settings.prices.per_metre:
        catalogue.find(priced)  # an unknown id is refused, naming the nearest
    chosen = {run.pipe.id for run in laid.schedule.runs} if laid.schedule is not None else set()
    wanted = {*chosen, *settings.prices.per_metre}
    pipes = _distinct(catalogue.select(material=material) if material else tuple(catalogue), wanted)
    if not pipes:
        known = ", ".join(sorted({pipe.material for pipe in catalogue}))
        raise InputError(
            f"The catalogue has no pipe of the material {material!r}.", f"Give one of: {known}."
        )
    case, notes = choice_case(laid, settings, pipes)
    sweep = sweep_pipes(
        case.line,
        [_offer(pipe, case) for pipe in pipes],
        efficiency=case.efficiency,
        worth=case.worth,
        vents_may_freeze=settings.site.vents_may_freeze,
        surge_factor=settings.surge.factor,
    )
    verdicts, order = _followed(
        case, sweep, [_verdict(case, sweep, at) for at in range(len(pipes))]
    )
    fits = np.array([verdict == FITS for verdict in verdicts])
    best = int(order[0]) if fits[order[0]] else None
    if best is None:
        notes.append("No pipe of the catalogue fits; the first of the list comes nearest.")
    units: UnitSystem = settings.study.units
    classes, sizes = _sequences(case, sweep, best, notes)
    prices = settings.prices
    return {
        "name": name,
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
        "tried": len(pipes),
        "fitting": int(fits.sum()),
        "sweep": [_row(case, sweep, int(at), verdicts[at], chosen) for at in order],
        "class_line": classes,
        "diameters": sizes,
        "notes": [in_units(note, units) for note in notes],
    }


def _distinct(pipes: Sequence[Pipe], wanted: set[str | None]) -> tuple[Pipe, ...]:
    """Return the pipes without those of one wall under two names; the one that is wanted stays."""
    kept: dict[object, Pipe] = {}
    for pipe in pipes:
        sizes = (pipe.outside_diameter_m, pipe.wall_m, pipe.inside_diameter_m, pipe.rating_pa)
        key = (pipe.material, *(None if each is None else round(each, 5) for each in sizes))
        if key not in kept or (pipe.id in wanted and kept[key].id not in wanted):
            kept[key] = pipe
    return tuple(kept.values())


def _offer(pipe: Pipe, case: ChoiceCase) -> Offer:
    """Return a pipe on offer; where no money decides, its price is its mass."""
    cost = pipe.mass_kg_m if case.ranked_by == "mass" else offer_price(pipe, case.settings.prices)
    return Offer(pipe=pipe, price_per_m=np.nan if cost is None else cost)


def _ranked(case: ChoiceCase, sweep: PipeSweep, fits: BoolArray) -> IntArray:
    """Return all pipes in order: those that fit and cost least first, then those nearest to it."""
    cost = sweep.yearly_cost if case.worth is not None else sweep.price
    # Of those that do not fit, the ones that hold the pressure and lose least come first.
    nearest = np.where(fits, np.nan_to_num(cost, nan=np.inf), sweep.loss_share)
    return np.lexsort((nearest, ~sweep.holds, ~fits))


def _row(
    case: ChoiceCase, sweep: PipeSweep, at: int, verdict: str, chosen: set[str | None]
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
        "fits": verdict == FITS,
        "verdict": verdict,
        "in_study": pipe.id in chosen,
    }


def _verdict(case: ChoiceCase, sweep: PipeSweep, at: int) -> str:
    """Return "fits", or why a pipe does not: by the formulas, then by the checks of a study."""
    weight, pipe = case.line.water.weight_n_m3, sweep.offers[at].pipe
    margin = float(sweep.class_margin_pa[at])
    if pipe.rating_pa is None:
        return "no rating"
    if not np.isfinite(margin):
        return "not judged"
    if margin < limit("head_in_hand") * weight:
        return REASONS["class_exceeded"]
    if sweep.loss_share[at] >= 1.0:
        return REASONS["flow_exceeds"]
    if case.most_loss is not None and sweep.loss_share[at] > case.most_loss:
        return REASONS["loss_high"]
    cost = sweep.yearly_cost if case.worth is not None else sweep.price
    if not np.isfinite(cost[at]):
        return "no price"
    # The bound on the surge judges them all; the first of the list are followed in time after it.
    return why_not(_asked(case, follow=False), _with(case, pipe)) or FITS


def _asked(case: ChoiceCase, *, follow: bool) -> Settings:
    """Return what pipes are tried for: the study's settings, with the head that stays in hand."""
    given = case.settings
    site = replace(given.site, flood_rise=given.site.flood_rise + limit("head_in_hand"))
    return replace(
        given, site=site, surge=given.surge if follow else replace(given.surge, run=False)
    )


def _followed(
    case: ChoiceCase, sweep: PipeSweep, verdicts: list[str]
) -> tuple[list[str], IntArray]:
    """Return the verdicts and the order, the first pipes tried with their surges followed in time.

    A pipe that fails then leaves the list of those that fit, until as many as wanted hold.
    """
    verdicts, followed = list(verdicts), set[int]()
    while True:
        fits = np.array([verdict == FITS for verdict in verdicts])
        order = _ranked(case, sweep, fits)
        first = order[: min(int(fits.sum()), MOST_FOLLOWED)].tolist()
        todo = [at for at in first if at not in followed]
        if not todo:
            return verdicts, order
        for at in todo:
            followed.add(at)
            verdicts[at] = (
                why_not(_asked(case, follow=True), _with(case, sweep.offers[at].pipe)) or FITS
            )


def _with(case: ChoiceCase, pipe: Pipe) -> LaidLine:
    return case.laid.with_pipes(schedule_pipes([(0.0, pipe)], float(case.laid.station_m[-1])))


def _sequences(
    case: ChoiceCase, sweep: PipeSweep, best: int | None, notes: list[str]
) -> tuple[dict[str, Any] | None, dict[str, Any] | None]:
    """Return the best classes of the best size and the best sizes of its standard."""
    if best is None:
        return None, None
    like, frozen = sweep.offers[best].pipe, case.settings.given.get("site", {})
    must_stand = frozen.get("vents_may_freeze") is True
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
        line = replace(_thinned(case.line), later_swings=swings)
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
    return replace(
        line,
        station_m=line.station_m[kept],
        slope_station_m=line.slope_station_m[kept],
        pipe_m=line.pipe_m[kept],
    )


def _rules(case: ChoiceCase) -> LayingRules:
    """Return what a change of pipe costs: as given, else the trade's default."""
    prices, given = case.settings.prices, case.settings.given.get("prices", {})
    return LayingRules(
        joint_price=prices.joint if "joint" in given else None,
        adapter_price=prices.adapter if "adapter" in given else None,
        surge_factor=case.settings.surge.factor,
    )


def _tried(case: ChoiceCase, schedule: PipeSchedule) -> PipeSchedule:
    """Return a sequence that the checks of a study hold for good; InputError where they do not."""
    failed = why_not(_asked(case, follow=True), case.laid.with_pipes(schedule))
    if failed is not None:
        raise InputError(f"the cheapest sequence does not fit: {failed}.", "Take one pipe.")
    return schedule


def _few_kinds(find: Callable[[Sequence[Offer]], Any], offers: Sequence[Offer]) -> Any:
    """Return the cheapest sequence of at most three kinds of pipe, from those of the cheapest."""
    found = find(offers)
    kinds = {run.pipe for run in found.schedule.runs}
    most = int(limit("most_kinds"))
    if len(kinds) <= most:
        return found
    best = None
    for few in combinations([offer for offer in offers if offer.pipe in kinds], most):
        try:
            tried = find(few)
        except InputError:
            continue
        if best is None or tried.price < best.price:
            best = tried
    if best is None:
        raise InputError(f"no {most} kinds of pipe do.", "Take one pipe.")
    return replace(best, proved=False) if isinstance(best, DiameterChoice) else best


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
        )

    found = _few_kinds(find, offers)
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
    wise = flow_asked("loss_most").bound / 100.0
    share = min(wise, most_power_loss_share() if case.most_loss is None else case.most_loss)
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
        def best(some: Sequence[Offer]) -> DiameterChoice:
            return choose_diameters(
                line,
                some,
                most_loss_m=share * gross,
                price_per_lost_m=per_lost_m,
                least_head_m=least_head_m,
                rules=_rules(case),
            )

        found = _few_kinds(best, offers)
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
