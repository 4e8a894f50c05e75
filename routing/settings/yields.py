"""[intake] and [energy]: how the stream is taken, and what it gives over a year.

Nothing here has a default that stands for the user's own figure: no residual flow is assumed.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from itertools import pairwise
from typing import Any

from routing.errors import SettingsError
from routing.settings.line import ABOVE_GROUND, ELEVATION, one_level
from routing.settings.prices import MONEY
from routing.settings.readers import choice, date, flag, number, quantity, text
from routing.settings.rows import row, tables
from routing.settings.stream_record import RECORD
from routing.value import dataclass

__all__ = [
    "CurvePoint",
    "EnergySettings",
    "GaugingSettings",
    "IntakeSettings",
    "asked_of_intake",
]

_STREAM = quantity("flow", "0 L/s", "10000 m3/s")
_HEAD = quantity("length", "0 m", "10 m")
_WIDTH = quantity("length", "1 cm", "200 m")
_BAR = quantity("length", "0.5 mm", "1 m")
_AREA = quantity("area", "0.001 m2", "100000 m2")
_SHARE = quantity("ratio", "0 %", "100 %")
_NOTCH = number(25.0, 100.0)
_DATE = date


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugingSettings:
    """[[intake.gauging]]: one reading of the stream over a weir."""

    weir: str = row(
        choice("v notch", "rectangular suppressed", "rectangular contracted", "cipolletti"),
        "kind of weir",
        "v notch",
        needed=True,
    )
    head: float = row(_HEAD, "water over the crest, or over the notch", "105 mm", needed=True)
    angle: float = row(_NOTCH, "full angle of a V notch, degrees", 60.0, 90.0)
    width: float | None = row(
        _WIDTH, "length of the crest", "0.6 m", without="needed but for a V notch"
    )
    crest: float | None = row(
        _WIDTH,
        "height of the crest over the floor",
        "0.3 m",
        without="needed for a suppressed weir",
    )
    tailwater_below: float | None = row(
        quantity("length", "0 m", "100 m"),
        "how far the water behind the weir lies below the crest",
        "0.1 m",
        without="not judged",
    )
    date: str | None = row(_DATE, "when it was read", "2026-09-12")

    def consistent(self, name: str, given: Collection[str]) -> GaugingSettings:
        """Return the reading if its kind of weir has the dimensions that it needs."""
        wanted = {"rectangular suppressed": ("width", "crest"), "v notch": ()}
        for key in wanted.get(self.weir, ("width",)):
            if getattr(self, key) is None:
                raise SettingsError(
                    f"{name} has no {key}, which a {self.weir} weir needs.",
                    f'Write, for example, {key} = "0.6 m".',
                )
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeSettings:
    """[intake]: water level, loss coefficient, and how the intake is built.

    Everything after ``loss`` describes the structure; where any of it is given the intake is
    checked.
    """

    level: float | None = row(
        ELEVATION,
        "elevation of the water surface",
        "412.6 m",
        without="the ground at the start of the line, and what is given above it",
        page=("Water at the intake", ""),
    )
    level_above_ground: float = row(
        ABOVE_GROUND,
        "water surface over the ground there",
        "0.4 m",
        "0 m",
        page=("Water above the ground there", ""),
    )
    loss: float = row(
        number(0.0, 100.0),
        "loss coefficient K of entrance and screen",
        0.8,
        0.5,
        without="0.5, a sharp-edged entrance",
        page=("Loss at entrance", "K"),
    )
    residual: float | None = row(
        _STREAM,
        'flow that must stay in the bed, from the permit; `"0 L/s"` if it may be none',
        "8 L/s",
        without="never assumed: a warning, and no yearly energy",
        page=("Stays in the bed", "from the permit"),
    )
    residual_share: float | None = row(
        quantity("ratio", "0.1 %", "100 %"),
        "share of the mean annual flow that must stay in the bed, instead of residual",
        "10 %",
        without="residual, if that is given",
    )
    residual_notch_angle: float = row(
        _NOTCH, "full angle of the V notch that passes it, degrees", 60.0, 90.0
    )
    mean_annual_flow: float | None = row(
        quantity("flow", "0.1 L/s", "10000 m3/s"),
        "mean annual flow of the stream, to judge the residual flow by",
        "60 L/s",
        without="from record, curve or specific yield; else not judged",
    )
    gauging: tuple[GaugingSettings, ...] = row(
        tables(GaugingSettings),
        "readings of the stream at a weir",
        [{"weir": "v notch", "head": "180 mm"}],
        without="no gauging",
    )
    working_drop: float = row(
        quantity("length", "0 m", "50 m"),
        "how far the water may fall below its level with the machine running",
        "0.1 m",
        "0 m",
    )
    mouth_level: float | None = row(
        ELEVATION,
        "elevation of the centreline of the pipe's mouth",
        "411.8 m",
        without="as the pipe is laid",
    )
    straight_approach: bool = row(
        flag,
        "the water comes straight on to the mouth",
        True,
        False,
        without="false, which asks for more depth",
    )
    screen_loss: float | None = row(
        _HEAD, "head lost in the screen at its dirtiest", "0.1 m", without="0, with a note"
    )
    screen_area: float | None = row(
        _AREA, "area of the screen under water, as built", "0.8 m2", without="not judged"
    )
    bar: float | None = row(
        _BAR,
        "thickness of a bar, with bar_gap",
        "6 mm",
        without="no screen is sized",
        page=("Thickness of a bar", ""),
    )
    bar_gap: float | None = row(
        _BAR, "clear gap between two bars", "12 mm", without="no screen is sized"
    )
    clogged: float | None = row(
        quantity("ratio", "0 %", "99 %"),
        "share of the openings that dirt blocks",
        "60 %",
        without="50 %",
        page=("Openings blocked", ""),
    )
    machine_passage: float | None = row(
        quantity("length", "1 mm", "3 m"),
        "bore of the nozzle, or width of the runner's passage",
        "40 mm",
        without="the gap is not judged",
    )
    grain: float | None = row(
        quantity("length", "0.01 mm", "10 mm"),
        "least grain that the basin is to hold",
        "0.3 mm",
        without="no basin is sized",
    )
    basin_area: float | None = row(
        _AREA, "plan area of the settling basin", "6 m2", without="not judged"
    )
    flushing_depth: float | None = row(
        quantity("length", "1 mm", "10 m"),
        "depth of the water that flushes the basin",
        "0.1 m",
        without="flushing is not judged",
    )
    floor_slope: float | None = row(
        number(0.0, 1.0), "slope of the basin's floor", 0.03, without="flushing is not judged"
    )
    storage: float | None = row(
        quantity("volume", "0 m3", "1000000 m3"),
        "water above the mouth's least depth",
        "3 m3",
        without="not judged",
    )
    crest_width: float | None = row(
        _WIDTH, "width of the overflow crest", "1.2 m", without="no crest is sized"
    )
    crest_head: float | None = row(
        quantity("length", "1 mm", "10 m"),
        "head over the crest that the walls allow",
        "0.15 m",
        without="not judged",
    )

    def consistent(self, name: str, given: Collection[str]) -> IntakeSettings:
        """Return the settings if their keys do not contradict or miss one another."""
        one_level(name, given)
        if self.residual is not None and self.residual_share is not None:
            raise SettingsError(
                "intake.residual and intake.residual_share are both given.",
                "Keep the one that the permit states.",
            )
        if (self.bar is None) != (self.bar_gap is None):
            raise SettingsError(
                "Of intake.bar and intake.bar_gap only one is given.",
                "Give the thickness of a bar and the clear gap between two.",
            )
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """[[energy.curve]]: one point of the flow-duration curve."""

    share: float = row(_SHARE, "share of the year in which it is exceeded", "40 %", needed=True)
    flow: float = row(_STREAM, "flow of the stream", "70 L/s", needed=True)


def _falling(rows: tuple[CurvePoint, ...], name: str) -> tuple[CurvePoint, ...]:
    if len(rows) < 2:
        raise SettingsError(f"{name} needs two points or more.", "Give one for 0 % and for 100 %.")
    rows = tuple(sorted(rows, key=lambda point: point.share))
    for above, below in pairwise(rows):
        if above.share == below.share or below.flow > above.flow:
            raise SettingsError(
                f"{name}: {below.flow * 1000:g} L/s at {100 * below.share:g} % does not follow "
                f"{above.flow * 1000:g} L/s at {100 * above.share:g} %.",
                "Each share stands once, and a flow exceeded for longer is never greater.",
            )
    return rows


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergySettings:
    """[energy]: the stream over the year, how the machine runs, and what its energy is worth.

    ``record`` are daily flows [m3/s], NaN for a day without reading.
    """

    curve: tuple[CurvePoint, ...] = row(
        tables(CurvePoint, _falling),
        "flow-duration curve, instead of a record: flows exceeded in a share of the year",
        [{"share": "0 %", "flow": "120 L/s"}, {"share": "100 %", "flow": "8 L/s"}],
        without="from the record",
    )
    record: tuple[float, ...] = row(
        RECORD,
        "daily flows of the stream, null for a day without reading",
        {"unit": "L/s", "flows": [41.0, 39.5]},
        without="no yearly energy",
        page=("Daily flows", ""),
    )
    unit: str | None = row(
        text(),
        "unit of a record in a file, over its heading",
        "L/s",
        without="the heading's; neither is an error",
    )
    gauged_area: float | None = row(
        quantity("area", "100 m2", "100000 km2"),
        "catchment of the place where record or curve was read, if that is not the intake; flows "
        "are carried over by the ratio of areas",
        "12.4 km2",
        without="read at the intake",
    )
    area_exponent: float = row(
        number(0.3, 1.5), "exponent of that ratio", 0.9, 1.0, without="1: every km2 gives the same"
    )
    availability: float = row(
        quantity("ratio", "1 %", "100 %"),
        "share of the time in which the machine can run",
        "95 %",
        "92 %",
        page=("Machine can run", "of the time"),
    )
    least_share: float | None = row(
        _SHARE,
        "least share of the design flow at which the machine runs",
        "20 %",
        without="by kind of turbine",
    )
    price_per_kwh: float | None = row(
        MONEY,
        "worth of a kilowatt hour, in the currency of the prices",
        0.12,
        without="pipes are not ranked by yearly cost",
        page=("Worth of a kWh", ""),
    )
    interest: float | None = row(
        _SHARE,
        "rate of interest a year",
        "6 %",
        without="pipes are not ranked by yearly cost",
        page=("Interest", "a year"),
    )
    years: float | None = row(
        number(1.0, 200.0),
        "years over which the pipe is paid",
        25.0,
        without="pipes are not ranked by yearly cost",
        page=("Paid over", "years"),
    )
    hours: float | None = row(
        number(0.0, 8784.0),
        "hours of a year at the design flow, where the stream is not known",
        6000.0,
        without="no yearly cost without record and residual flow",
        page=("Hours at the design flow", "a year"),
    )
    most_loss: float | None = row(
        quantity("ratio", "0.1 %", "99 %"),
        "share of the gross head that a chosen pipe may lose",
        "8 %",
        without="10 %; with a yearly cost the money decides",
        page=("Loss allowed", ""),
    )

    def consistent(self, name: str, given: Collection[str]) -> EnergySettings:
        """Return the settings if they say only once what the stream gives."""
        if self.curve and self.record:
            raise SettingsError(
                "energy.curve and energy.record are both given.",
                "Keep the record of daily flows; the curve follows from it.",
            )
        if self.record and all(math.isnan(flow) for flow in self.record):
            raise SettingsError("energy.record holds no flow.", "Give the mean flow of each day.")
        return self


def asked_of_intake(tables: Mapping[str, Any]) -> bool:
    """Return whether settings tables say anything of the intake beyond its level and loss."""
    intake = tables.get("intake", {})
    return bool(set(intake) - {"level", "level_above_ground", "loss"})
