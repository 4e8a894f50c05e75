"""How the outlet closes or opens over time: the law of the valve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Literal

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.trade_table import trade_table
from routing.value import dataclass

__all__ = [
    "ClosingLaw",
    "ValveKind",
    "effective_closing_s",
    "instant_closure",
    "table_law",
    "uniform_closure",
]


ValveKind = Literal["nozzle", "gate", "butterfly"]

VALVES: tuple[ValveKind, ...] = ("nozzle", "gate", "butterfly")

SAMPLES = 400
"""Steps in which the travel of a valve is looked through for its steepest place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosingLaw:
    """How far the outlet is open at each time; before time 0 it stands at ``initial``.

    ``travel`` is straight between the times: 1 open, 0 shut. For a "nozzle" it is the opening
    itself, the outlet's effective area relative to the design flow's. A "gate" or "butterfly"
    stands in the pipe before the nozzle: its travel costs head, and what is left drives the flow.
    """

    label: str
    valve: ValveKind
    initial: float
    time_s: FloatArray
    travel: FloatArray
    taken_as_instant: bool = False
    """A closing time of zero or less was given."""

    @property
    def stroke_s(self) -> float:
        """Return when the valve stops moving [s]."""
        return float(self.time_s[-1])

    @property
    def instant(self) -> bool:
        """Return whether the whole change happens at once."""
        return self.stroke_s == 0.0

    def opening(self, time_s: FloatArray, velocity_share: float) -> FloatArray:
        r"""Return the relative opening of the outlet, as the flow at a given head sees it.

        .. math::
            \tau = \frac{1}{\sqrt{1 + K \varphi}}, \quad \varphi = \frac{V^2 / 2g}{H_{v0}}

        for a valve of loss coefficient K in the pipe before the nozzle.

        Parameters
        ----------
        time_s : FloatArray
            Times, (k,) [s]
        velocity_share : float
            Velocity head in the pipe over head at the nozzle, both at the design flow, > 0 [-]

        Returns
        -------
        opening : FloatArray
            tau at each time, (k,) [-]
        """
        moved = np.interp(time_s, self.time_s, self.travel)
        moved = np.where(np.asarray(time_s) <= 0.0, self.initial, moved)
        if self.valve == "nozzle":
            return moved
        travel, area = _effective_area(self.valve)
        open_area = np.interp(1.0 - moved, travel, area)
        # K = (1/e - 1)^2, multiplied out so that a shut valve (e = 0) needs no division.
        lost = velocity_share * np.square(1.0 - open_area)
        return open_area / np.sqrt(np.square(open_area) + lost)


@lru_cache(maxsize=2)
def _effective_area(valve: str) -> tuple[FloatArray, FloatArray]:
    """Return shares of the travel and the area of the jet there, e = 1 / (1 + sqrt(K))."""
    rows = [row for row in trade_table(__file__, "valve_travel.csv") if row["valve"] == valve]
    closed = [0.0, *(float(row["closed_share"]) for row in rows), 1.0]
    area = [1.0, *(1.0 / (1.0 + math.sqrt(float(row["k"]))) for row in rows), 0.0]
    return frozen(closed), frozen(area)


def instant_closure(label: str = "nozzle blocked") -> ClosingLaw:
    """Return the emergency every line is checked for: the outlet is shut at once.

    >>> instant_closure().instant
    True
    """
    return ClosingLaw(
        label=label, valve="nozzle", initial=1.0, time_s=frozen([0.0]), travel=frozen([0.0])
    )


def uniform_closure(stroke_s: float, valve: ValveKind = "nozzle") -> ClosingLaw:
    """Return a closure at one speed; a stroke of zero or less is an instant closure.

    With a gate or a butterfly valve nearly all of the flow is cut in the last part of the stroke.

    >>> import numpy as np
    >>> uniform_closure(10.0).opening(np.array([0.0, 5.0, 20.0]), 0.01)
    array([1. , 0.5, 0. ])
    """
    if valve not in VALVES:
        raise InputError(f"There is no valve {valve!r}.", f"Give one of {', '.join(VALVES)}.")
    if not math.isfinite(stroke_s):
        raise InputError(f"The closing time is {stroke_s:g} s.", "Give a finite time.")
    if stroke_s <= 0.0:
        law = instant_closure(f"{valve}, closing time of {stroke_s:g} s taken as instant")
        return replace(law, taken_as_instant=True)
    return ClosingLaw(
        label=f"{valve} closing evenly in {stroke_s:.4g} s",
        valve=valve,
        initial=1.0,
        time_s=frozen([0.0, stroke_s]),
        travel=frozen([1.0, 0.0]),
    )


def table_law(
    time_s: Sequence[float],
    travel: Sequence[float],
    *,
    valve: ValveKind = "nozzle",
    initial: float = 1.0,
    label: str = "table",
) -> ClosingLaw:
    """Return the user's own law, straight between its points and constant after the last.

    A first point at time 0 that differs from ``initial`` is a sudden jump.

    Raises
    ------
    InputError
        If times do not rise from 0, or an opening is negative or not finite.

    Examples
    --------
    >>> table_law([0.0, 2.0, 9.0], [1.0, 0.3, 0.0]).stroke_s
    9.0
    """
    if len(time_s) != len(travel) or not len(time_s):
        raise InputError(
            f"The law of the valve has {len(time_s)} times and {len(travel)} openings.",
            "Give one opening for each time.",
        )
    times, openings = frozen(time_s), frozen(travel)
    if times[0] != 0.0 or not np.all(np.isfinite(times)) or np.any(np.diff(times) <= 0.0):
        raise InputError("The times of the valve's law do not rise from 0.", "Sort them from 0.")
    if not (np.all(np.isfinite(openings)) and np.all(openings >= 0.0) and initial >= 0.0):
        raise InputError("An opening of the valve's law is negative.", "Give openings >= 0.")
    if valve != "nozzle" and max(float(openings.max()), initial) > 1.0:
        raise InputError("The travel of a valve exceeds 1.", "Give 1 for open, 0 for shut.")
    return ClosingLaw(label=label, valve=valve, initial=initial, time_s=times, travel=openings)


def effective_closing_s(law: ClosingLaw, velocity_share: float) -> float:
    """Return the time of the even closure (or opening) that is as steep as this law's steepest.

    Parameters
    ----------
    law : ClosingLaw
        The law [-]
    velocity_share : float
        Velocity head in the pipe over head at the nozzle, both at the design flow, > 0 [-]

    Returns
    -------
    closing_s : float
        Effective time for the quick bounds; 0 where the law jumps [s]

    Notes
    -----
    Valid for: any law. For a gate it is a small part of the stroke: a tenth to three tenths is
    common practice, and less where the pipe's velocity head is small beside the head at the nozzle.
    Checked by ``tests/routing/flow/surge/test_laws.py``.

    Examples
    --------
    >>> effective_closing_s(uniform_closure(12.0), 0.01)
    12.0
    >>> effective_closing_s(uniform_closure(12.0, "gate"), 0.01)
    1.6227
    """
    times = law.time_s
    if law.valve != "nozzle":
        steps = np.linspace(0.0, law.stroke_s, SAMPLES + 1)
        times = np.union1d(times, steps)
    openings = law.opening(np.maximum(times, 5e-324), velocity_share)
    if abs(float(openings[0]) - float(law.opening(np.zeros(1), velocity_share)[0])) > 1e-9:
        return 0.0
    if times.size == 1:
        return math.inf
    steepest = float(np.max(np.abs(np.diff(openings) / np.diff(times))))
    return math.inf if steepest == 0.0 else 1.0 / steepest
