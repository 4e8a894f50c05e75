"""Whether every pipe holds what it must, at rest and in each surge."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from routing.arrays import FloatArray
from routing.check import Check
from routing.errors import InputError
from routing.flow.surge import SurgeCase
from routing.laid_line import LaidLine
from routing.need import need
from routing.pipe import PipeRun
from routing.strength.requirements import asked
from routing.strength.rules import allowance
from routing.value import dataclass

__all__ = ["SurgeLoad", "check_class", "check_rest"]

SAME_PLACE_M = 1e-6
"""A joint nearer than this to a station is at it [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeLoad:
    """What the class check takes of a :class:`~routing.flow.surge.SurgeCase`, for one by hand."""

    name: str
    whole_rise_m: FloatArray
    parted_rise_m: FloatArray | None = None
    recurring: bool = False
    remedy: str = "close more slowly"


def check_rest(line: LaidLine, flood_rise_m: float = 0.0) -> tuple[Check, ...]:
    """Return whether the pressure at rest keeps to the rating, one check for each rated run.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes [-]
    flood_rise_m : float
        Highest level at the intake over its usual one, >= 0 [m]

    Returns
    -------
    checks : tuple of Check
        Demand and limit in kPa where the run is loaded most; joints load both pipes that meet

    Raises
    ------
    InputError
        If the water is too warm for a pipe's material.

    Notes
    -----
    The greatest pressure is at the lowest point of the line, which may be a sag and not the outlet.
    Checked by ``tests/reference/test_class.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 500.0], [400.0, 329.0], "PE100-SDR26-200", intake_m=400.0)
    >>> [(round(check.demand), check.limit, check.passed) for check in check_rest(line)]
    [(696, 600.0, False)]
    """
    loads, warm = _loads(line, flood_rise_m), line.water.temperature_c
    checks = []
    for run in line.pipes.runs:
        limit_pa = allowance(run.pipe, warm).static_pa
        if limit_pa is None:
            continue
        station_m, demand_pa = loads.worst(run)
        doubted = loads.exceeded
        if doubted is not None and demand_pa <= limit_pa:
            checks.append(_exceeded(doubted, run, limit_pa, warm))
            continue
        checks.append(
            asked("static_rating").judge(
                demand_pa / 1000.0,
                f"At {station_m:.1f} m the pressure at rest is {demand_pa / 1000:.0f} kPa, above "
                f"the {limit_pa / 1000:.0f} kPa that {run.pipe.label} holds in water of "
                f"{warm:g} degC. Take a stronger class here.",
                limit=limit_pa / 1000.0,
                place=run.pipe.label,
                station_m=station_m,
            )
        )
    return tuple(checks)


def check_class(
    line: LaidLine,
    surges: Sequence[SurgeCase | SurgeLoad],
    *,
    flood_rise_m: float = 0.0,
    surge_factor: float | None = None,
) -> tuple[Check, ...]:
    """Return whether the classes along the line hold each surge, each by its own standard's rule.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes [-]
    surges : sequence of SurgeCase or SurgeLoad
        The ways in which the flow may stop; none where no surge was computed: then the pressure at
        rest keeps to 72 % of the rating [-]
    flood_rise_m : float
        Highest level at the intake over its usual one, >= 0 [m]
    surge_factor : float, optional
        The user's own factor on the rating in a surge, 1 to 2; above the standard's own it is a
        fault, and the standard's own judges [-]

    Returns
    -------
    checks : tuple of Check
        One for each rated run and surge, and one more where the water parts: both figures are
        judged, the higher governs

    Raises
    ------
    InputError
        If a surge is negative, shapes differ, or the water is too warm for a pipe.

    Notes
    -----
    Valid for: heads above the centreline. At a joint both pipes must hold. Checked by
    ``tests/reference/test_class.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 500.0], [400.0, 329.0], "PE100-SDR17-200", intake_m=400.0)
    >>> blocked = SurgeLoad(name="blocked at the outlet", whole_rise_m=np.array([0.0, 40.0]))
    >>> [(round(check.demand), check.limit) for check in check_class(line, [blocked])]
    [(1088, 1000.0)]

    References
    ----------
    .. [1] Rules and their sources: ``data/surge_rules.csv``.
    """
    loads = _loads(line, flood_rise_m)
    checks: list[Check] = []
    for run in line.pipes.runs:
        if run.pipe.rating_pa is None:
            continue
        if not surges:
            checks.append(_unknown(loads, run))
        for surge in surges:
            checks += _in_surge(loads, run, surge, surge_factor)
    return tuple(checks)


class _Loads(NamedTuple):
    """A line with its pressures at rest, at its stations and at every joint between two of them."""

    line: LaidLine
    stations: FloatArray
    rest_pa: FloatArray

    @property
    def exceeded(self) -> _Loads | None:
        """Return the loads that are exceeded with a small chance; None where nothing tells them."""
        more = self.line.exceeded_m
        if more is None or not float(np.max(more)) > 0.0:
            return None
        more_pa = np.interp(self.stations, self.line.station_m, more) * self.line.water.weight_n_m3
        return self._replace(rest_pa=self.rest_pa + more_pa)

    def worst(self, run: PipeRun, rise_m: FloatArray | None = None) -> tuple[float, float]:
        """Return where a run is loaded most, and by how much [Pa]."""
        total = self.rest_pa
        if rise_m is not None:
            if np.shape(rise_m) != self.line.station_m.shape:
                raise InputError("Stations and surges differ in number.", "Give one of each.")
            need("The surge", rise_m, least=0.0)
            rise = np.interp(self.stations, self.line.station_m, rise_m)
            total = total + self.line.water.weight_n_m3 * rise
        first, last = run.from_m - SAME_PLACE_M, run.to_m + SAME_PLACE_M
        inside = (self.stations >= first) & (self.stations <= last)
        at = int(np.argmax(np.where(inside, total, -np.inf)))
        return float(self.stations[at]), float(total[at])


def _loads(line: LaidLine, flood_rise_m: float) -> _Loads:
    need("The flood level over the usual one", flood_rise_m, least=0.0)
    station, joints = line.station_m, line.pipes.joints_m
    near = np.abs(station[np.searchsorted(station, joints).clip(max=len(station) - 1)] - joints)
    stations = np.union1d(station, joints[near > SAME_PLACE_M])
    rest = line.static_pressure_pa + flood_rise_m * line.water.weight_n_m3
    return _Loads(line, stations, np.interp(stations, station, rest))


def _exceeded(doubted: _Loads, run: PipeRun, limit_pa: float, warm: float) -> Check:
    """Return the check of a run that holds the pressure as computed, with the raster's error."""
    station_m, demand_pa = doubted.worst(run)
    return asked("static_exceeded").judge(
        demand_pa / 1000.0,
        f"At {station_m:.1f} m the pressure at rest may be {demand_pa / 1000:.0f} kPa by the error "
        f"of the elevations (exceeded with a chance of 5 %), above the {limit_pa / 1000:.0f} kPa "
        f"that {run.pipe.label} holds in water of {warm:g} degC. Level the intake and this place, "
        "or take a stronger class here.",
        limit=limit_pa / 1000.0,
        place=run.pipe.label,
        station_m=station_m,
    )


def _unknown(loads: _Loads, run: PipeRun) -> Check:
    station_m, demand_pa = loads.worst(run)
    found = allowance(run.pipe, loads.line.water.temperature_c, surge_known=False)
    limit_pa = found.static_pa or 0.0
    return asked("surge_unknown").judge(
        demand_pa / 1000.0,
        f"At {station_m:.1f} m the pressure at rest is {demand_pa / 1000:.0f} kPa and no surge was "
        f"computed; {run.pipe.label} may then carry {limit_pa / 1000:.0f} kPa ({found.rule}). Give "
        "a design flow, so that the surge is computed, or take a stronger class here.",
        limit=limit_pa / 1000.0,
        place=run.pipe.label,
        station_m=station_m,
        rule=found.rule,
    )


def _in_surge(
    loads: _Loads, run: PipeRun, surge: SurgeCase | SurgeLoad, surge_factor: float | None
) -> Iterator[Check]:
    """Yield the check of one run in one surge, that of its peak after parting, and the factor's."""
    warm = loads.line.water.temperature_c
    own = allowance(run.pipe, warm, recurring=surge.recurring)
    found = allowance(run.pipe, warm, recurring=surge.recurring, surge_factor=surge_factor)
    limit_kpa = (found.total_pa or 0.0) / 1000.0
    whole, both = loads.worst(run, surge.whole_rise_m), ""
    peaks = {"surge_class": whole}
    if surge.parted_rise_m is not None:
        peaks["surge_parted"] = parted = loads.worst(run, surge.parted_rise_m)
        governs = "with" if parted[1] > whole[1] else "without"
        both = (
            f" The water parts in this surge: {whole[1] / 1000:.0f} kPa as long as it is whole, "
            f"{parted[1] / 1000:.0f} kPa when its cavities close, which is an order of size; the "
            f"figure {governs} parting governs, as the higher one."
        )
    doubted = loads.exceeded
    for key, (station_m, demand_pa) in peaks.items():
        rule, may, place = found.rule, "", f"{run.pipe.label}, {surge.name}"
        if doubted is not None and demand_pa / 1000.0 <= limit_kpa:
            rise = surge.parted_rise_m if key == "surge_parted" else surge.whole_rise_m
            station_m, demand_pa = doubted.worst(run, rise)
            place += ", after the water has parted" if key == "surge_parted" else ""
            key, may = "surge_exceeded", " by the error of the elevations"
            rule = f"{found.rule}, with the head at rest that is exceeded with a chance of 5 %"
        yield asked(key).judge(
            demand_pa / 1000.0,
            f"At {station_m:.1f} m {run.pipe.label} would carry {demand_pa / 1000:.0f} kPa{may} "
            f"({surge.name}), more than the {limit_kpa:.0f} kPa allowed ({found.rule}).{both} Take "
            f"a stronger class here, or {surge.remedy}.",
            limit=limit_kpa,
            place=place,
            station_m=station_m,
            rule=rule,
            source=found.source,
        )
    if surge_factor is not None:
        most = (own.total_pa or 0.0) / (own.static_pa or 1.0)
        yield asked("surge_factor").judge(
            surge_factor,
            f"surge.factor {surge_factor:g} is more than the {most:.3g} times its rating that "
            f"{run.pipe.label} may carry in this surge ({own.rule}); {most:.3g} was used. Take the "
            "factor out, or waive this on the maker's written word.",
            limit=most,
            place=f"{run.pipe.label}, {surge.name}",
            rule=own.rule,
            source=own.source,
        )
