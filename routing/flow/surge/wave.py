"""How fast a pressure wave runs in a pipe full of water."""

from __future__ import annotations

import math
from typing import Literal

from routing.errors import PipeError
from routing.pipe import Pipe
from routing.water import Water

__all__ = [
    "RESTRAINTS",
    "Restraint",
    "critical_time_s",
    "pipe_wave_speed_m_s",
    "restraint_factor",
    "wave_speed_m_s",
]

Restraint = Literal["anchored", "anchored upstream", "expansion joints"]

RESTRAINTS: tuple[Restraint, ...] = ("anchored", "anchored upstream", "expansion joints")
"""How a pipe is held lengthwise; a buried pipe is anchored, a gasketed one has joints."""

SLOWEST_M_S = 100.0
"""A wave slower than this is not one of water in a pipe; common practice [m/s]."""


def restraint_factor(
    poisson: float,
    restraint: Restraint = "anchored",
    *,
    bore_per_wall: float | None = None,
) -> float:
    r"""Return the factor by which the way a pipe is held changes its stretch in a wave.

    .. math::
        c_1 = 1 - \nu^2, \quad 1 - \nu / 2, \quad 1

        c_1' = \frac{2 e}{D} (1 + \nu) + \frac{D}{D + e} c_1

    Parameters
    ----------
    poisson : float
        Poisson's ratio of the wall, 0 to 0.5 [-]
    restraint : {"anchored", "anchored upstream", "expansion joints"}
        Anchored throughout; at the upper end only; joints that slide throughout [-]
    bore_per_wall : float, optional
        Bore over wall D/e, > 0, to take the form for a thick wall; None takes a thin one [-]

    Returns
    -------
    factor : float
        Factor c1 of the wave speed [-]

    Raises
    ------
    PipeError
        If an argument is outside the bound given above.

    Notes
    -----
    Valid for: round pipe of one material; thick from D/e < 25 down. For pressure the fastest wave
    is the safe side: of the usual cases a thin wall anchored throughout, as buried pipe is.
    Anchored at its upper end only, plastic pipe would have waves up to 3 % faster.
    Checked by ``tests/reference/test_surge.py``.

    Examples
    --------
    >>> restraint_factor(0.38), restraint_factor(0.38, "expansion joints")
    (0.8556, 1.0)

    References
    ----------
    .. [1] E. B. Wylie, V. L. Streeter. *Fluid Transients in Systems*, 1993, from memory; some
       texts have 5/4 - nu for a pipe anchored at its upper end only.
    """
    if not 0.0 <= poisson <= 0.5:
        raise PipeError(f"Poisson's ratio is {poisson:g}.", "Give a ratio from 0 to 0.5.")
    if restraint not in RESTRAINTS:
        raise PipeError(
            f"The pipe is said to be held {restraint!r}.", f"Give one of {', '.join(RESTRAINTS)}."
        )
    thin = {
        "anchored": 1.0 - poisson * poisson,
        "anchored upstream": 1.0 - poisson / 2.0,
        "expansion joints": 1.0,
    }[restraint]
    if bore_per_wall is None:
        return thin
    if not (math.isfinite(bore_per_wall) and bore_per_wall > 0.0):
        raise PipeError(f"Bore over wall is {bore_per_wall:g}.", "Give a ratio above zero.")
    share = bore_per_wall / (bore_per_wall + 1.0)
    return 2.0 / bore_per_wall * (1.0 + poisson) + share * thin


def wave_speed_m_s(
    *,
    bulk_modulus_pa: float,
    density_kg_m3: float,
    elastic_pa: float,
    bore_per_wall: float,
    restraint_factor: float = 1.0,
) -> float:
    r"""Return the speed of a pressure wave in a pipe full of water.

    .. math::
        a = \sqrt{\frac{K / \rho}{1 + \frac{K}{E} \frac{D}{e} c_1}}

    Parameters
    ----------
    bulk_modulus_pa : float
        Bulk modulus K of the water, > 0 [Pa]
    density_kg_m3 : float
        Density of the water, > 0 [kg/m3]
    elastic_pa : float
        Modulus E of the wall for quick loads, > 0 [Pa]
    bore_per_wall : float
        Inside diameter over wall D/e, > 0; the dimension ratio less 2 [-]
    restraint_factor : float
        Factor c1 of :func:`restraint_factor`, > 0 [-]

    Returns
    -------
    speed_m_s : float
        Wave speed a [m/s]

    Raises
    ------
    PipeError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: water without air; 1 % of air by volume slows the wave to about a third.
    Checked by ``tests/reference/test_surge.py``.

    Examples
    --------
    >>> wave_speed_m_s(bulk_modulus_pa=2.1e9, density_kg_m3=1000.0, elastic_pa=210e9,
    ...                bore_per_wall=100.0)
    1024.7

    References
    ----------
    .. [1] D. J. Korteweg, 1878; E. B. Wylie, V. L. Streeter. *Fluid Transients in Systems*, 1993,
       from memory.
    """
    terms = {
        "bulk modulus": bulk_modulus_pa,
        "density": density_kg_m3,
        "modulus of elasticity": elastic_pa,
        "ratio of bore to wall": bore_per_wall,
        "restraint factor": restraint_factor,
    }
    for what, value in terms.items():
        if not (math.isfinite(value) and value > 0.0):
            raise PipeError(f"The {what} is {value:g}.", "Give a finite value above zero.")
    stretch = bulk_modulus_pa / elastic_pa * bore_per_wall * restraint_factor
    return math.sqrt(bulk_modulus_pa / density_kg_m3 / (1.0 + stretch))


def pipe_wave_speed_m_s(
    pipe: Pipe,
    water: Water,
    *,
    restraint: Restraint = "anchored",
    thick_wall: bool = False,
    speed_m_s: float | None = None,
) -> float:
    """Return the wave speed in one pipe, or check the speed that the user gives for it.

    Parameters
    ----------
    pipe : Pipe
        Gives bore, wall, dynamic modulus and Poisson's ratio [-]
    water : Water
        Gives bulk modulus and density [-]
    restraint : {"anchored", "anchored upstream", "expansion joints"}
        How the pipe is held lengthwise [-]
    thick_wall : bool
        Take the form for thick walls, 12 to 18 % slower for PE of DR 11 to 7.3 [-]
    speed_m_s : float, optional
        The user's own speed, from 100 to that in open water [m/s]

    Returns
    -------
    speed_m_s : float
        Wave speed [m/s]

    Raises
    ------
    PipeError
        If nothing is known of the pipe's elasticity and no speed is given, or the speed cannot be.

    Notes
    -----
    Valid for: water without air. The default, a thin wall anchored throughout, is the safe side
    for pressure, but not for the critical time, which a fast wave makes shorter.
    Checked by ``tests/reference/test_surge.py``.

    Examples
    --------
    >>> from routing.water import water_at
    >>> from routing.pipe import load_catalogue
    >>> pipe = load_catalogue().find("PE100-SDR17-200")
    >>> pipe_wave_speed_m_s(pipe, water_at(10.0))
    298.44
    """
    name = pipe.id or pipe.label
    if speed_m_s is None:
        if pipe.elastic_dynamic_pa is None or pipe.poisson is None:
            raise PipeError(
                f"Nothing is known of how the wall of {name} stretches ({pipe.material}).",
                "Give its wave speed, or a material of the table.",
            )
        speed_m_s = wave_speed_m_s(
            bulk_modulus_pa=water.bulk_modulus_pa,
            density_kg_m3=water.density_kg_m3,
            elastic_pa=pipe.elastic_dynamic_pa,
            bore_per_wall=pipe.inside_diameter_m / pipe.wall_m,
            restraint_factor=restraint_factor(
                pipe.poisson,
                restraint,
                bore_per_wall=pipe.inside_diameter_m / pipe.wall_m if thick_wall else None,
            ),
        )
    fastest = math.sqrt(water.bulk_modulus_pa / water.density_kg_m3)
    if not SLOWEST_M_S <= speed_m_s <= fastest:
        raise PipeError(
            f"The wave speed in {name} is {speed_m_s:.4g} m/s.",
            f"It lies between {SLOWEST_M_S:g} m/s and that in open water, {fastest:.0f} m/s: check "
            "bore, wall and material.",
        )
    return speed_m_s


def critical_time_s(lengths_m: list[float], speeds_m_s: list[float]) -> float:
    """Return how long a wave takes to the intake and back.

    Parameters
    ----------
    lengths_m : list of float
        Length along the slope of each reach [m]
    speeds_m_s : list of float
        Wave speed in each reach [m/s]

    Returns
    -------
    time_s : float
        Critical time, twice the sum of length over speed; a closure as quick is instant [s]

    Notes
    -----
    Valid for: a line without branches. A slower wave makes it longer.
    Checked by ``tests/reference/test_surge.py``.

    Examples
    --------
    >>> critical_time_s([600.0], [1200.0])
    1.0
    """
    return 2.0 * sum(length / speed for length, speed in zip(lengths_m, speeds_m_s, strict=True))
