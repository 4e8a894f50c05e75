"""The four cases in which a vent works: filling, draining, a break below it, air released."""

from __future__ import annotations

import math
from typing import Literal

from routing.fittings.size.air_flow import air_bore_m, open_vent_cd, orifice_air_m3_s
from routing.fittings.sizing_data import sizing, source_of
from routing.flow import atmosphere_pa
from routing.flow.air import HIGHEST_M, LOWEST_M
from routing.value import dataclass

__all__ = ["AirCase", "CaseName", "vent_air_m3_s", "vent_cases"]

CaseName = Literal["filling", "draining", "break", "release"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AirCase:
    """One case of a vent: the free air, the pressure that drives it and the bore it needs."""

    name: CaseName
    air_m3_s: float
    pressure_difference_pa: float
    bore_m: float
    source: str


def _air_pa(altitude_m: float) -> float:
    return atmosphere_pa(min(max(altitude_m, LOWEST_M), HIGHEST_M))


def _needed_bore_m(
    flow_m3_s: float,
    difference_pa: float,
    air_pa: float,
    *,
    inward: bool,
    open_length_m: float | None,
) -> float:
    """Return the bore that passes a flow of air; an open vent's coefficient depends on it."""
    perfect = air_bore_m(
        free_air_m3_s=flow_m3_s,
        difference_pa=difference_pa,
        atmosphere_pa=air_pa,
        cd=1.0,
        inward=inward,
    )
    bore = perfect / math.sqrt(sizing().large_orifice_cd)
    if open_length_m is None or bore <= 0.0:
        return bore
    # A narrower vent has more friction, which asks for more bore: rises to its fixed point.
    for _ in range(60):
        wider = perfect / math.sqrt(open_vent_cd(open_length_m, bore))
        if abs(wider - bore) < 1e-9 * bore:
            break
        bore = wider
    return bore


def vent_air_m3_s(
    *,
    bore_m: float,
    difference_pa: float,
    altitude_m: float,
    open_length_m: float | None,
    inward: bool,
) -> float:
    """Return the free air that a vent lets in at a vacuum, or out while the line is filled.

    Parameters
    ----------
    bore_m : float
        Bore of the vent, > 0 [m]
    difference_pa : float
        Pressure in the pipe above that of the air, inward below it, >= 0; a vacuum counts at most
        as all of the air's own pressure [Pa]
    altitude_m : float
        Altitude of the vent [m]
    open_length_m : float or None
        Length of an open vent's pipe; None for a valve [m]
    inward : bool
        True for air let in, False for air let out [-]

    Returns
    -------
    free_air_m3_s : float
        Free air [m3/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: as :func:`routing.fittings.size.air_flow.orifice_air_m3_s`.

    Examples
    --------
    >>> given = {"bore_m": 0.0254, "altitude_m": 0.0, "open_length_m": None}
    >>> vent_air_m3_s(difference_pa=34_474.0, inward=True, **given)
    0.0672
    >>> vent_air_m3_s(difference_pa=13_789.5, inward=False, **given)
    0.0530

    References
    ----------
    .. [1] AWWA Manual M51, from memory of it.
    """
    cd = sizing().large_orifice_cd
    if open_length_m is not None:
        cd = open_vent_cd(open_length_m, bore_m)
    air = _air_pa(altitude_m)
    return orifice_air_m3_s(
        cd=cd,
        bore_m=bore_m,
        difference_pa=min(difference_pa, air) if inward else difference_pa,
        atmosphere_pa=air,
        inward=inward,
    )


def vent_cases(
    *,
    fill_m3_s: float | None,
    drain_m3_s: float,
    break_m3_s: float,
    release_m3_s: float | None,
    release_pa: float | None,
    vacuum_pa: float,
    altitude_m: float,
    open_length_m: float | None,
) -> tuple[AirCase, ...]:
    """Return what each case asks of a vent.

    Parameters
    ----------
    fill_m3_s : float or None
        Water that drives air out while filling, >= 0; None for a valve that lets air in only [m3/s]
    drain_m3_s : float
        Water that leaves while the drains run, >= 0 [m3/s]
    break_m3_s : float
        Water that leaves through a break, >= 0 [m3/s]
    release_m3_s : float or None
        Air that comes out of solution, >= 0; None where not known or not needed [m3/s]
    release_pa : float or None
        Pressure in the pipe that drives it out, > 0 [Pa]
    vacuum_pa : float
        Allowed vacuum, > 0 [Pa]
    altitude_m : float
        Altitude of the vent [m]
    open_length_m : float or None
        Length of an open vent's pipe; None for a valve [m]

    Returns
    -------
    cases : tuple of AirCase
        Filling, draining, break and release, those that apply

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Every cubic metre of water counts as one of free air. On its way in the air is thinner, so that
    errs on the wide side by up to a third; on its way out while filling it is denser by up to 14 %,
    so a valve lets the water fill that much slower. Checked by
    ``tests/reference/test_air_flow.py``.

    Examples
    --------
    >>> cases = vent_cases(fill_m3_s=0.0212, drain_m3_s=0.0, break_m3_s=0.4583, release_m3_s=None,
    ...     release_pa=None, vacuum_pa=34_500.0, altitude_m=0.0, open_length_m=None)
    >>> [(case.name, round(1000.0 * case.bore_m, 1)) for case in cases]
    [('filling', 16.1), ('draining', 0.0), ('break', 66.3)]

    References
    ----------
    .. [1] AWWA Manual M51, from memory of it.
    """
    numbers, air = sizing(), _air_pa(altitude_m)

    cases = []
    if fill_m3_s is not None:
        most = numbers.fill_pressure_pa
        cases.append(
            AirCase(
                name="filling",
                air_m3_s=fill_m3_s,
                pressure_difference_pa=most,
                bore_m=_needed_bore_m(
                    fill_m3_s, most, air, inward=False, open_length_m=open_length_m
                ),
                source=f"{source_of('fill_velocity_m_s')}; {source_of('fill_pressure_pa')}",
            )
        )
    inward: tuple[tuple[CaseName, float, str], ...] = (
        ("draining", drain_m3_s, "flow of the drains beside it, wide open"),
        ("break", break_m3_s, "full-bore flow down the steepest reach below, Colebrook, new pipe"),
    )
    vacuum = min(vacuum_pa, air)
    for name, flow, source in inward:
        cases.append(
            AirCase(
                name=name,
                air_m3_s=flow,
                pressure_difference_pa=vacuum,
                bore_m=_needed_bore_m(flow, vacuum, air, inward=True, open_length_m=open_length_m),
                source=source,
            )
        )
    if release_m3_s is not None and release_pa is not None and release_pa > 0.0:
        cases.append(
            AirCase(
                name="release",
                air_m3_s=release_m3_s,
                pressure_difference_pa=release_pa,
                bore_m=air_bore_m(
                    free_air_m3_s=release_m3_s,
                    difference_pa=release_pa,
                    atmosphere_pa=air,
                    cd=numbers.small_orifice_cd,
                    inward=False,
                ),
                source=source_of("dissolved_air"),
            )
        )
    return tuple(cases)
