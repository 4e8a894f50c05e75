"""What a pipe is chosen for: a study's line, its flow, and what head and money are worth there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from routing.choice import ChoiceLine, Worth
from routing.energy_study import machine_of, stream_over_year
from routing.errors import InputError
from routing.flow import bend_loss_k, find_turbine, flow_duration
from routing.judge.cost import offer_price
from routing.papers.document import column
from routing.pipe import Pipe
from routing.settings import Settings
from routing.water import water_at

__all__ = ["USUAL_LOSS", "ChoiceCase", "choice_case"]

USUAL_LOSS = 0.1
"""Share of the gross head that a pipe may lose where no money decides; common practice."""
CURVE_POINTS = 201
"""Points of the flow-duration curve by which the energy lost in every pipe is told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceCase:
    """A line with what decides the choice; ``ranked_by`` says what ``Offer.price_per_m`` is."""

    settings: Settings
    line: ChoiceLine
    efficiency: float
    worth: Worth | None
    ranked_by: str
    most_loss: float | None


def choice_case(
    document: Mapping[str, Any], settings: Settings, pipes: Sequence[Pipe]
) -> tuple[ChoiceCase, list[str]]:
    """Return what the choice is made for, and what must be said of it."""
    line = _line(document, settings)
    worth, notes = _worth(settings)
    prices = settings.prices
    priced = sum(offer_price(pipe, prices) is not None for pipe in pipes)
    ranked_by = "mass"
    if priced:
        ranked_by = "price" if worth is None else "yearly cost"
        if priced < len(pipes):
            notes.append(f"{len(pipes) - priced} pipes have no price and stand last.")
    else:
        worth = None
        notes.append(
            "No prices were given, so the lightest pipe stands first; across materials that says "
            "nothing of money. Give [prices]."
        )
    most = settings.energy.most_loss
    if most is None and worth is None:
        most = USUAL_LOSS
    efficiency = settings.turbine.efficiency
    if efficiency is None:
        efficiency = find_turbine(settings.turbine.kind).water_to_wire
    case = ChoiceCase(
        settings=settings,
        line=line,
        efficiency=efficiency,
        worth=worth,
        ranked_by=ranked_by,
        most_loss=most,
    )
    return case, notes


def _line(document: Mapping[str, Any], settings: Settings) -> ChoiceLine:
    """Return the line of a study, without its pipes.

    No closing time: a study judges the class of a pipe by the sudden blockage of the outlet too,
    which strikes harder than any closure.
    """
    design = settings.flow.design
    if design is None:
        raise InputError(
            "The study has no design flow, and a pipe is chosen for one.",
            'Give it, as in design = "18 L/s" under [flow].',
        )
    summary = document["summary"]
    intake, outlet = float(summary["intake_level_m"]), float(summary["outlet_level_m"])
    if outlet >= intake:
        raise InputError(
            f"The outlet at {outlet:.2f} m is not below the intake at {intake:.2f} m.",
            "Draw the line downhill, or correct the levels.",
        )
    station, pipe = column(document, "station_m"), column(document, "pipe_m")
    slope = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(station), np.diff(pipe)))))
    local = settings.flow.local_loss
    if local is None:
        turns = [float(bend["deflection_deg"]) for bend in document.get("bends") or ()]
        local = float(np.sum(bend_loss_k(np.array(turns)))) if turns else 0.0
    return ChoiceLine(
        station_m=station,
        slope_station_m=slope,
        pipe_m=pipe,
        intake_level_m=intake,
        highest_level_m=intake + settings.site.flood_rise,
        flow_m3_s=design,
        water=water_at(settings.flow.temperature),
        entrance_k=settings.intake.loss,
        local_k=local,
        outlet_level_m=outlet,
    )


def _worth(settings: Settings) -> tuple[Worth | None, list[str]]:
    """Return what energy and money are worth; None where not all of it was given."""
    energy, residual = settings.energy, settings.intake.residual
    price, interest, years = energy.price_per_kwh, energy.interest, energy.years
    if price is None:
        return None, []
    if interest is None or years is None:
        missing = "interest" if interest is None else "years"
        return None, [f"Without energy.{missing} there is no yearly cost."]
    stream = stream_over_year(energy)
    curve = None
    if stream is not None and residual is not None:
        shares = np.linspace(0.0, 1.0, CURVE_POINTS)
        curve = flow_duration(shares, stream.at(shares))
    elif energy.hours is None:
        missing = "energy.record" if stream is None else "intake.residual"
        return None, [
            f"Without {missing} (or energy.hours at the design flow) the energy lost in a year is "
            "not estimated, and there is no yearly cost."
        ]
    worth = Worth(
        price_per_kwh=price,
        interest=interest,
        years=years,
        machine=machine_of(settings),
        availability=energy.availability,
        curve=curve,
        residual_m3_s=residual or 0.0,
        hours=energy.hours or 0.0,
    )
    return worth, []
