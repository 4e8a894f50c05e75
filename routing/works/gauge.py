"""Gauge taps: where they stand, what a gauge on them must show, and how closely it can be read."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from routing.errors import InputError
from routing.laid_line import LaidLine
from routing.need import need
from routing.value import dataclass
from routing.works.trade_data import gauge_ranges_pa, number

__all__ = ["Tap", "full_scale_pa", "gauge_error_pa", "place_taps", "read_tap", "tolerance_pa"]

SAME_PLACE_M = 1.0
"""Taps closer than this are one tap [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tap:
    """A gauge tap: its station and level, the pressure there at rest, its gauge and its doubt.

    ``place`` is "below the intake", "sag", "powerhouse" or "as given"; ``level_sd_m`` the standard
    error of the head between it and the intake, 0 where none is known.
    """

    id: str
    station_m: float
    level_m: float
    place: str
    static_pa: float
    full_scale_pa: float
    level_sd_m: float

    def tolerance_pa(self, weight_n_m3: float) -> float:
        """Return within what a reading agrees with what is predicted [Pa]."""
        return tolerance_pa(self.full_scale_pa, self.level_sd_m * weight_n_m3)


def full_scale_pa(static_pa: float) -> float:
    """Return the least range in which gauges are sold whose scale the static pressure suits.

    Parameters
    ----------
    static_pa : float
        Pressure at rest, >= 0 [Pa]

    Returns
    -------
    full_scale_pa : float
        The pressure takes at most 75 % of it, and half or more where the ladder allows [Pa]

    Notes
    -----
    Beyond the ladder its last range.

    Examples
    --------
    >>> full_scale_pa(640e3), full_scale_pa(800e3)
    (1000000.0, 1600000.0)

    References
    ----------
    .. [1] EN 837-1:1996, ranges from memory of it.
    """
    need("The pressure at rest", static_pa, least=0.0)
    least = static_pa / number("gauge_share_most")
    ladder = gauge_ranges_pa()
    return next((full for full in ladder if full >= least), ladder[-1])


def gauge_error_pa(full_scale_pa: float) -> float:
    """Return the error of a gauge: its class of the whole scale, wherever the needle stands.

    >>> gauge_error_pa(1e6)
    10000.0
    """
    return number("gauge_class") / 100.0 * full_scale_pa


def tolerance_pa(full_scale_pa: float, level_pa: float) -> float:
    r"""Return within what a reading agrees with a prediction.

    .. math::
        t = 2 \sqrt{(c\,p_\mathrm{full})^2 + (\rho g \sigma_H)^2}

    Parameters
    ----------
    full_scale_pa : float
        Full scale of the gauge, >= 0 [Pa]
    level_pa : float
        Standard error of the head there, as pressure, >= 0 [Pa]

    Returns
    -------
    tolerance_pa : float
        Either way [Pa]

    Examples
    --------
    >>> tolerance_pa(1e6, 0.0), round(tolerance_pa(1e6, 1e4))
    (20000.0, 28284)

    References
    ----------
    .. [1] Root of the sum of squares; two standard errors, common practice.
    """
    return number("gauge_sigmas") * math.hypot(gauge_error_pa(full_scale_pa), level_pa)


def place_taps(
    line: LaidLine,
    *,
    first_m: float | None = None,
    given_m: Sequence[float] = (),
    level_sd_m: Callable[[float], float] = lambda station: 0.0,
) -> tuple[Tap, ...]:
    """Return the gauge taps of a line, numbered M1, M2 ... by station.

    Parameters
    ----------
    line : LaidLine
        The line as laid
    first_m : float, optional
        Station of the vent below the intake; the tap stands there. None takes the intake end [m]
    given_m : sequence of float
        Stations of taps that were asked for [m]
    level_sd_m : callable
        Standard error of the head between the intake and a station [m]

    Returns
    -------
    taps : tuple of Tap
        Below the intake vent, at each sag, at the powerhouse and as given

    Raises
    ------
    InputError
        If a tap does not lie on the line.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 100.0, 150.0, 300.0], [50.0, 30.0, 35.0, 10.0], "PE100-SDR17-200",
    ...                    intake_m=51.0)
    >>> taps = place_taps(line, given_m=[220.0])
    >>> [(each.station_m, each.place) for each in taps][1:3]
    [(100.0, 'sag'), (220.0, 'as given')]
    """
    station = line.station_m
    end = float(station[-1])
    for at in given_m:
        if not 0.0 <= at <= end:
            raise InputError(
                f"The tap at {at:g} m does not lie on the line, which is {end:.1f} m long.",
                "Give its distance from the intake along the line.",
                station_m=float(at),
            )
    wanted = [(float(at), "as given") for at in given_m]
    wanted += [(end, "powerhouse"), (first_m or 0.0, "below the intake")]
    wanted += [(float(station[sag]), "sag") for sag in line.pipe.sags]
    kept: list[tuple[float, str]] = []
    for at, place in wanted:
        if all(abs(at - other) >= SAME_PLACE_M for other, _ in kept):
            kept.append((at, place))
    return tuple(
        _tap_at(line, f"M{count}", at, place, level_sd_m(at))
        for count, (at, place) in enumerate(sorted(kept), start=1)
    )


def read_tap(line: LaidLine, taps: Sequence[Tap], station_m: float) -> Tap:
    """Return the tap at a station: one of the line's own, or one that somebody set there.

    Parameters
    ----------
    line : LaidLine
        The line
    taps : sequence of Tap
        Its taps
    station_m : float
        Station of the gauge [m]

    Returns
    -------
    tap : Tap
        Named by its station where it is none of the line's own

    Raises
    ------
    InputError
        If it does not lie on the line.
    """
    near = [tap for tap in taps if abs(tap.station_m - station_m) < SAME_PLACE_M]
    if near:
        return near[0]
    end = float(line.station_m[-1])
    if not 0.0 <= station_m <= end:
        raise InputError(
            f"There is no place at {station_m:g} m on a line of {end:.1f} m.",
            "Give the distance from the intake along the line.",
            station_m=station_m,
        )
    known = sorted(taps, key=lambda tap: tap.station_m)
    doubt = np.interp(station_m, [t.station_m for t in known], [t.level_sd_m for t in known])
    return _tap_at(line, f"{station_m:.1f} m", station_m, "as given", float(doubt))


def _tap_at(line: LaidLine, name: str, at: float, place: str, level_sd_m: float) -> Tap:
    # The gauge of the powerhouse stands at the outlet, which a riser may lift off the pipe.
    ends = float(line.station_m[-1]) - at < SAME_PLACE_M
    level = line.levels.outlet_m if ends else float(np.interp(at, line.station_m, line.pipe_m))
    static = max((line.levels.intake_m - level) * line.water.weight_n_m3, 0.0)
    return Tap(
        id=name,
        station_m=at,
        level_m=level,
        place=place,
        static_pa=static,
        full_scale_pa=full_scale_pa(static),
        level_sd_m=level_sd_m,
    )
