"""Whether a vacuum would flatten the pipe, station by station, at the site's altitude."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from routing.arrays import BoolArray, FloatArray, frozen
from routing.check import Check
from routing.flow import atmospheres_pa
from routing.laid_line import LaidLine
from routing.pipe import Pipe
from routing.strength.burial import BurialCredit, buried_collapse_pa
from routing.strength.requirements import asked
from routing.strength.ring import least_wall_m, ring_collapse_pa
from routing.strength.trade_data import limit
from routing.value import dataclass

__all__ = [
    "VacuumCheck",
    "VacuumStrength",
    "check_vacuum",
    "vacuum_strength",
    "vent_vacuum_pa",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class VacuumCheck:
    """Full vacuum against what the pipe stands, (n,); NaN where a pipe's stiffness is not known.

    ``assumed`` says in words what was taken because it was not stated.
    """

    station_m: FloatArray
    demand_pa: FloatArray
    limit_pa: FloatArray
    vents_may_freeze: bool
    assumed: tuple[str, ...]
    checks: tuple[Check, ...]

    @property
    def margin_pa(self) -> FloatArray:
        """What the pipe stands beyond a full vacuum, (n,); negative where it would be flattened."""
        return frozen(self.limit_pa - self.demand_pa)


@dataclass(frozen=True, slots=True, kw_only=True)
class VacuumStrength:
    """The vacuum a pipe is let bear [Pa], and the safety against collapse that this leaves.

    ``lasting`` is True where the stiffness over years decides, as in a vacuum that stands.
    """

    limit_pa: float
    safety: float
    lasting: bool

    @property
    def words(self) -> str:
        """Return the limit with its safety, as a message says it."""
        over = "over years" if self.lasting else "over minutes"
        return (
            f"{self.limit_pa / 1000:.0f} kPa of vacuum by itself (collapse of a 5 % oval ring at "
            f"{self.limit_pa * self.safety / 1000:.0f} kPa {over}, over a safety of "
            f"{self.safety:g})"
        )


def vacuum_strength(pipe: Pipe, *, vents_may_freeze: bool) -> VacuumStrength | None:
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
    strength : VacuumStrength or None
        Allowed vacuum [Pa] and its safety; None where the pipe's stiffness is not known

    Notes
    -----
    Valid for: a pipe without support of the soil, up to 5 % oval. Checked by
    ``tests/reference/test_vacuum.py``.

    Examples
    --------
    >>> from routing.pipe import load_catalogue
    >>> pipe = load_catalogue().find("PE100-SDR17-200")
    >>> found = vacuum_strength(pipe, vents_may_freeze=True)
    >>> round(found.limit_pa, -1), found.safety, found.lasting
    (40640.0, 2.0, True)

    References
    ----------
    .. [1] As :func:`routing.strength.ring.ring_collapse_pa`; safeties common practice.
    """
    short, long = pipe.elastic_short_pa, pipe.elastic_long_pa
    if short is None or pipe.poisson is None:
        return None

    def stands(elastic_pa: float, safety: float, *, lasting: bool = False) -> VacuumStrength:
        collapse = limit("ovality_factor") * ring_collapse_pa(
            elastic_pa=elastic_pa,
            poisson=pipe.poisson or 0.0,
            outside_diameter_m=pipe.outside_diameter_m,
            wall_m=least_wall_m(pipe),
        )
        return VacuumStrength(limit_pa=collapse / safety, safety=safety, lasting=lasting)

    works = limit("safety_vents_work")
    if not vents_may_freeze:
        return stands(short, works)
    brief = stands(short, limit("safety_vents_frozen"))
    if long is None:
        return brief
    return min(brief, stands(long, works, lasting=True), key=lambda each: each.limit_pa)


def vent_vacuum_pa(pipe: Pipe) -> float | None:
    """Return the vacuum that a vent on this pipe may be sized for: 34.5 kPa or less.

    >>> from routing.pipe import load_catalogue
    >>> round(vent_vacuum_pa(load_catalogue().find("PVC-D2241PIP-SDR81-15in")))
    4038
    """
    alone = vacuum_strength(pipe, vents_may_freeze=False)
    return None if alone is None else min(limit("most_vent_vacuum"), alone.limit_pa)


def check_vacuum(
    line: LaidLine, vents_may_freeze: bool | None = None, burial: BurialCredit | None = None
) -> VacuumCheck:
    """Return whether the pipe stands a full vacuum, or needs its vents.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes; its altitude gives the weight of the air [-]
    vents_may_freeze : bool, optional
        Whether frost may close the vents; None where nobody said, which is taken as yes [-]
    burial : BurialCredit, optional
        Support of the soil, only when the user asks for it; none above ground [-]

    Returns
    -------
    check : VacuumCheck
        Full vacuum at the altitude, what the pipe stands [Pa]; one check for each run of known
        stiffness: a fault where the vents are said to freeze, a warning where that is assumed or
        where working vents are needed

    Raises
    ------
    InputError
        If a number of the burial cannot be.

    Notes
    -----
    Valid for: least walls, 5 % of ovality. At a joint the pipe below it is checked, and the one
    above it at the station before. Checked by ``tests/reference/test_vacuum.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 500.0], [300.0, 250.0], "PVC-D2241IPS-SDR41-8in", intake_m=301.0)
    >>> [(each.code, each.severity) for each in check_vacuum(line).checks]
    [('vacuum_collapse', 'warning')]

    References
    ----------
    .. [1] As :func:`vacuum_strength`.
    """
    frozen_vents = vents_may_freeze is not False
    demand = atmospheres_pa(line.pipe_m)
    limit_pa = np.full(line.station_m.shape, np.nan)
    buried = ~line.pipe.in_span
    for number, run in enumerate(line.pipes.runs):
        here = line.run_index == number
        alone = vacuum_strength(run.pipe, vents_may_freeze=frozen_vents)
        if alone is None:
            continue
        limit_pa[here] = alone.limit_pa
        if burial is not None:
            held = here & buried
            soil = _buried(run.pipe, burial, held, standing=frozen_vents)
            limit_pa[held] = np.maximum(alone.limit_pa, soil)
    return VacuumCheck(
        station_m=line.station_m,
        demand_pa=frozen(demand),
        limit_pa=frozen(limit_pa),
        vents_may_freeze=frozen_vents,
        assumed=(VENTS_ASSUMED,) if vents_may_freeze is None else (),
        checks=tuple(_checks(line, demand, limit_pa, vents_may_freeze)),
    )


VENTS_ASSUMED = (
    "Vents may freeze shut (site.vents_may_freeze was not given), the safe side: the pipe is held "
    "against a vacuum that stands."
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


def _checks(
    line: LaidLine, demand: FloatArray, limit_pa: FloatArray, vents_may_freeze: bool | None
) -> Iterator[Check]:
    margin = limit_pa - demand
    for number, run in enumerate(line.pipes.runs):
        here = np.flatnonzero((line.run_index == number) & np.isfinite(margin))
        alone = vacuum_strength(run.pipe, vents_may_freeze=vents_may_freeze is not False)
        if not len(here) or alone is None:
            continue
        worst = here[int(np.argmin(margin[here]))]
        full = f"the {demand[worst] / 1000:.0f} kPa of a full one"
        stands = f"{run.pipe.label} withstands {alone.words}"
        if limit_pa[worst] > alone.limit_pa:
            stands += f" and {limit_pa[worst] / 1000:.0f} kPa held by the soil"
        key, rest = WORDS[vents_may_freeze]
        yield asked(key).judge(
            demand[worst] / 1000.0,
            f"{stands}, less than {full}{rest}",
            limit=float(limit_pa[worst]) / 1000.0,
            place=run.pipe.label,
            station_m=float(line.station_m[worst]),
        )


REMEDY = (
    "Take a thicker wall, keep the vents from frost, or drain the line in the cold season with all "
    "vents open."
)
WORDS: dict[bool | None, tuple[str, str]] = {
    True: ("vacuum_stated", f", and its vents may freeze. {REMEDY}"),
    None: (
        "vacuum_assumed",
        ". That its vents may freeze is an assumption: set site.vents_may_freeze to false if they "
        f"are kept from frost. Otherwise: {REMEDY[0].lower()}{REMEDY[1:]}",
    ),
    False: (
        "vacuum_vents",
        ": only working vents keep it round. Never close them, keep them from frost, and drain "
        "slowly.",
    ),
}
"""The requirement and the advice, by what was stated of the vents."""
