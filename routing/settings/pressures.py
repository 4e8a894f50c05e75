"""[surge] and [site]: how the flow is stopped, and the ground and weather the line lies in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

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

__all__ = ["SITE_KEYS", "SURGE_KEYS", "SiteSettings", "SurgeSettings", "SurgeStep"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeStep:
    """[[surge.step]]: how far the valve is still open (1 open, 0 shut) at a time [s]."""

    time: float
    open: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeSettings:
    """[surge]: how the machine's valve closes, whether its surge comes daily, and how to judge it.

    ``step`` gives the closure point by point and replaces an even one; ``run`` false leaves it at
    the quick bound; ``factor`` is the user's own allowance on the rating; ``find_closing`` asks for
    the shortest time in which an even closure is safe.
    """

    valve: Literal["nozzle", "gate", "butterfly"] = "nozzle"
    step: tuple[SurgeStep, ...] = ()
    find_closing: bool = False
    recurring: bool = False
    factor: float | None = None
    run: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteSettings:
    """[site]: the ground and the weather, and how the line will be tested."""

    soil: str | None = None
    soil_modulus: float | None = None
    joint: str | None = None
    joint_allowance: float | None = None
    vents_may_freeze: bool = True
    flood_rise: float = 0.0
    frost_depth: float | None = None
    drain_hours: float | None = None
    test_factor: float = 1.5


def _steps(value: object, name: str) -> tuple[SurgeStep, ...]:
    steps = tuple(
        table_of(
            SurgeStep,
            entry,
            f"{name}[{i}]",
            _STEP,
            needs=("time", "open"),
            example='time = "4 s", open = 0.2',
        )
        for i, entry in enumerate(list_of(value, name))
    )
    for before, after in pairwise(steps):
        if after.time <= before.time:
            raise SettingsError(
                f"{name}: {after.time:g} s follows {before.time:g} s.", "Let the times rise."
            )
    return steps


_STEP: Mapping[str, Reader] = {
    "time": quantity("time", least=0.0, above=True),
    "open": number(least=0.0, most=1.0),
}
SURGE_KEYS: Mapping[str, Reader] = {
    "valve": choice("nozzle", "gate", "butterfly"),
    "step": _steps,
    "find_closing": flag,
    "recurring": flag,
    "factor": number(least=1.0, most=2.0),
    "run": flag,
}
SITE_KEYS: Mapping[str, Reader] = {
    "soil": text,
    "soil_modulus": quantity("pressure", least=0.0, above=True),
    "joint": text,
    "joint_allowance": quantity("angle", least=0.0, most=15.0),
    "vents_may_freeze": flag,
    "flood_rise": quantity("length", least=0.0),
    "frost_depth": quantity("length", least=0.0),
    "drain_hours": number(least=0.1, most=1000.0),
    "test_factor": number(least=1.0, most=2.0),
}
