"""Whether every pipe and every fitting holds what it must, station by station."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.finding import Finding
from routing.need import need
from routing.pipe import PipeSchedule
from routing.strength.rules import allowance

__all__ = ["ClassCheck", "Element", "WeakPlace", "check_class"]

SAME_PLACE_M = 1e-6
"""A joint nearer than this to a station is at it [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """A fitting, valve, gasket or air valve with a pressure rating of its own."""

    name: str
    station_m: float
    rating_pa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeakPlace:
    """What has the least pressure in hand, where, and by what rule."""

    name: str
    station_m: float
    demand_pa: float
    limit_pa: float
    margin_pa: float
    rule: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassCheck:
    """Demand and limit at every station and joint, (n,), by the rule with less in hand there.

    ``limit_pa`` and ``margin_pa`` are NaN where a pipe has no rating. ``places`` holds the worst
    place of each run of pipe and each element, the least margin first.
    """

    station_m: FloatArray
    demand_pa: FloatArray
    limit_pa: FloatArray
    margin_pa: FloatArray
    places: tuple[WeakPlace, ...]
    findings: tuple[Finding, ...]

    @property
    def weakest(self) -> WeakPlace | None:
        """Return what has the least pressure in hand on the line; None if nothing is rated."""
        return self.places[0] if self.places else None

    @property
    def passed(self) -> bool:
        """Return whether everything with a rating holds."""
        return all(place.margin_pa >= 0.0 for place in self.places)


def check_class(
    *,
    station_m: FloatArray,
    static_pa: FloatArray,
    surge_pa: FloatArray | None,
    schedule: PipeSchedule,
    temperature_c: float,
    recurring: bool = False,
    surge_factor: float | None = None,
    elements: Sequence[Element] = (),
) -> ClassCheck:
    """Return whether the classes along the line hold, each by its own standard's rule.

    Parameters
    ----------
    station_m : FloatArray
        Plan stations, (n,) strictly rising [m]
    static_pa : FloatArray
        Pressure at rest, from the highest level that can occur with the machine shut, (n,) [Pa]
    surge_pa : FloatArray or None
        Rise of pressure in a surge, (n,) >= 0; None where it was not computed [Pa]
    schedule : PipeSchedule
        The pipes along the line [-]
    temperature_c : float
        Temperature of the water [degC]
    recurring : bool
        The surge comes every day; otherwise it is a rare emergency [-]
    surge_factor : float, optional
        The user's own factor on the rating in a surge, 1 to 2 [-]
    elements : sequence of Element
        Fittings, valves, gaskets; each must hold static pressure and surge by its rating [-]

    Returns
    -------
    check : ClassCheck
        Demand, limit and margin along the line, joints between stations added; weakest places

    Raises
    ------
    InputError
        If a surge is negative, shapes differ, an element is off the line, or the water is too
        warm for a pipe.

    Notes
    -----
    Valid for: heads above the centreline. At a joint both pipes must hold. The greatest pressure
    is at the lowest point of the line, which may be a sag and not the outlet.
    Checked by ``tests/reference/test_class.py``.

    Examples
    --------
    >>> from routing.pipe import load_catalogue, schedule_pipes
    >>> line = schedule_pipes([(0.0, load_catalogue().find("PE100-SDR17-200"))], 500.0)
    >>> check = check_class(station_m=np.array([0.0, 300.0, 500.0]),
    ...                     static_pa=np.array([0.0, 7e5, 5e5]), surge_pa=np.full(3, 2e5),
    ...                     schedule=line, temperature_c=10.0)
    >>> check.weakest.station_m, check.weakest.margin_pa
    (300.0, 100000.0)

    References
    ----------
    .. [1] Rules and their sources: ``data/surge_rules.csv``.
    """
    surge = np.zeros_like(static_pa) if surge_pa is None else np.asarray(surge_pa)
    if not station_m.shape == static_pa.shape == surge.shape:
        raise InputError(
            "Stations, pressures at rest and surges differ in number.", "Give one of each."
        )
    need("The pressure at rest", static_pa)
    need("The surge", surge, least=0.0)
    stations = _with_joints(station_m, schedule)
    rest = np.interp(stations, station_m, static_pa)
    total = rest + np.interp(stations, station_m, surge)
    demand, limit_pa = total.copy(), np.full(len(stations), np.nan)
    margin = np.full(len(stations), np.nan)
    places: list[WeakPlace] = []
    for run in schedule.runs:
        found = allowance(
            run.pipe,
            temperature_c,
            recurring=recurring,
            surge_known=surge_pa is not None,
            surge_factor=surge_factor,
        )
        inside = np.flatnonzero((stations >= run.from_m) & (stations <= run.to_m))
        if found.static_pa is None or found.total_pa is None or not len(inside):
            continue
        at_rest = found.static_pa - rest[inside]
        in_surge = found.total_pa - total[inside]
        static_rules = at_rest < in_surge
        own = np.minimum(at_rest, in_surge)
        # At a joint the pipe with less in hand rules; fmin takes the number where one is NaN.
        less = ~(margin[inside] <= own)
        change = inside[less]
        demand[change] = np.where(static_rules, rest[inside], total[inside])[less]
        limit_pa[change] = np.where(static_rules, found.static_pa, found.total_pa)[less]
        margin[change] = own[less]
        worst = int(np.argmin(own))
        static = bool(static_rules[worst])
        at = int(inside[worst])
        places.append(
            WeakPlace(
                name=run.pipe.label,
                station_m=float(stations[at]),
                demand_pa=float(rest[at] if static else total[at]),
                limit_pa=found.static_pa if static else found.total_pa,
                margin_pa=float(own[worst]),
                rule="static pressure within the rating" if static else found.rule,
                source=found.source,
            )
        )
    places.extend(_elements(elements, stations, total))
    places.sort(key=lambda place: place.margin_pa)
    return ClassCheck(
        station_m=frozen(stations),
        demand_pa=frozen(demand),
        limit_pa=frozen(limit_pa),
        margin_pa=frozen(margin),
        places=tuple(places),
        findings=tuple(_findings(places)),
    )


def _with_joints(station_m: FloatArray, schedule: PipeSchedule) -> FloatArray:
    """Return the stations with every joint that lies between two of them."""
    joints = schedule.joints_m
    near = np.abs(station_m[np.searchsorted(station_m, joints).clip(max=len(station_m) - 1)])
    new = joints[np.abs(near - joints) > SAME_PLACE_M]
    return np.union1d(station_m, new)


def _elements(
    elements: Sequence[Element], stations: FloatArray, total: FloatArray
) -> Iterator[WeakPlace]:
    for element in elements:
        need(f"The rating of {element.name}", element.rating_pa, above=0.0)
        need(
            f"The station of {element.name}",
            element.station_m,
            least=float(stations[0]),
            most=float(stations[-1]),
        )
        demand = float(np.interp(element.station_m, stations, total))
        yield WeakPlace(
            name=element.name,
            station_m=element.station_m,
            demand_pa=demand,
            limit_pa=element.rating_pa,
            margin_pa=element.rating_pa - demand,
            rule="static pressure and surge within the rating of the element",
            source="settings",
        )


def _findings(places: Sequence[WeakPlace]) -> Iterator[Finding]:
    for place in places:
        if place.margin_pa < 0.0:
            yield Finding(
                code="class_exceeded",
                severity="fault",
                message=f"At {place.station_m:.1f} m {place.name} would carry "
                f"{place.demand_pa / 1000:.0f} kPa, more than the {place.limit_pa / 1000:.0f} kPa "
                f"allowed ({place.rule}). Take a stronger class here, or close more slowly.",
                station_m=place.station_m,
            )
