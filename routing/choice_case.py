"""What a pipe is chosen for: a study's line, its flow, and what head and money are worth there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.choice import ChoiceLine, Worth, lost_energy_kwh
from routing.cost import offer_price
from routing.energy_study import machine_of
from routing.errors import InputError
from routing.flow import find_turbine, flow_duration
from routing.laid_line import LaidLine
from routing.pipe import Pipe, PipeSchedule, schedule_pipes
from routing.pipe_trial import Trials
from routing.settings import Settings
from routing.stream_study import stream_over_year
from routing.value import dataclass

__all__ = ["USUAL_LOSS", "ChoiceCase", "choice_case"]

USUAL_LOSS = 0.1
"""Share of the gross head that a pipe may lose where no money decides; common practice."""
CURVE_POINTS = 201
"""Points of the flow-duration curve by which the energy lost in every pipe is told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceCase:
    """A line with what decides the choice; ``ranked_by`` says what ``Offer.price_per_m`` is.

    ``laid`` is the line of the study, ``line`` what the formulas of the choice take of it.
    """

    settings: Settings
    laid: LaidLine
    line: ChoiceLine
    efficiency: float
    worth: Worth | None
    ranked_by: str
    most_loss: float | None
    trials: Trials

    def whole(self, pipe: Pipe) -> PipeSchedule:
        """Return one pipe from intake to outlet."""
        return schedule_pipes([(0.0, pipe)], float(self.laid.station_m[-1]))

    def lost_kwh(self, worth: Worth, loss_m: float) -> float:
        """Return the energy that a loss at the design flow takes in a year [kWh]."""
        lost = lost_energy_kwh(
            worth,
            design_m3_s=self.line.flow_m3_s,
            gross_head_m=self.line.gross_head_m,
            loss_at_design_m=np.array([loss_m]),
            water=self.line.water,
        )
        return float(lost[0])


def choice_case(
    laid: LaidLine, settings: Settings, pipes: Sequence[Pipe]
) -> tuple[ChoiceCase, list[str]]:
    """Return what the choice is made for, and what must be said of it."""
    line = _line(laid, settings)
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
        laid=laid,
        line=line,
        efficiency=efficiency,
        worth=worth,
        ranked_by=ranked_by,
        most_loss=most,
        trials=Trials(settings=settings, line=laid),
    )
    return case, notes


def _line(laid: LaidLine, settings: Settings) -> ChoiceLine:
    """Return what the formulas of the choice take of the line of a study.

    No closing time: a study judges the class of a pipe by the sudden blockage of the outlet too,
    which strikes harder than any closure.
    """
    design, levels = settings.flow.design, laid.levels
    if design is None:
        raise InputError(
            "The study has no design flow, and a pipe is chosen for one.",
            'Give it, as in design = "18 L/s" under [flow].',
        )
    if levels.gross_head_m <= 0.0:
        raise InputError(
            f"The outlet at {levels.outlet_m:.2f} m is not below the intake at "
            f"{levels.intake_m:.2f} m.",
            "Draw the line downhill, or correct the levels.",
        )
    return ChoiceLine(
        station_m=laid.station_m,
        slope_station_m=laid.slope_station_m,
        pipe_m=laid.pipe_m,
        intake_level_m=levels.intake_m,
        highest_level_m=levels.intake_m + settings.site.flood_rise,
        flow_m3_s=design,
        water=laid.water,
        entrance_k=laid.entrance_k,
        local_k=float(np.sum(laid.bend_k)) if laid.local_k is None else laid.local_k,
        outlet_level_m=levels.outlet_m,
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
