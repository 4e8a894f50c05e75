"""The phases of a test with water: how long, what the gauge does, what goes in or comes out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

from routing.need import need
from routing.value import dataclass
from routing.works.makeup import elastic_makeup_m3
from routing.works.trade_data import SectionRule, number

__all__ = ["Phase", "StretchedPipe", "modulus_after_pa", "phases_of", "stretch_makeup_m3"]

PhaseName = Literal["soak", "raise", "stretch", "let some off", "hold", "let off"]
YEARS_50_S = 50.0 * 365.25 * 86400.0
"""What the long-term modulus of a plastic stands for [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """One phase of a section's test; pressures at the pump's gauge [Pa].

    ``water_m3`` goes in, or comes out where negative; None where the modulus is not known.
    It passes with no more water than ``most_m3`` and a gauge between ``least_pa`` and ``most_pa``,
    each None where nothing is asked.
    """

    name: PhaseName
    time_s: float
    start_pa: float
    end_pa: float
    water_m3: float | None
    most_m3: float | None = None
    least_pa: float | None = None
    most_pa: float | None = None


class StretchedPipe(NamedTuple):
    """The pipe of one kind in a section: its water, bore over wall, moduli, mean pressure at rest.

    Moduli [Pa] are None where they are not known.
    """

    volume_m3: float
    bore_per_wall: float
    short_pa: float | None
    long_pa: float | None
    rest_pa: float


def modulus_after_pa(*, short_pa: float, long_pa: float, time_s: float) -> float:
    r"""Return the apparent modulus of a wall that has been under load for a time.

    .. math::
        E(t) = E_s \left(\frac{t}{t_0}\right)^{-m}, \qquad
        m = \frac{\ln(E_s / E_l)}{\ln(50\,\mathrm{a} / t_0)}

    Parameters
    ----------
    short_pa : float
        Short-term modulus, > 0 [Pa]
    long_pa : float
        Modulus after 50 years, > 0 and not above it [Pa]
    time_s : float
        Time under load, >= 0; the first minute counts as none [s]

    Returns
    -------
    modulus_pa : float
        Stress over strain after that time [Pa]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: creep that is straight on double logarithmic paper, as that of polyethylene nearly
    is; metals, whose two moduli are one, do not creep. Checked by
    ``tests/reference/test_creep.py``.

    Examples
    --------
    >>> round(modulus_after_pa(short_pa=758e6, long_pa=200e6, time_s=4 * 3600.0) / 1e6)
    494

    References
    ----------
    .. [1] PPI Handbook of Polyethylene Pipe, apparent moduli by time, from memory of it.
    """
    need("The short-term modulus", short_pa, above=0.0)
    need("The long-term modulus", long_pa, above=0.0, most=short_pa)
    need("The time under load", time_s, least=0.0)
    first = number("creep_from_s")
    power = math.log(short_pa / long_pa) / math.log(YEARS_50_S / first)
    return float(short_pa * (max(time_s, first) / first) ** -power)


def stretch_makeup_m3(
    *, volume_m3: float, pressure_pa: float, bore_per_wall: float, moduli_pa: tuple[float, float],
    time_s: float,
) -> float:  # fmt: skip
    r"""Return the water that a pipe under pressure takes in a time as its wall creeps.

    .. math::
        \Delta V = V\,p\,\frac{D}{e} \left(\frac{1}{E(t)} - \frac{1}{E_s}\right)

    Parameters
    ----------
    volume_m3 : float
        Water in the pipe, >= 0 [m3]
    pressure_pa : float
        Pressure that stays on it, >= 0 [Pa]
    bore_per_wall : float
        Bore over wall, > 0 [-]
    moduli_pa : (float, float)
        Modulus of the wall, short-term and after 50 years, > 0 [Pa]
    time_s : float
        Time under pressure, >= 0 [s]

    Returns
    -------
    makeup_m3 : float
        Water that goes in to keep the pressure; no leak [m3]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: as :func:`modulus_after_pa`, a thin ring free to stretch. Checked by
    ``tests/reference/test_creep.py``.

    Examples
    --------
    >>> litres = 1e3 * stretch_makeup_m3(volume_m3=10.0, pressure_pa=1e6, bore_per_wall=16.0,
    ...                                  moduli_pa=(758e6, 200e6), time_s=4 * 3600.0)
    >>> round(litres)
    113

    References
    ----------
    .. [1] Elastic balance of a thin ring with the modulus of its time.
    """
    need("The volume", volume_m3, least=0.0)
    need("The pressure", pressure_pa, least=0.0)
    need("The bore over the wall", bore_per_wall, above=0.0)
    short, long = moduli_pa
    later = modulus_after_pa(short_pa=short, long_pa=long, time_s=time_s)
    return volume_m3 * pressure_pa * bore_per_wall * (1.0 / later - 1.0 / short)


def phases_of(
    rule: SectionRule,
    pipes: Sequence[StretchedPipe],
    *,
    pump_pa: float,
    rise_pa: float,
    rest_pa: float,
    makeup_m3: float,
    bulk_modulus_pa: float,
) -> tuple[Phase, ...]:
    """Return the phases of the test of one section, in order.

    Parameters
    ----------
    rule : SectionRule
        The rule that it is tested by
    pipes : sequence of StretchedPipe
        The pipe in it
    pump_pa, rise_pa, rest_pa : float
        Gauge at the pump in the test, how far it is above that of a section just full, and gauge
        there at rest under the intake's water [Pa]
    makeup_m3 : float
        Water that the rule allows to be added while it is held [m3]
    bulk_modulus_pa : float
        Bulk modulus of the water [Pa]

    Returns
    -------
    phases : tuple of Phase
        Soaked with the intake open, raised, stretched and held as the rule has it, let off; gauges
        rise and fall by ``ramp_pa_min`` a minute

    Notes
    -----
    Plastics give back as they are let off what they took at once; what they crept comes back over
    hours. References: rules in ``data/section_rules.csv``; the ramp is common practice.
    """
    raised = _at_once_m3(pipes, rise_pa, bulk_modulus_pa)
    full, held = pump_pa - rise_pa, pump_pa - rule.let_off_pa
    most = None if raised is None else number("air_verdict") * raised
    found = [
        Phase(name="soak", time_s=rule.soak_s, start_pa=rest_pa, end_pa=rest_pa,
              water_m3=_crept_m3(pipes, rule.soak_s)),
        Phase(name="raise", time_s=_ramp_s(rise_pa), start_pa=full, end_pa=pump_pa,
              water_m3=raised, most_m3=most),
    ]  # fmt: skip
    if rule.stretch_s:
        found.append(
            Phase(name="stretch", time_s=rule.stretch_s, start_pa=pump_pa, end_pa=pump_pa,
                  water_m3=_crept_m3(pipes, rule.stretch_s, rise_pa))
        )  # fmt: skip
    if rule.let_off_pa:
        found.append(
            Phase(name="let some off", time_s=_ramp_s(rule.let_off_pa), start_pa=pump_pa,
                  end_pa=held, water_m3=_at_once_m3(pipes, -rule.let_off_pa, bulk_modulus_pa))
        )  # fmt: skip
    band = None if rule.band_pa is None else rule.band_pa + rule.band_share * held
    above = rule.makeup != "by elastic water"
    found += [
        Phase(name="hold", time_s=rule.hold_s, start_pa=held, end_pa=held, water_m3=0.0,
              most_m3=makeup_m3, least_pa=None if band is None else held - band,
              most_pa=held + band if band is not None and above else None),
        Phase(name="let off", time_s=_ramp_s(held - full), start_pa=held, end_pa=full,
              water_m3=_at_once_m3(pipes, min(full - held, 0.0), bulk_modulus_pa)),
    ]  # fmt: skip
    return tuple(found)


def _ramp_s(pressure_pa: float) -> float:
    """Return the time in which a gauge goes so far up or down [s]."""
    return 60.0 * max(pressure_pa, 0.0) / number("ramp_pa_min")


def _at_once_m3(
    pipes: Sequence[StretchedPipe], rise_pa: float, bulk_modulus_pa: float
) -> float | None:
    """Return the water of a rise, negative of a fall; None where a modulus is not known [m3]."""
    if any(pipe.short_pa is None for pipe in pipes):
        return None
    taken = sum(
        elastic_makeup_m3(
            volume_m3=pipe.volume_m3,
            rise_pa=abs(rise_pa),
            bulk_modulus_pa=bulk_modulus_pa,
            bore_per_wall=pipe.bore_per_wall,
            elastic_pa=pipe.short_pa or math.nan,
        )
        for pipe in pipes
    )
    return math.copysign(taken, rise_pa)


def _crept_m3(
    pipes: Sequence[StretchedPipe], time_s: float, pressure_pa: float | None = None
) -> float | None:
    """Return the water of a time under a pressure, that at rest unless told [m3]."""
    if any(pipe.short_pa is None or pipe.long_pa is None for pipe in pipes):
        return None
    return sum(
        stretch_makeup_m3(
            volume_m3=pipe.volume_m3,
            pressure_pa=max(pipe.rest_pa if pressure_pa is None else pressure_pa, 0.0),
            bore_per_wall=pipe.bore_per_wall,
            moduli_pa=(pipe.short_pa or math.nan, pipe.long_pa or math.nan),
            time_s=time_s,
        )
        for pipe in pipes
    )
