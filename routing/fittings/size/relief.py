"""The relief valve: what it may be set to, and what it passes."""

from __future__ import annotations

import math
from typing import NamedTuple

from routing.fittings.sizes import next_nominal
from routing.fittings.sizing_data import sizing, source_of
from routing.need import need
from routing.value import dataclass

__all__ = [
    "ReliefStage",
    "ReliefValve",
    "relief_bore_m",
    "relief_capacity_m3_s",
    "relief_stages",
    "size_relief_valve",
    "stage_setting_pa",
]


class ReliefStage(NamedTuple):
    """One of the valves: what it is set to [Pa], its bore [m], what it passes, speed of its jet."""

    setting_pa: float
    bore_m: float
    flow_m3_s: float
    jet_m_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReliefValve:
    """A relief valve at one place; SI units, pressures gauge at that place.

    It may be set from ``least_setting_pa`` to ``most_setting_pa``; where the first is above the
    second, no setting both stays shut at rest and protects the pipe. ``capacity_m3_s`` is what it
    passes at the lower setting, ``bore_m`` the nominal bore that passes ``flow_m3_s``.
    """

    station_m: float
    static_pa: float
    least_setting_pa: float
    most_setting_pa: float
    can_be_set: bool
    flow_m3_s: float
    bore_m: float
    capacity_m3_s: float
    source: str
    stages: tuple[ReliefStage, ...] = ()
    """The valve, or several smaller ones that open one after the other; none without a setting."""


def relief_capacity_m3_s(*, bore_m: float, pressure_pa: float, density_kg_m3: float) -> float:
    r"""Return the water that an open relief valve passes.

    .. math::
        Q = C_d A \sqrt{2 p / \rho}, \qquad C_d = 0.62

    Parameters
    ----------
    bore_m : float
        Bore of the valve, >= 0 [m]
    pressure_pa : float
        Pressure before it, above that of the air, >= 0 [Pa]
    density_kg_m3 : float
        Density of the water, > 0 [kg/m3]

    Returns
    -------
    flow_m3_s : float
        Flow through the valve, fully open [m3/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a valve that opens fully; it opens too late for an instant closure. Checked by
    ``tests/reference/test_relief.py``.

    Examples
    --------
    >>> 1000.0 * relief_capacity_m3_s(bore_m=0.025, pressure_pa=1e6, density_kg_m3=999.7)
    13.61
    """
    need("The bore of the relief valve", bore_m, least=0.0)
    need("The pressure", pressure_pa, least=0.0)
    need("The density", density_kg_m3, above=0.0)
    area = 0.25 * math.pi * bore_m * bore_m
    return sizing().relief_cd * area * math.sqrt(2.0 * pressure_pa / density_kg_m3)


def relief_bore_m(*, flow_m3_s: float, pressure_pa: float, density_kg_m3: float) -> float:
    """Return the bore of a relief valve that passes a flow.

    Parameters
    ----------
    flow_m3_s : float
        Flow to be passed: the machine's whole flow for a nozzle that shuts, >= 0 [m3/s]
    pressure_pa : float
        Pressure at which it opens, > 0 [Pa]
    density_kg_m3 : float
        Density of the water, > 0 [kg/m3]

    Returns
    -------
    bore_m : float
        Bore, not yet a nominal one [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: as :func:`relief_capacity_m3_s`, whose inverse it is.

    Examples
    --------
    >>> relief_bore_m(flow_m3_s=0.01361, pressure_pa=1e6, density_kg_m3=999.7)
    0.0250
    """
    need("The flow", flow_m3_s, least=0.0)
    need("The pressure", pressure_pa, above=0.0)
    one = relief_capacity_m3_s(bore_m=1.0, pressure_pa=pressure_pa, density_kg_m3=density_kg_m3)
    return math.sqrt(flow_m3_s / one)


def stage_setting_pa(number: int, count: int, *, least_pa: float, most_pa: float) -> float:
    r"""Return what one of several relief valves is set to.

    .. math::
        p_i = p_\mathrm{least} + i \min\left(s \, p_\mathrm{least},
        \frac{p_\mathrm{most} - p_\mathrm{least}}{n}\right), \qquad i = 0 \dots n - 1

    Parameters
    ----------
    number, count : int
        Which of how many, from 0 [-]
    least_pa, most_pa : float
        Window of the setting [Pa]; one that is empty counts as its lower end alone

    Returns
    -------
    setting_pa : float
        Setting [Pa]

    Notes
    -----
    A pipe that bears far more than the line asks is no reason to let the pressure rise that far:
    each valve opens at most the tenth s (``relief_step``) of the first setting after the one before
    it. Common practice. Checked by ``tests/reference/test_relief.py``.

    Examples
    --------
    >>> [round(stage_setting_pa(i, 4, least_pa=128e3, most_pa=1600e3) / 1e3) for i in range(4)]
    [128, 141, 154, 166]
    """
    step = min(sizing().relief_step * least_pa, max(most_pa - least_pa, 0.0) / count)
    return least_pa + number * step


def relief_stages(
    *,
    least_pa: float,
    most_pa: float,
    flow_m3_s: float,
    bore_m: float,
    density_kg_m3: float,
    least_bore_m: float = 0.0,
) -> tuple[ReliefStage, ...]:
    """Return one relief valve, or several that open one after the other.

    Parameters
    ----------
    least_pa, most_pa : float
        Window of the setting, least <= most [Pa]
    flow_m3_s : float
        Flow to be passed by all together, >= 0 [m3/s]
    bore_m : float
        Bore of one valve that passes it, > 0 [m]
    density_kg_m3 : float
        Density of the water, > 0 [kg/m3]
    least_bore_m : float
        Bore whose area all have together at least, >= 0 [m]

    Returns
    -------
    stages : tuple of ReliefStage
        The lowest setting first, as :func:`stage_setting_pa`; each passes its share at its own

    Notes
    -----
    Small valves open sooner, hammer less when they shut, and one that sticks does not take all:
    above ``relief_one_bore`` the flow is shared among as many as keep each at or below it, three at
    most (``relief_most_valves``): each is one more joint to keep from frost and to lift every year,
    so that a large flow gets larger ones. Common practice.
    Checked by ``tests/reference/test_relief.py``.

    Examples
    --------
    >>> stages = relief_stages(least_pa=7e5, most_pa=9e5, flow_m3_s=0.08, bore_m=0.08,
    ...                        density_kg_m3=1000.0)
    >>> [(round(each.setting_pa / 1e3), each.bore_m) for each in stages]
    [(700, 0.04), (767, 0.04), (833, 0.04)]
    """
    need("The least setting", least_pa, least=0.0)
    need("The most setting", most_pa, least=least_pa)
    one, most = sizing().relief_one_bore, int(sizing().relief_most_valves)
    count = min(max(math.ceil((bore_m / one) ** 2 - 1e-9), 1), most)
    found, part = [], max(0.5 * one, least_bore_m / math.sqrt(count))
    for number in range(count):
        setting = stage_setting_pa(number, count, least_pa=least_pa, most_pa=most_pa)
        opens, share = max(setting, 1.0), flow_m3_s / count
        bore = relief_bore_m(flow_m3_s=share, pressure_pa=opens, density_kg_m3=density_kg_m3)
        own = bore_m if count == 1 else next_nominal(max(bore, part))
        jet = math.sqrt(2.0 * opens / density_kg_m3)
        found.append(ReliefStage(setting, own, share, jet))
    return tuple(found)


def size_relief_valve(
    *,
    station_m: float,
    static_pa: float,
    allowed_pa: float,
    inside_diameter_m: float,
    flow_m3_s: float,
    density_kg_m3: float,
    usual_pa: float = 0.0,
) -> ReliefValve:
    """Return what a relief valve may be set to, and the bore that passes the flow.

    Parameters
    ----------
    station_m : float
        Where it stands [m]
    static_pa : float
        Static pressure there, >= 0 [Pa]
    allowed_pa : float
        Pressure there at which the weakest part of the line is at its derated rating, > 0 [Pa]
    inside_diameter_m : float
        Bore of the pipe, > 0 [m]
    flow_m3_s : float
        Flow to be passed, >= 0 [m3/s]
    density_kg_m3 : float
        Density of the water, > 0 [kg/m3]
    usual_pa : float
        Highest pressure there of the closures that the line is made for, 0 where not followed [Pa]

    Returns
    -------
    valve : ReliefValve
        Settings, nominal bore and capacity

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    From a tenth above the static pressure, and from the highest of the usual closures, lest it
    lifts at every stop, up to the rating of the weakest part (the trade allows 34 kPa, 5 psi,
    more). At least a quarter of the pipe's bore. Valid for: closures slower than the valve;
    against an instant closure it does not help. Checked by
    ``tests/reference/test_relief.py``.

    Examples
    --------
    >>> valve = size_relief_valve(station_m=900.0, static_pa=8e5, allowed_pa=1e6,
    ...     inside_diameter_m=0.15, flow_m3_s=0.02, density_kg_m3=999.7)
    >>> valve.can_be_set, round(valve.least_setting_pa), valve.bore_m
    (True, 880000, 0.04)

    References
    ----------
    .. [1] NRCS Conservation Practice Standard 430, from memory of it; the tenth is common practice.
    """
    need("The static pressure", static_pa, least=0.0)
    need("The allowed pressure", allowed_pa, above=0.0)
    need("The inside diameter", inside_diameter_m, above=0.0)
    numbers = sizing()
    need("The pressure of the usual closures", usual_pa, least=0.0)
    least = max(numbers.relief_above_static * static_pa, usual_pa)
    opens = max(least, 1.0)
    bore = relief_bore_m(flow_m3_s=flow_m3_s, pressure_pa=opens, density_kg_m3=density_kg_m3)
    bore = next_nominal(max(bore, numbers.relief_bore_share * inside_diameter_m))
    can_be_set = least <= allowed_pa
    return ReliefValve(
        station_m=station_m,
        static_pa=static_pa,
        least_setting_pa=least,
        most_setting_pa=allowed_pa,
        can_be_set=can_be_set,
        flow_m3_s=flow_m3_s,
        bore_m=bore,
        capacity_m3_s=relief_capacity_m3_s(
            bore_m=bore, pressure_pa=least, density_kg_m3=density_kg_m3
        ),
        source=(
            f"setting: {source_of('relief_above_static')}; size: {source_of('relief_bore_share')}"
        ),
        stages=relief_stages(
            least_pa=least,
            most_pa=allowed_pa,
            flow_m3_s=flow_m3_s,
            bore_m=bore,
            density_kg_m3=density_kg_m3,
            least_bore_m=numbers.relief_bore_share * inside_diameter_m,
        )
        if can_be_set
        else (),
    )
