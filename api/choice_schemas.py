"""The answer to "which pipe?" as it crosses the HTTP face."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["PipeChoice"]

Finite = Annotated[float, Field(allow_inf_nan=False)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class ChosenLine(_Part):
    """The line that the choice is made for."""

    length_m: Finite
    gross_head_m: Finite
    flow_m3_s: Finite
    efficiency: Finite = Field(description="From water to wire.")
    most_loss: Finite | None = Field(
        description="Share of the gross head that a pipe may lose; null: the money decides."
    )
    head_in_hand_m: Finite = Field(description="Head that every class keeps in hand [m].")


class SweptPipe(_Part):
    """One pipe of the catalogue, alone from the intake to the outlet."""

    id: str
    label: str
    material: str
    standard: str | None
    series: str | None
    nominal: str | None
    inside_diameter_m: Finite
    velocity_m_s: Finite
    loss_m: Finite = Field(
        description="Head lost in aged pipe [m]; where ``tried`` is full, this and all figures but "
        "those of a vacuum are of the line as laid for this pipe."
    )
    loss_new_m: Finite = Field(description="Head lost in new pipe [m].")
    loss_share: Finite = Field(description="Head lost, aged, over the gross head.")
    power_kw: Finite
    wave_speed_m_s: Finite | None
    surge_m: Finite | None = Field(
        description="Greatest rise when the outlet is blocked at once [m]; by the quick bound, or "
        "with what cavities add where the waves were followed."
    )
    class_margin_kpa: Finite | None = Field(
        description="What the class has in hand over static pressure and surge [kPa]."
    )
    vacuum_margin_kpa: Finite | None = Field(
        description="What it bears beyond a full vacuum [kPa]; below zero only vents keep it round."
    )
    mass_kg: Finite | None
    price: Finite | None = Field(description="Of the pipe all along; null without a price.")
    lost_kwh: Finite | None = Field(description="Energy that the loss takes in a year [kWh].")
    yearly_cost: Finite | None = Field(description="Of pipe and lost energy.")
    fits: bool
    verdict: str = Field(description="fits, or the first reason why not.")
    tried: Literal["full", "bound"] = Field(
        description="full: its surges were followed in time, as in a study. bound: the quick bound "
        "on the surge judged it, for a closure more strictly."
    )
    in_study: bool = Field(description="The study has it.")


class ChosenRun(_Part):
    """One pipe of a sequence."""

    from_m: Finite
    to_m: Finite
    id: str
    label: str
    inside_diameter_m: Finite
    rating_kpa: Finite | None


class ChosenAdapter(_Part):
    """A joint of two families of outside diameter."""

    station_m: Finite
    above: str
    below: str


class ClassLineOut(_Part):
    """The cheapest classes of the best size."""

    runs: list[ChosenRun]
    cost: Finite = Field(description="Price, or the mass [kg] where no prices were given.")
    adapters: list[ChosenAdapter]


class DiametersOut(ClassLineOut):
    """The cheapest sizes and classes of the best pipe's standard."""

    loss_m: Finite
    value: Finite = Field(description="Cost, and what the head lost is worth.")
    lower_bound: Finite = Field(description="No lawful sequence has a lower value.")
    proved: bool = Field(description="The two are as near as was asked for.")


class PipeChoice(_Part):
    """Which pipe to buy for a study's line."""

    name: str
    units: Literal["metric", "us"]
    line: ChosenLine
    ranked_by: Literal["yearly cost", "price", "mass"]
    currency: str | None
    prices_of: str | None = Field(description="Date of the prices.")
    tried: int = Field(ge=0)
    fitting: int = Field(ge=0)
    sweep: list[SweptPipe] = Field(description="Every pipe tried, the best first.")
    class_line: ClassLineOut | None
    diameters: DiametersOut | None
    notes: list[str]
