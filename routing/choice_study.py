"""Which pipe to buy for a study's line: the whole catalogue tried, the best class line, the sizes.

Works on the laid line of a study. The formulas of the choice rank all pipes at once; what is said
to fit was then tried by the checks of a study, with that pipe in the line. The line is taken as it
is laid; a chosen pipe wants a new study.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from routing.arrays import BoolArray, IntArray, frozen
from routing.choice import PipeSweep, sweep_pipes
from routing.choice_case import ChoiceCase, choice_case
from routing.choice_sequences import best_sequences
from routing.cost import offer_price
from routing.errors import InputError
from routing.flow.requirements import asked
from routing.laid_line import LaidLine
from routing.pipe import Pipe, is_plastic, load_catalogue
from routing.pipe_trial import BY_WAVES, REASONS, Trial
from routing.rounding import fields_of, kpa, metres, rounded
from routing.settings import Settings
from routing.strength import Offer
from routing.strength.trade_data import limit
from routing.units import UnitSystem
from routing.us_units import in_units

__all__ = ["choose_pipes"]

FITS = "fits"
MOST_FOLLOWED = 8
"""So many pipes that fit are laid and their surges followed in time; the bound judges the rest."""
MOST_TRIALS = 24
"""No more pipes than this are followed to find them."""


def choose_pipes(
    laid: LaidLine,
    settings: Settings,
    *,
    name: str = "",
    material: str | None = None,
    sizes: bool = True,
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
    sizes : bool
        Whether the cheapest classes and sizes along the line are sought

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
    pipes = _distinct(material, frozenset({*chosen, *settings.prices.per_metre}))
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
    sweep, verdicts, followed, order = _tried(case, sweep, notes)
    fits = np.array([verdict == FITS for verdict in verdicts])
    best = int(order[0]) if fits[order[0]] else None
    if best is None:
        notes.append("No pipe of the catalogue fits; the first of the list comes nearest.")
    units: UnitSystem = settings.study.units
    classes, diameters = best_sequences(case, sweep, best, notes) if sizes else (None, None)
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
        "sweep": [
            {
                **_row(case, sweep, at, verdicts[at]),
                "tried": "full" if at in followed else "bound",
                "in_study": pipes[at].id in chosen,
            }
            for at in order.tolist()
        ],
        "class_line": classes,
        "diameters": diameters,
        "notes": [in_units(note, units) for note in notes],
    }


@lru_cache(maxsize=16)
def _distinct(material: str | None, wanted: frozenset[str | None]) -> tuple[Pipe, ...]:
    """Return the pipes without those of one wall under two names; the one that is wanted stays."""
    catalogue = load_catalogue()
    kept: dict[object, Pipe] = {}
    for pipe in catalogue.select(material=material) if material else catalogue:
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


def _row(case: ChoiceCase, sweep: PipeSweep, at: int, verdict: str) -> dict[str, Any]:
    pipe = sweep.offers[at].pipe
    priced = case.ranked_by != "mass"
    return {
        **fields_of(pipe, "id label material standard series nominal"),
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
    }


def _tried(
    case: ChoiceCase, sweep: PipeSweep, notes: list[str]
) -> tuple[PipeSweep, list[str], set[int], IntArray]:
    """Return sweep and verdicts, which pipes had their surges followed in time, and the order.

    The bound on the surge judges all pipes. The first of those that fit by it, or that waves may
    still clear, are followed until as many as wanted hold; the sweep then says of them what a
    study with each would.
    """
    judged = [_verdict(case, sweep, at) for at in range(len(sweep.offers))]
    verdicts = [verdict for verdict, _ in judged]
    may_clear = np.array([may for _, may in judged])
    followed = set[int]()
    while True:
        fits = np.array([verdict == FITS for verdict in verdicts])
        hopeful = fits | may_clear
        first = _ranked(case, sweep, hopeful)[: min(int(hopeful.sum()), MOST_FOLLOWED)]
        todo = [at for at in first.tolist() if at not in followed]
        if not todo or len(followed) >= MOST_TRIALS:
            break
        for at in todo:
            followed.add(at)
            may_clear[at] = False
            trial = case.trials.trial(case.whole(sweep.offers[at].pipe), follow=True)
            verdicts[at] = trial.said or FITS
            sweep = _as_studied(case, sweep, at, trial)
    if may_clear.any():
        notes.append(
            f"{int(may_clear.sum())} pipes are turned down by the quick bound on the surge alone. "
            "A study with one of them follows its waves and may clear it."
        )
    full = sum(verdicts[at] == FITS for at in followed)
    if fits.sum() > full:
        notes.append(
            f"{full} pipes were laid and their surges followed in time. The others that fit stand "
            "by the quick bound on the line as it lies; peaks after the water parts may pass it. "
            "Study the line with one of them before you buy it."
        )
    return sweep, verdicts, followed, _ranked(case, sweep, fits)


def _as_studied(case: ChoiceCase, sweep: PipeSweep, at: int, trial: Trial) -> PipeSweep:
    """Return the sweep with the figures of one pipe as a study that holds it would tell them."""
    flow = trial.flow
    if flow is None or not trial.surges:
        return sweep  # turned down before its surges were asked for
    length_m = float(trial.line.slope_station_m[-1] - trial.line.slope_station_m[0])
    offer, lost_m = sweep.offers[at], flow.aged.head_loss_m
    price = offer.price_per_m * length_m
    told = {
        "loss_aged_m": lost_m,
        "loss_new_m": flow.new.head_loss_m,
        "loss_share": lost_m / trial.line.gross_head_m,
        "surge_m": float(trial.surges[-1].rise_m.max()),
        "class_margin_pa": trial.class_in_hand_pa,
        "power_kw": flow.power_kw,
        "mass_kg": length_m * (offer.pipe.mass_kg_m or np.nan),
        "price": price,
    }
    if case.worth is not None:
        told["lost_kwh"] = lost = case.lost_kwh(case.worth, lost_m)
        told["yearly_cost"] = case.worth.recovery * price + case.worth.price_per_kwh * lost
    values: dict[str, Any] = {}
    for key, value in told.items():
        column = np.array(getattr(sweep, key))
        column[at] = value
        values[key] = frozen(column)
    return replace(sweep, **values)


def _verdict(case: ChoiceCase, sweep: PipeSweep, at: int) -> tuple[str, bool]:
    """Return "fits", or why a pipe does not, and whether following its waves may clear it.

    The formulas judge first, then the checks of a study.
    """
    weight, pipe = case.line.water.weight_n_m3, sweep.offers[at].pipe
    margin = float(sweep.class_margin_pa[at])
    if pipe.rating_pa is None:
        return "no rating", False
    if not np.isfinite(margin):
        return "not judged", False
    if margin < limit("head_in_hand") * weight:
        return REASONS["class_exceeded"], False
    if failed := _flows(case, pipe, float(sweep.velocity_m_s[at]), float(sweep.loss_share[at])):
        return REASONS[failed], False
    cost = sweep.yearly_cost if case.worth is not None else sweep.price
    if not np.isfinite(cost[at]):
        return "no price", False
    said = case.trials.why_not(case.whole(pipe), follow=False)
    return said or FITS, said in [REASONS[code] for code in BY_WAVES]


def _flows(case: ChoiceCase, pipe: Pipe, velocity_m_s: float, loss_share: float) -> str | None:
    """Return the code of what a study would ask of the flow in a pipe in vain; None if nothing."""
    most = min(asked("loss_most").bound, asked("loss_most_power").bound) / 100.0
    fastest = [asked("velocity_any").bound]
    if is_plastic(pipe.material):
        fastest.append(asked("velocity_plastic").bound)
    for code, failed in (
        ("flow_exceeds", loss_share >= 1.0),
        ("loss_high", loss_share > min(most, 1.0 if case.most_loss is None else case.most_loss)),
        ("velocity_high", velocity_m_s > min(fastest)),
        ("velocity_low", velocity_m_s < asked("velocity_slow").bound),
    ):
        if failed:
            return code
    return None
