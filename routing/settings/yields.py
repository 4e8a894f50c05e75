"""[intake], [energy] and [prices]: what the stream gives, and what pipe and power cost.

Nothing here has a default that stands for the user's own figure: no residual flow, no price.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from types import MappingProxyType
from typing import Any

from routing.errors import SettingsError
from routing.settings.readers import (
    Reader,
    choice,
    flag,
    list_of,
    number,
    quantity,
    table_of,
    text,
)
from routing.settings.stream_record import record
from routing.settings.title_block import SHEET_KEYS

__all__ = [
    "CURVE_KEYS",
    "ENERGY_KEYS",
    "GAUGING_KEYS",
    "INTAKE_KEYS",
    "PRICE_KEYS",
    "CurvePoint",
    "EnergySettings",
    "GaugingSettings",
    "IntakeSettings",
    "PriceSettings",
    "asked_of_intake",
    "check_yield",
]

WEIRS = ("v notch", "rectangular suppressed", "rectangular contracted", "cipolletti")


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugingSettings:
    """[[intake.gauging]]: one reading of the stream over a weir, lengths in m, angle in degrees."""

    weir: str
    head: float
    angle: float = 90.0
    width: float | None = None
    crest: float | None = None
    tailwater_below: float | None = None
    date: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeSettings:
    """[intake]: water level, loss coefficient, and how the intake is built; SI units.

    Everything after ``loss`` describes the structure; where any of it is given the intake is
    checked. ``working_drop`` is how far below its level the water stands when it is lowest and the
    machine still runs.
    """

    level: float | None = None
    level_above_ground: float = 0.0
    loss: float = 0.5
    residual: float | None = None
    residual_notch_angle: float = 90.0
    mean_annual_flow: float | None = None
    gauging: tuple[GaugingSettings, ...] = ()
    working_drop: float = 0.0
    mouth_level: float | None = None
    straight_approach: bool = False
    screen_loss: float | None = None
    screen_area: float | None = None
    bar: float | None = None
    bar_gap: float | None = None
    clogged: float | None = None
    machine_passage: float | None = None
    grain: float | None = None
    basin_area: float | None = None
    flushing_depth: float | None = None
    floor_slope: float | None = None
    storage: float | None = None
    crest_width: float | None = None
    crest_head: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """[[energy.curve]]: the flow [m3/s] that is exceeded in a share of the year [-]."""

    share: float
    flow: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergySettings:
    """[energy]: the stream over the year, how the machine runs, and what its energy is worth.

    ``record`` are daily flows [m3/s], NaN for a day without reading; ``hours`` are those of a year
    at the design flow, where the stream is not known. ``most_loss`` is the share of the gross head
    that a chosen pipe may lose.
    """

    curve: tuple[CurvePoint, ...] = ()
    record: tuple[float, ...] = ()
    unit: str | None = None
    availability: float = 0.92
    least_share: float | None = None
    price_per_kwh: float | None = None
    interest: float | None = None
    years: float | None = None
    hours: float | None = None
    most_loss: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceSettings:
    """[prices]: the user's own, on a date: pipe by catalogue id, or by material and mass."""

    currency: str = ""
    date: str | None = None
    per_metre: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    per_kg: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    joint: float = 0.0
    adapter: float = 0.0


_LENGTH = quantity("length")
_LENGTH_FROM_0 = quantity("length", least=0.0)
_LENGTH_ABOVE_0 = quantity("length", least=0.0, above=True)
_FLOW_ABOVE_0 = quantity("flow", least=0.0, above=True)
_PRICE = number(least=0.0, most=1e9)

GAUGING_KEYS: Mapping[str, Reader] = {
    "weir": choice(*WEIRS),
    "head": _LENGTH_FROM_0,
    "angle": number(least=25.0, most=100.0),
    "width": _LENGTH_ABOVE_0,
    "crest": _LENGTH_ABOVE_0,
    "tailwater_below": _LENGTH_FROM_0,
    "date": SHEET_KEYS["date"],
}
"""How each key of [[intake.gauging]] is read."""


def _gaugings(value: object, name: str) -> tuple[GaugingSettings, ...]:
    rows = []
    for i, entry in enumerate(list_of(value, name)):
        row = table_of(
            GaugingSettings,
            entry,
            f"{name}[{i}]",
            GAUGING_KEYS,
            needs=("weir", "head"),
            example='weir = "v notch", head = "105 mm"',
        )
        wanted = {"rectangular suppressed": ("width", "crest"), "v notch": ()}.get(
            row.weir, ("width",)
        )
        for key in wanted:
            if getattr(row, key) is None:
                raise SettingsError(
                    f"{name}[{i}] has no {key}, which a {row.weir} weir needs.",
                    f'Write, for example, {key} = "0.6 m".',
                )
        rows.append(row)
    return tuple(rows)


INTAKE_KEYS: Mapping[str, Reader] = {
    "level": _LENGTH,
    "level_above_ground": _LENGTH,
    "loss": number(least=0.0, most=100.0),
    "residual": quantity("flow", least=0.0),
    "residual_notch_angle": number(least=25.0, most=100.0),
    "mean_annual_flow": _FLOW_ABOVE_0,
    "gauging": _gaugings,
    "working_drop": _LENGTH_FROM_0,
    "mouth_level": _LENGTH,
    "straight_approach": flag,
    "screen_loss": _LENGTH_FROM_0,
    "screen_area": quantity("area", least=0.0, above=True),
    "bar": _LENGTH_ABOVE_0,
    "bar_gap": _LENGTH_ABOVE_0,
    "clogged": quantity("ratio", least=0.0, most=0.99),
    "machine_passage": _LENGTH_ABOVE_0,
    "grain": quantity("length", least=1e-5, most=0.01),
    "basin_area": quantity("area", least=0.0, above=True),
    "flushing_depth": _LENGTH_ABOVE_0,
    "floor_slope": number(least=0.0, most=1.0),
    "storage": quantity("volume", least=0.0),
    "crest_width": _LENGTH_ABOVE_0,
    "crest_head": _LENGTH_ABOVE_0,
}
"""How each key of [intake] is read."""

CURVE_KEYS: Mapping[str, Reader] = {
    "share": quantity("ratio", least=0.0, most=1.0),
    "flow": quantity("flow", least=0.0),
}
"""How each key of [[energy.curve]] is read."""


def _curve(value: object, name: str) -> tuple[CurvePoint, ...]:
    rows: list[CurvePoint] = [
        table_of(
            CurvePoint,
            entry,
            f"{name}[{i}]",
            CURVE_KEYS,
            needs=("share", "flow"),
            example='share = "40 %", flow = "70 L/s"',
        )
        for i, entry in enumerate(list_of(value, name))
    ]
    if len(rows) < 2:
        raise SettingsError(f"{name} needs two points or more.", "Give one for 0 % and for 100 %.")
    rows.sort(key=lambda row: row.share)
    for above, below in pairwise(rows):
        if above.share == below.share or below.flow > above.flow:
            raise SettingsError(
                f"{name}: {below.flow * 1000:g} L/s at {100 * below.share:g} % does not follow "
                f"{above.flow * 1000:g} L/s at {100 * above.share:g} %.",
                "Each share stands once, and a flow exceeded for longer is never greater.",
            )
    return tuple(rows)


ENERGY_KEYS: Mapping[str, Reader] = {
    "curve": _curve,
    "record": record,
    "unit": text,
    "availability": quantity("ratio", least=0.0, above=True, most=1.0),
    "least_share": quantity("ratio", least=0.0, most=1.0),
    "price_per_kwh": _PRICE,
    "interest": quantity("ratio", least=0.0, most=1.0),
    "years": number(least=1.0, most=200.0),
    "hours": number(least=0.0, most=8784.0),
    "most_loss": quantity("ratio", least=0.0, above=True, most=0.99),
}
"""How each key of [energy] is read."""


def _prices(value: object, name: str) -> Mapping[str, float]:
    if not isinstance(value, Mapping):
        raise SettingsError(
            f"{name} = {value!r} is no table of prices.",
            f"Write [{name}] with a price in each row.",
        )
    return MappingProxyType(
        {str(key): _PRICE(price, f"{name}.{key}") for key, price in value.items()}
    )


PRICE_KEYS: Mapping[str, Reader] = {
    "currency": SHEET_KEYS["project"],
    "date": SHEET_KEYS["date"],
    "per_metre": _prices,
    "per_kg": _prices,
    "joint": _PRICE,
    "adapter": _PRICE,
}
"""How each key of [prices] is read."""


def check_yield(intake: IntakeSettings, energy: EnergySettings, prices: PriceSettings) -> None:
    """Refuse tables whose keys contradict or miss one another."""
    if energy.curve and energy.record:
        raise SettingsError(
            "energy.curve and energy.record are both given.",
            "Keep the record of daily flows; the curve follows from it.",
        )
    if energy.record and all(math.isnan(flow) for flow in energy.record):
        raise SettingsError("energy.record holds no flow.", "Give the mean flow of each day.")
    if (intake.bar is None) != (intake.bar_gap is None):
        raise SettingsError(
            "Of intake.bar and intake.bar_gap only one is given.",
            "Give the thickness of a bar and the clear gap between two.",
        )
    if (prices.per_metre or prices.per_kg) and prices.date is None:
        raise SettingsError(
            "[prices] has no date.", 'Write when they were asked, as in date = "2026-11-25".'
        )


def asked_of_intake(tables: Mapping[str, Any]) -> bool:
    """Return whether settings tables say anything of the intake beyond its level and loss."""
    intake = tables.get("intake", {})
    return bool(set(intake) - {"level", "level_above_ground", "loss"})
