"""The lowest pressure after the machine shuts, and the profile that invites it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from routing.arrays import FloatArray, frozen, stretches
from routing.errors import InputError
from routing.finding import Finding
from routing.flow import atmosphere_pa
from routing.flow.air import HIGHEST_M, LOWEST_M
from routing.need import need
from routing.strength.trade_data import limit
from routing.water import Water

__all__ = ["LowPressure", "check_low_pressure", "steepening_share"]

FAR_SHARE = 1.1
"""The fall at a station after a slow closure over its share of the travel time; computed by the
method of characteristics to hold within 2 % [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LowPressure:
    """Lowest head above the crown after the machine shuts, (n,), and where it is below the air's.

    ``column_head_m`` is the head below which the column parts at that altitude, (n,) negative.
    """

    station_m: FloatArray
    lowest_head_m: FloatArray
    column_head_m: FloatArray
    findings: tuple[Finding, ...]


def check_low_pressure(
    *,
    station_m: FloatArray,
    crown_m: FloatArray,
    intake_level_m: float,
    rise_m: FloatArray,
    water: Water,
    flowing_head_m: FloatArray | None = None,
) -> LowPressure:
    r"""Return the lowest head at the crown after the machine shuts, and what it may do.

    .. math::
        h_\mathrm{low}(s) = \min\left(z_\mathrm{intake} - z_c(s) - \Delta h(s),\;
            h_\mathrm{flowing}(s)\right)

    Parameters
    ----------
    station_m : FloatArray
        Plan stations, (n,) rising [m]
    crown_m : FloatArray
        Elevation of the pipe's crown, (n,) [m]
    intake_level_m : float
        Lowest working level of the intake's water [m]
    rise_m : FloatArray
        Rise of head in the surge at each station, (n,) >= 0; the wave swings back as far [m]
    water : Water
        Gives density, gravity and vapour pressure [-]
    flowing_head_m : FloatArray, optional
        Flowing head above the crown, (n,) [m]

    Returns
    -------
    low : LowPressure
        Lowest heads [m], heads at which the column parts [m], findings

    Raises
    ------
    InputError
        If a rise is negative or shapes differ.

    Notes
    -----
    Valid for: as the rise. A wave run over the real profile replaces it.

    Examples
    --------
    >>> from routing.water import water_at
    >>> low = check_low_pressure(station_m=np.array([0.0, 400.0, 500.0]),
    ...                          crown_m=np.array([99.0, 95.0, 40.0]), intake_level_m=100.0,
    ...                          rise_m=np.array([0.0, 12.0, 15.0]), water=water_at(10.0))
    >>> low.lowest_head_m, [each.code for each in low.findings]
    (array([ 1., -7., 45.]), ['subatmospheric', 'gentle_then_steep'])

    References
    ----------
    .. [1] Swing about the line at rest; independently computed with the method of characteristics.
    """
    if not station_m.shape == crown_m.shape == rise_m.shape:
        raise InputError("Stations, crowns and rises differ in number.", "Give one of each.")
    need("The rise of head", rise_m, least=0.0)
    static = intake_level_m - crown_m
    lowest = static - rise_m
    if flowing_head_m is not None:
        lowest = np.minimum(lowest, flowing_head_m)
    weight = water.weight_n_m3
    air = np.array([atmosphere_pa(z) for z in np.clip(crown_m, LOWEST_M, HIGHEST_M).tolist()])
    parts = (water.vapour_pressure_pa + limit("column_parts") - air) / weight
    return LowPressure(
        station_m=frozen(station_m),
        lowest_head_m=frozen(lowest),
        column_head_m=frozen(parts),
        findings=(
            *_below_air(station_m, lowest, parts),
            *_steepening(station_m, static),
        ),
    )


def _below_air(station_m: FloatArray, lowest: FloatArray, parts: FloatArray) -> Iterator[Finding]:
    for first, last in stretches(lowest < 0.0):
        worst = first + int(np.argmin(lowest[first : last + 1]))
        breaks = bool(lowest[worst] < parts[worst])
        tail = "; the column of water would part, and the peaks after it are not to be relied on"
        yield Finding(
            code="subatmospheric",
            severity="fault" if breaks else "warning",
            message=f"From {station_m[first]:.1f} m to {station_m[last]:.1f} m the head falls "
            f"below the pipe after the machine shuts, to {lowest[worst]:.1f} m"
            f"{tail if breaks else ''}. Close more slowly, lower the pipe here, or place a vent "
            "and check the pipe against a vacuum.",
            station_m=float(station_m[worst]),
        )


def steepening_share(station_m: FloatArray, static_head_m: FloatArray) -> tuple[float, int]:
    r"""Return the share of the static head that a surge may have before the line goes below air.

    .. math::
        \min_s \frac{h(s)}{1.1\, h_\mathrm{end}\, s / L}

    Parameters
    ----------
    station_m : FloatArray
        Stations or lengths along the pipe, (n,) rising from the intake [m]
    static_head_m : FloatArray
        Head at rest above the crown, (n,); that of the outlet last [m]

    Returns
    -------
    share : float
        1/1.1 for a straight line; small where the line starts gently and then steepens [-]
    index : int
        Station at which it is least [-]

    Raises
    ------
    InputError
        If shapes differ or there are fewer than three stations.

    Notes
    -----
    Valid for: slow closure in one size of pipe, the wave taking its time in proportion to length.

    Examples
    --------
    >>> share, index = steepening_share(np.array([0.0, 400.0, 500.0]), np.array([1.0, 5.0, 60.0]))
    >>> share, index
    (0.094697, 1)

    References
    ----------
    .. [1] Share of the travel time, independently computed with the method of characteristics.
    """
    if station_m.shape != static_head_m.shape or len(station_m) < 3:
        raise InputError("Stations and heads differ in number, or are few.", "Give three or more.")
    end = float(static_head_m[-1])
    if end <= 0.0:
        return 1.0 / FAR_SHARE, len(station_m) - 1
    travelled = (station_m - station_m[0]) / (station_m[-1] - station_m[0])
    with np.errstate(divide="ignore"):
        share = np.where(
            travelled > 0.0,
            static_head_m / (FAR_SHARE * end * np.maximum(travelled, 1e-12)),
            np.inf,
        )
    index = int(np.argmin(share))
    return float(share[index]), index


def _steepening(station_m: FloatArray, static: FloatArray) -> Iterator[Finding]:
    if len(station_m) < 3:
        return
    share, index = steepening_share(station_m, static)
    if share < limit("steep_share"):
        yield Finding(
            code="gentle_then_steep",
            severity="warning",
            message=f"The line starts gently and then steepens: at {station_m[index]:.1f} m a "
            f"surge of {max(0.0, share) * 100:.0f} % of the static head brings the pressure below "
            "that of the air when the machine shuts. Lay the upper part lower, or put a vent or a "
            "surge tank where the line steepens, and run the surge over the whole profile.",
            station_m=float(station_m[index]),
        )
