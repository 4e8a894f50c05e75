"""Why a drain stands where it does, and what to mind, in words for the person who digs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from routing.errors import InputError
from routing.fittings.place.straight import Stand, stand_text
from routing.fittings.requirements import asked
from routing.fittings.sizes import size_text
from routing.fittings.trade_data import fitting_rules
from routing.units import UnitSystem, show

if TYPE_CHECKING:
    from routing.fittings.place.drains import Stretch

__all__ = ["drain_size_text", "drain_why", "duration_text", "jet_velocity", "least_drain_text"]

_WORTH_SAYING_M3 = 0.001
"""Less than a litre that stays is not worth a word [m3]."""


def jet_velocity(head_m: float, gravity_m_s2: float) -> float:
    r"""Return the velocity of water that leaves a drain.

    .. math::
        v = \sqrt{2 g h}

    Parameters
    ----------
    head_m : float
        Static head at the drain; below zero counts as zero [m]
    gravity_m_s2 : float
        Acceleration of gravity, > 0 [m/s2]

    Returns
    -------
    velocity : float
        Greatest velocity, friction left out [m/s]

    Raises
    ------
    InputError
        If an argument is not finite or the gravity is not above zero.

    Notes
    -----
    Torricelli's law: an upper bound, as friction in the line slows the jet.

    Examples
    --------
    >>> round(jet_velocity(100.0, 9.80665), 1)
    44.3
    """
    if not (math.isfinite(head_m) and math.isfinite(gravity_m_s2) and gravity_m_s2 > 0.0):
        raise InputError(
            f"A head of {head_m} m at a gravity of {gravity_m_s2} m/s2 is out of range.",
            "Give finite numbers and a gravity above zero.",
        )
    return math.sqrt(2.0 * gravity_m_s2 * max(head_m, 0.0))


def drain_why(low: Stretch, stand: Stand, units: UnitSystem) -> str:
    """Return why a drain is there and what it empties, in whole sentences."""
    start, end = (show(station, "station", units) for station in (low.from_m, low.to_m))
    empties = f"It empties the {_water(low.drained_m3, units)} between stations {start} and {end}"
    if low.left_m3 >= _WORTH_SAYING_M3:
        empties += f"; without it {_water(low.left_m3, units)} would stay"
    sentences = [fitting_rules()[low.rule].why, f"{empties}."]
    if low.rule != "above a valve":
        sentences.append(
            "If no lower ground is near for it to run to, build a sump with a pump connection."
        )
    sentences += stand_text(stand, low.station_m, units)
    return " ".join(sentences)


def least_drain_text(size_m: float, units: UnitSystem) -> str:
    """Return the least to fit, before the drain is sized."""
    return f"Drain valve of {size_text(size_m, units)} or more; its time follows from the study."


def duration_text(time_s: float) -> str:
    """Return a time as people say it.

    >>> duration_text(40.0), duration_text(435.0), duration_text(5000.0), duration_text(40_000.0)
    ('40 s', '7 min', '1.4 h', '11 h')
    """
    if time_s < 60.0:
        return f"{time_s:.0f} s"
    if time_s < 3600.0:
        return f"{time_s / 60.0:.0f} min"
    hours = time_s / 3600.0
    return f"{hours:.1f} h" if hours < 10.0 else f"{hours:.0f} h"


def drain_size_text(
    *,
    bore_m: float,
    shortest_s: float,
    longest_s: float,
    flush_bore_m: float | None,
    jet_m_s: float,
    reaction_n: float,
    head_m: float,
    units: UnitSystem,
) -> str:
    """Return how wide a drain is, how long it takes and what its jet does, in whole sentences."""
    between = f"{duration_text(shortest_s)} to {duration_text(longest_s)}"
    sentences = [f"Wide open, {size_text(bore_m, units)} empties the stretch in about {between}."]
    if flush_bore_m is None:
        sentences.append("No drain as wide as the pipe flushes here: flush in sections.")
    elif flush_bore_m > bore_m:
        sentences.append(f"Flushing asks for {size_text(flush_bore_m, units)}.")
    force = f"{reaction_n:.0f} N" if units == "metric" else f"{reaction_n / 4.4482216:.0f} lbf"
    jet = show(jet_m_s, "velocity", units)
    if head_m > asked("drain_jet").bound:
        sentences.append(
            f"Under the full static head the jet leaves at {jet} and pushes back with {force}: "
            "anchor the elbow, break the jet in a stilling pipe or basin or on riprap, and keep it "
            "from banks, paths and people. Muddy water into a stream may need a permit."
        )
    elif reaction_n > 0.0:
        sentences.append(f"The jet leaves at up to {jet} and pushes back with {force}.")
    return " ".join(sentences)


def _water(volume_m3: float, units: UnitSystem) -> str:
    """Return a volume of water, small ones in litres or gallons."""
    if units == "us":
        return f"{volume_m3 / 0.003785411784:.0f} US gal"
    return f"{volume_m3:.2f} m³" if volume_m3 >= 1.0 else f"{1e3 * volume_m3:.0f} L"
