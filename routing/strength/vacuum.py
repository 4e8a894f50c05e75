"""Whether a vacuum would flatten the pipe, station by station, at the site's altitude."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray, frozen
from routing.errors import InputError
from routing.finding import Finding
from routing.flow import atmosphere_pa
from routing.flow.air import HIGHEST_M, LOWEST_M
from routing.pipe import Pipe, PipeSchedule
from routing.strength.burial import BurialCredit, buried_collapse_pa
from routing.strength.ring import least_wall_m, ring_collapse_pa
from routing.strength.trade_data import limit

__all__ = ["VacuumCheck", "check_vacuum", "vacuum_limit_pa", "vent_vacuum_pa"]


@dataclass(frozen=True, slots=True, kw_only=True)
class VacuumCheck:
    """Full vacuum against what the pipe stands, (n,); NaN where a pipe's stiffness is not known.

    ``vent_vacuum_pa`` is the vacuum that vents may let arise and for which they are sized.
    """

    station_m: FloatArray
    demand_pa: FloatArray
    limit_pa: FloatArray
    margin_pa: FloatArray
    vent_vacuum_pa: FloatArray
    vents_may_freeze: bool
    findings: tuple[Finding, ...]


def vacuum_limit_pa(pipe: Pipe, *, vents_may_freeze: bool) -> float | None:
    r"""Return the vacuum that a pipe stands by itself, with ovality and safety.

    .. math::
        p = \frac{0.64\, P_\mathrm{cr}(E_\mathrm{short})}{2}, \qquad
        p_\mathrm{frozen} = 0.64 \min\left(\frac{P_\mathrm{cr}(E_\mathrm{short})}{4},
            \frac{P_\mathrm{cr}(E_\mathrm{long})}{2}\right)

    Parameters
    ----------
    pipe : Pipe
        The pipe; its least wall is taken [-]
    vents_may_freeze : bool
        A frozen vent is a closed vent: the safety is 4, and the vacuum may stand [-]

    Returns
    -------
    limit_pa : float or None
        Allowed vacuum; None where the pipe's stiffness is not known [Pa]

    Notes
    -----
    Valid for: a pipe without support of the soil, up to 5 % oval. Checked by
    ``tests/reference/test_vacuum.py``.

    Examples
    --------
    >>> from routing.pipe import load_catalogue
    >>> pipe = load_catalogue().find("PE100-SDR17-200")
    >>> vacuum_limit_pa(pipe, vents_may_freeze=False) > vacuum_limit_pa(pipe, vents_may_freeze=True)
    True

    References
    ----------
    .. [1] As :func:`routing.strength.ring.ring_collapse_pa`; safeties common practice.
    """
    short, long = pipe.elastic_short_pa, pipe.elastic_long_pa
    if short is None or pipe.poisson is None:
        return None

    def collapse(elastic_pa: float) -> float:
        return limit("ovality_factor") * ring_collapse_pa(
            elastic_pa=elastic_pa,
            poisson=pipe.poisson or 0.0,
            outside_diameter_m=pipe.outside_diameter_m,
            wall_m=least_wall_m(pipe),
        )

    works = limit("safety_vents_work")
    if not vents_may_freeze:
        return collapse(short) / works
    brief = collapse(short) / limit("safety_vents_frozen")
    return brief if long is None else min(brief, collapse(long) / works)


def vent_vacuum_pa(pipe: Pipe) -> float | None:
    """Return the vacuum that a vent on this pipe may be sized for: 34.5 kPa or less.

    >>> from routing.pipe import load_catalogue
    >>> round(vent_vacuum_pa(load_catalogue().find("PVC-D2241PIP-SDR81-15in")))
    4038
    """
    alone = vacuum_limit_pa(pipe, vents_may_freeze=False)
    return None if alone is None else min(limit("most_vent_vacuum"), alone)


def check_vacuum(
    *,
    station_m: FloatArray,
    pipe_m: FloatArray,
    schedule: PipeSchedule,
    vents_may_freeze: bool,
    burial: BurialCredit | None = None,
    in_span: BoolArray | None = None,
) -> VacuumCheck:
    """Return whether the pipe stands a full vacuum, or needs its vents.

    Parameters
    ----------
    station_m : FloatArray
        Plan stations, (n,) [m]
    pipe_m : FloatArray
        Elevation of the centreline, (n,); gives the weight of the air [m]
    schedule : PipeSchedule
        The pipes along the line [-]
    vents_may_freeze : bool
        Whether frost may close the vents; there is no default [-]
    burial : BurialCredit, optional
        Support of the soil, only when the user asks for it [-]
    in_span : BoolArray, optional
        True above ground, (n,): there the soil gives no support [-]

    Returns
    -------
    check : VacuumCheck
        Full vacuum at the altitude, what the pipe stands, the difference [Pa], findings

    Raises
    ------
    InputError
        If shapes differ or a number of the burial cannot be.

    Notes
    -----
    Valid for: least walls, 5 % of ovality. At a joint the pipe below it is checked, and the one
    above it at the station before. Checked by ``tests/reference/test_vacuum.py``.

    Examples
    --------
    >>> from routing.pipe import load_catalogue, schedule_pipes
    >>> line = schedule_pipes([(0.0, load_catalogue().find("PVC-D2241IPS-SDR41-8in"))], 500.0)
    >>> check = check_vacuum(station_m=np.array([0.0, 500.0]), pipe_m=np.array([300.0, 250.0]),
    ...                      schedule=line, vents_may_freeze=False)
    >>> [each.code for each in check.findings]
    ['vents_must_work']

    References
    ----------
    .. [1] As :func:`vacuum_limit_pa`.
    """
    shape = station_m.shape
    if pipe_m.shape != shape or (in_span is not None and in_span.shape != shape):
        raise InputError("Stations and elevations differ in number.", "Give one of each.")
    altitudes = np.clip(pipe_m, LOWEST_M, HIGHEST_M)
    demand = np.array([atmosphere_pa(altitude) for altitude in altitudes.tolist()])
    run_index = schedule.run_index(station_m)
    limit_pa, vent = np.full(shape, np.nan), np.full(shape, np.nan)
    for number, run in enumerate(schedule.runs):
        here = run_index == number
        alone = vacuum_limit_pa(run.pipe, vents_may_freeze=vents_may_freeze)
        vent_pa = vent_vacuum_pa(run.pipe)
        if alone is None or vent_pa is None:
            continue
        limit_pa[here], vent[here] = alone, vent_pa
        if burial is not None:
            held = here if in_span is None else here & ~in_span
            limit_pa[held] = np.maximum(
                alone, _buried(run.pipe, burial, held, standing=vents_may_freeze)
            )
    margin = limit_pa - demand
    return VacuumCheck(
        station_m=frozen(station_m),
        demand_pa=frozen(demand),
        limit_pa=frozen(limit_pa),
        margin_pa=frozen(margin),
        vent_vacuum_pa=frozen(vent),
        vents_may_freeze=vents_may_freeze,
        findings=tuple(
            _findings(schedule, run_index, station_m, limit_pa, margin, vents_may_freeze)
        ),
    )


def _buried(
    pipe: Pipe, burial: BurialCredit, held: BoolArray, *, standing: bool
) -> float | FloatArray:
    elastic = pipe.elastic_long_pa if standing else pipe.elastic_short_pa
    if elastic is None or not held.any():
        return 0.0
    return buried_collapse_pa(
        elastic_pa=elastic,
        outside_diameter_m=pipe.outside_diameter_m,
        wall_m=least_wall_m(pipe),
        soil_modulus_pa=burial.soil_modulus_pa,
        cover_m=burial.cover_m[held],
        water_m=burial.water_m[held],
    )


def _findings(
    schedule: PipeSchedule,
    run_index: IntArray,
    station_m: FloatArray,
    limit_pa: FloatArray,
    margin: FloatArray,
    vents_may_freeze: bool,
) -> Iterator[Finding]:
    for number, run in enumerate(schedule.runs):
        weak = np.flatnonzero((run_index == number) & (margin < 0.0))
        if not len(weak):
            continue
        worst = weak[int(np.argmin(margin[weak]))]
        stands = f"{run.pipe.label} stands {limit_pa[worst] / 1000:.0f} kPa of vacuum, less than "
        stands += f"the {(limit_pa[worst] - margin[worst]) / 1000:.0f} kPa of a full one"
        if vents_may_freeze:
            yield Finding(
                code="vacuum_collapse",
                severity="fault",
                message=f"{stands}, and its vents may freeze. Take a thicker wall, keep the vents "
                "from frost, or drain the line in the cold season with all vents open.",
                station_m=float(station_m[worst]),
            )
        else:
            yield Finding(
                code="vents_must_work",
                severity="warning",
                message=f"{stands}: only working vents keep it round. Never close them, keep them "
                "from frost, and drain slowly.",
                station_m=float(station_m[worst]),
            )
