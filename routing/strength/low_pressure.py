"""The lowest pressure after a stop, and the profile that invites it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from routing.arrays import FloatArray, stretches
from routing.check import Check
from routing.errors import InputError
from routing.flow import atmospheres_pa
from routing.laid_line import LaidLine
from routing.need import need
from routing.strength.requirements import asked
from routing.strength.trade_data import limit

__all__ = ["check_low_pressure", "check_steepening", "column_head_m", "steepening_share"]

FAR_SHARE = 1.1
"""The fall at a station after a slow closure over its share of the travel time; computed by the
method of characteristics to hold within 2 % [-]."""


def column_head_m(line: LaidLine) -> FloatArray:
    """Return the head over the crown below which the column of water parts, (n,) negative [m].

    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 500.0], [95.0, 40.0], "PE100-SDR17-225", intake_m=100.0)
    >>> column_head_m(line).round(1)
    array([-8.1, -8.1])
    """
    water = line.water
    spare = water.vapour_pressure_pa + limit("column_parts") - atmospheres_pa(line.crown_m)
    return spare / water.weight_n_m3


def check_low_pressure(
    line: LaidLine, lowest_head_m: FloatArray, *, emergency: bool = False
) -> tuple[Check, ...]:
    """Return whether the water stays whole after a stop, and its pressure above that of the air.

    Parameters
    ----------
    line : LaidLine
        The line as laid [-]
    lowest_head_m : FloatArray
        Lowest head of the surge above the centreline, (n,) [m]
    emergency : bool
        The outlet is blocked at once, and does not shut as it should [-]

    Returns
    -------
    checks : tuple of Check
        One for the column where it is nearest to parting, one for each stretch below the air

    Raises
    ------
    InputError
        If a head is not finite or shapes differ.

    Notes
    -----
    Valid for: as the heads. Checked by ``tests/reference/test_vacuum.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 400.0, 500.0], [98.9, 94.9, 39.9], "PE100-SDR17-225",
    ...                    intake_m=100.0)
    >>> low = check_low_pressure(line, np.array([1.1, -6.9, 45.1]))
    >>> [each.code for each in low if not each.passed]
    ['subatmospheric']
    """
    if np.shape(lowest_head_m) != line.station_m.shape:
        raise InputError("Stations and lowest heads differ in number.", "Give one of each.")
    need("The lowest head", lowest_head_m)
    water = line.water
    boils = (water.vapour_pressure_pa - atmospheres_pa(line.crown_m)) / water.weight_n_m3
    # The surge ends at the vapour pressure of the centreline, and the crown lies above that.
    lowest = np.maximum(lowest_head_m - (line.crown_m - line.pipe_m), boils)
    return (
        _column(line.station_m, lowest, column_head_m(line), emergency=emergency),
        *_below_air(line, lowest, emergency=emergency),
    )


def _words(*, emergency: bool) -> tuple[str, str]:
    """Return when it happens, and what helps."""
    if emergency:
        return (
            "if the outlet is blocked at once",
            "Lower the pipe here, or place a vent and check the pipe for a vacuum.",
        )
    return (
        "after the machine shuts",
        "Close more slowly, lower the pipe here, or place a vent and check the pipe for a vacuum.",
    )


def _column(
    station_m: FloatArray, lowest: FloatArray, parts: FloatArray, *, emergency: bool
) -> Check:
    worst = int(np.argmin(lowest - parts))
    when, remedy = _words(emergency=emergency)
    return asked("column_parts_blocked" if emergency else "column_parts").judge(
        float(lowest[worst]),
        f"At {station_m[worst]:.1f} m the head falls to {lowest[worst]:.1f} m over the crown "
        f"{when}, below the {parts[worst]:.1f} m at which the column of water parts; the peaks "
        f"after it are not to be relied on. {remedy}",
        limit=float(parts[worst]),
        place="crown",
        station_m=float(station_m[worst]),
    )


def _below_air(line: LaidLine, lowest: FloatArray, *, emergency: bool) -> Iterator[Check]:
    when, remedy = _words(emergency=emergency)
    station_m, air_pa = line.station_m, atmospheres_pa(line.crown_m)
    absolute_pa = air_pa + lowest * line.water.weight_n_m3
    whole = 0, lowest.size - 1
    for first, last in stretches(lowest < 0.0) or [whole]:
        worst = first + int(np.argmin(lowest[first : last + 1]))
        yield asked("below_air_blocked" if emergency else "below_air").judge(
            float(absolute_pa[worst]) / 1000.0,
            f"From {station_m[first]:.1f} m to {station_m[last]:.1f} m the head falls below the "
            f"pipe {when}, to {lowest[worst]:.1f} m. {remedy}",
            limit=float(air_pa[worst]) / 1000.0,
            place="crown",
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


def check_steepening(line: LaidLine) -> tuple[Check, ...]:
    """Return whether the line starts gently and then steepens, where a small surge parts it.

    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 400.0, 500.0], [98.9, 94.9, 39.9], "PE100-SDR17-225",
    ...                    intake_m=100.0)
    >>> [(round(check.demand), check.limit) for check in check_steepening(line)]
    [(9, 50.0)]
    """
    station_m = line.station_m
    if len(station_m) < 3:
        return ()
    share, index = steepening_share(station_m, line.levels.intake_m - line.crown_m)
    if share <= 0.0:
        return ()  # the pipe rises to its intake's water at rest already: that is judged elsewhere
    return (
        asked("gentle_then_steep").judge(
            100.0 * share,
            f"The line starts gently and then steepens: at {station_m[index]:.1f} m a surge of "
            f"{share * 100:.0f} % of the static head brings the pressure below that of "
            "the air when the machine shuts. Lay the upper part lower, or put a vent or a surge "
            "tank where the line steepens, and run the surge over the whole profile.",
            station_m=float(station_m[index]),
        ),
    )
