"""[flow], [[pipe]], [turbine], [surge], [site], [test]: what runs through the line, and in what."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Literal

from routing.errors import SettingsError
from routing.pipe import joint_names
from routing.settings.line import STATION
from routing.settings.readers import choice, flag, name_or_number, number, quantity, text
from routing.settings.rows import row, tables
from routing.value import dataclass

__all__ = [
    "BranchSettings",
    "FlowSettings",
    "HydrotestSettings",
    "PipeSettings",
    "ReliefSettings",
    "SiteSettings",
    "SurgeSettings",
    "SurgeStep",
    "TapSettings",
    "TurbineSettings",
    "ValveSettings",
]

TURBINES = ("pelton", "turgo", "crossflow", "francis", "pump as turbine")
"""Kinds that have usual efficiencies; any other word is taken as a machine of unknown kind."""
_JOINT = choice(*joint_names())
_TURN = quantity("angle", "0 deg", "15 deg")


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowSettings:
    """[flow]: what the line is to carry."""

    design: float | None = row(
        quantity("flow", "0.01 L/s", "100 m3/s"),
        "design flow",
        "18 L/s",
        without="none: no flowing pressures, net head or power",
        page=("Design flow", ""),
    )
    temperature: float = row(
        quantity("temperature", "0 degC", "40 degC"),
        "temperature of the water",
        "8 degC",
        "10 degC",
        page=("Water temperature", ""),
    )
    local_loss: float | None = row(
        number(0.0, 10_000.0),
        "sum of loss coefficients K along the line",
        1.2,
        without="from its own bends and changes of bore",
        page=("Other local losses", "sum of K"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeSettings:
    """[[pipe]]: where it starts, and a catalogue id, a catalogue choice, or dimensions."""

    from_: float = row(STATION, "station where this pipe starts", "0 m", "0 m")
    catalogue: str | None = row(text(), "id of a catalogue pipe; or:", "PE100-SDR17-200")
    material: str | None = row(
        text(), "material, with nominal and series or with inside_diameter and wall", "PE100"
    )
    nominal: str | None = row(
        name_or_number, "nominal size, with material and series", "200", page=("Nominal size", "")
    )
    series: str | None = row(text(), "class or series, with material and nominal", "SDR 17")
    standard: str | None = row(text(), "standard, where the rest leaves a choice", "ISO 4427")
    inside_diameter: float | None = row(
        quantity("length", "10 mm", "4 m"),
        "inside diameter of a pipe by hand, with material and wall",
        "176 mm",
    )
    wall: float | None = row(
        quantity("length", "0.2 mm", "300 mm"), "mean wall of a pipe by hand", "11.9 mm"
    )
    pressure_rating: float | None = row(
        quantity("pressure", "0.1 bar", "1000 bar"),
        "pressure rating of a pipe by hand",
        "10 bar",
        without="not known: pressure is not checked",
    )
    rating_temperature: float | None = row(
        quantity("temperature", "-20 degC", "100 degC"),
        "temperature that this rating holds for",
        "20 degC",
    )
    roughness: float | None = row(
        quantity("length", "0 mm", "30 mm"),
        "roughness of the aged wall",
        "0.01 mm",
        without="the material's, aged",
    )
    joint: str | None = row(
        _JOINT, "how its sticks are joined", "fused", without="usual for the material, as assumed"
    )
    joint_allowance: float | None = row(
        _TURN,
        "what one joint may turn, from the maker's sheet",
        "1 deg",
        without="usual for the joint; none for gasketed PVC",
    )
    stick: float | None = row(
        quantity("length", "0.5 m", "1000 m"),
        "laying length of a stick, or of a coil",
        "6 m",
        without="usual for the material, as assumed",
        page=("Length of a stick", ""),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TurbineSettings:
    """[turbine]: the machine at the end of the line."""

    kind: str | None = row(
        replace(text(), choices=TURBINES, takes=", ".join(TURBINES)),
        "kind of turbine",
        "crossflow",
        without="any, with a note",
        page=("Kind", ""),
    )
    efficiency: float | None = row(
        quantity("ratio", "1 %", "100 %"),
        "from the water to the generator's terminals",
        "64 %",
        without="by kind, with a note; 50 % when unknown",
        page=("Efficiency", "from water to generator"),
    )
    closure_time: float | None = row(
        quantity("time", "0 s", "1 h"),
        "closing time of its valve or needle; the surge of such a closure is then followed in time",
        "8 s",
        without="only the sudden blockage is judged, by its bound",
        page=("Closing time", "of valve or needle"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ValveSettings:
    """[[valve]]: an isolating valve in the line, which holds the whole pressure when it is shut."""

    at: float = row(STATION, "station where it stands", "640 m", needed=True, page=("Station", ""))


@dataclass(frozen=True, slots=True, kw_only=True)
class TapSettings:
    """[[tap]]: a gauge tap, beside those that are proposed."""

    at: float = row(STATION, "station where it stands", "250 m", needed=True, page=("Station", ""))


@dataclass(frozen=True, slots=True, kw_only=True)
class ReliefSettings:
    """[[relief]]: a relief valve; several that open one after the other are several tables."""

    at: float | None = row(
        STATION,
        "station where it stands",
        "920 m",
        without="at the end of the line",
        page=("Station", ""),
    )
    diameter: float | None = row(
        quantity("length", "10 mm", "500 mm"),
        "its bore",
        "50 mm",
        without="wide enough for its share of the flow, and a quarter of the pipe's bore together",
    )
    opens_at: float | None = row(
        quantity("pressure", "10 kPa", "30 MPa"),
        "pressure at which it opens",
        "9 bar",
        without="within its window: the first at the least setting, others in equal steps above",
    )
    side: Literal["left", "right"] | None = row(
        choice("left", "right"),
        "to which side its jet goes, as seen down the line",
        "left",
        without="to where the ground falls",
    )
    reason: str | None = row(
        text(), "why it stands there, for those who set it", "nozzle may clog", without="none told"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchSettings:
    """[[branch]]: a tee in the line; what it draws is no part of the study."""

    at: float = row(
        STATION, "station where the branch leaves", "420 m", needed=True, page=("Station", "")
    )
    diameter: float = row(
        quantity("length", "10 mm", "4 m"),
        "outside diameter of the pipe that leaves",
        "63 mm",
        needed=True,
    )
    side: Literal["left", "right", "up", "down"] = row(
        choice("left", "right", "up", "down"),
        "to which side it leaves, as seen down the line",
        "left",
        "right",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeStep:
    """[[surge.step]]: one point of a closure."""

    time: float = row(quantity("time", "0.01 s", "1 h"), "time since it began", "4 s", needed=True)
    open: float = row(
        number(0.0, 1.0), "how far the valve is still open, 1 open to 0 shut", 0.2, needed=True
    )


def _rising(steps: tuple[SurgeStep, ...], name: str) -> tuple[SurgeStep, ...]:
    for before, after in pairwise(steps):
        if after.time <= before.time:
            raise SettingsError(
                f"{name}: {after.time:g} s follows {before.time:g} s.", "Let the times rise."
            )
    return steps


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeSettings:
    """[surge]: how the machine's valve closes, whether its surge comes daily, how to judge it."""

    valve: Literal["nozzle", "gate", "butterfly"] = row(
        choice("nozzle", "gate", "butterfly"),
        "how the outlet closes; a gate cuts most of its flow late",
        "gate",
        "nozzle",
    )
    step: tuple[SurgeStep, ...] = row(
        tables(SurgeStep, _rising),
        "the closure point by point, instead of an even one",
        [{"time": "4 s", "open": 0.2}, {"time": "20 s", "open": 0.0}],
        without="even over `closure_time`",
    )
    find_closing: bool = row(
        flag,
        "search the shortest even closure that class and vacuum bear",
        True,
        False,
        page=("Seek a closing time", ""),
    )
    recurring: bool = row(flag, "the closure happens daily, which plastic bears less", True, False)
    factor: float | None = row(
        number(1.0, 2.0),
        "your own allowance on the rating in a surge; above the pipe standard's it is a fault",
        1.2,
        without="the pipe standard's",
    )
    run: bool | None = row(
        flag,
        "false leaves the surge at its quick bound",
        False,
        without="followed when a closing time is given",
        page=("Waves followed", ""),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteSettings:
    """[site]: the ground and the weather, and how the line will be tested."""

    soil: str | None = row(
        text(),
        "ground that blocks bear on",
        "sand and gravel",
        without="500 psf (24 kPa), with a warning",
    )
    soil_modulus: float | None = row(
        quantity("pressure", "0.1 MPa", "100 MPa"),
        "modulus of the soil beside the pipe (1.4 to 13.8 MPa): counts its support against vacuum, "
        "never on spans",
        "3 MPa",
        without="no support is counted",
    )
    joint: str | None = row(
        _JOINT,
        "joints of pipes that name none of their own",
        "fused",
        without="usual for the material",
    )
    joint_allowance: float | None = row(
        _TURN,
        "what one joint may turn, from the maker's sheet",
        "1 deg",
        without="usual for the joint; none for gasketed PVC",
    )
    vents_may_freeze: bool = row(
        flag, "a frozen vent is a closed vent", False, True, without="true, the safe side"
    )
    flood_rise: float = row(
        quantity("length", "0 m", "50 m"),
        "flood level at the intake over its usual level",
        "0.4 m",
        "0 m",
    )
    frost_depth: float | None = row(
        quantity("length", "0 m", "10 m"),
        "how deep the ground freezes",
        "0.5 m",
        without="not known, with a note",
    )
    winter_air: float | None = row(
        quantity("temperature", "-60 degC", "10 degC"),
        "air of a long cold spell, by which pipe above ground is judged",
        "-15 degC",
        without="spans are not judged for frost",
    )
    drained_in_winter: bool = row(
        flag, "the line is drained before the frost, which then asks nothing of it", True, False
    )
    drain_hours: float | None = row(
        number(0.1, 1000.0),
        "time in which a drain should empty its stretch, a plain number of hours",
        6.0,
        without="8",
    )
    test_factor: float = row(
        number(1.0, 2.0),
        "test pressure at the lowest point over the highest static one",
        1.25,
        1.5,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HydrotestSettings:
    """[test]: how the finished line is tested."""

    rule: Literal["municipal", "EN 805", "polyethylene", "Indian"] | None = row(
        choice("municipal", "EN 805", "polyethylene", "Indian"),
        "the rule that test pressure and time are taken from: of US municipal mains, of EN 805, "
        "the Indian one by litres a day, or the procedure of its own that polyethylene has",
        "EN 805",
        without="by the material of the pipe",
    )
    medium: Literal["water"] = row(
        choice(
            "water",
            why="Compressed air or gas stores so much energy that a failing joint throws pipe and "
            "earth about; lines are tested full of water, with the air let out.",
        ),
        "what the line is filled with for the test; anything but water is refused",
        "water",
        "water",
    )
