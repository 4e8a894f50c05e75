"""The pipe as a ring: the outside pressure that flattens it."""

from __future__ import annotations

import math

from routing.need import need
from routing.pipe import Pipe, is_plastic

__all__ = ["least_wall_m", "most_dimension_ratio", "ring_collapse_pa"]

PLASTIC_MEAN_OVER_LEAST = 1.06
"""Mean wall over the least one of plastic pipe where only the mean is known; common practice."""

STEEL_LEAST_OVER_NOMINAL = 0.875
"""Steel may be rolled an eighth thinner than its nominal wall (ASME B36.10M, from memory)."""


def ring_collapse_pa(
    *, elastic_pa: float, poisson: float, outside_diameter_m: float, wall_m: float
) -> float:
    r"""Return the outside pressure at which a round, unsupported pipe collapses.

    .. math::
        P_\mathrm{cr} = \frac{2 E}{1 - \nu^2} \left(\frac{e}{D_m}\right)^3, \qquad D_m = D - e

    Parameters
    ----------
    elastic_pa : float
        Modulus of the wall, > 0: over minutes for surge and emptying, over years for a vacuum
        that stands [Pa]
    poisson : float
        Poisson's ratio of the wall, 0 to 0.5 [-]
    outside_diameter_m : float
        Outside diameter, > 2 walls [m]
    wall_m : float
        Least wall, > 0; the mean wall overstates by up to 1.5 times [m]

    Returns
    -------
    collapse_pa : float
        Pressure outside above that inside [Pa]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a perfect circle without safety; multiply by 0.64 for 5 % of ovality and divide by a
    safety of 2 or more. Checked by ``tests/reference/test_vacuum.py``.

    Examples
    --------
    >>> ring_collapse_pa(elastic_pa=400_000 * 6894.757, poisson=0.38, outside_diameter_m=41.0,
    ...                  wall_m=1.0) / 1000
    100.73

    References
    ----------
    .. [1] Critical buckling of PVC pipe, dimensional data of a maker.
    """
    need("The modulus of the wall", elastic_pa, above=0.0)
    need("Poisson's ratio", poisson, least=0.0, most=0.5)
    need("The wall", wall_m, above=0.0)
    need("The outside diameter", outside_diameter_m, above=2.0 * wall_m)
    slender = wall_m / (outside_diameter_m - wall_m)
    return 2.0 * elastic_pa / (1.0 - poisson**2) * slender**3


def most_dimension_ratio(
    *, elastic_pa: float, poisson: float, pressure_pa: float, safety: float, ovality: float = 1.0
) -> float:
    r"""Return the thinnest pipe, as outside diameter over wall, that stands an outside pressure.

    .. math::
        \mathrm{DR} = 1 + \left(\frac{2 E f_o}{(1 - \nu^2)\, p\, S}\right)^{1/3}

    Parameters
    ----------
    elastic_pa : float
        Modulus of the wall, > 0 [Pa]
    poisson : float
        Poisson's ratio, 0 to 0.5 [-]
    pressure_pa : float
        Outside pressure above that inside, > 0; 101 325 for a full vacuum at sea level [Pa]
    safety : float
        Safety, >= 1 [-]
    ovality : float
        Factor f_o for ovality, 0 < f_o <= 1; 0.64 for 5 % [-]

    Returns
    -------
    dimension_ratio : float
        Outside diameter over least wall [-]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: as :func:`ring_collapse_pa`, whose inverse it is. Checked by
    ``tests/reference/test_vacuum.py``.

    Examples
    --------
    >>> most_dimension_ratio(elastic_pa=2758e6, poisson=0.38, pressure_pa=101_325.0, safety=2.0,
    ...                      ovality=0.64)
    28.3

    References
    ----------
    .. [1] As :func:`ring_collapse_pa`.
    """
    need("The modulus of the wall", elastic_pa, above=0.0)
    need("Poisson's ratio", poisson, least=0.0, most=0.5)
    need("The outside pressure", pressure_pa, above=0.0)
    need("The safety", safety, least=1.0)
    need("The factor for ovality", ovality, above=0.0, most=1.0)
    return 1.0 + float(
        math.cbrt(2.0 * elastic_pa * ovality / ((1.0 - poisson**2) * pressure_pa * safety))
    )


def least_wall_m(pipe: Pipe) -> float:
    """Return the wall at the thinnest place: the catalogue's, or a share of the one given.

    >>> from routing.pipe import load_catalogue
    >>> round(1000 * least_wall_m(load_catalogue().find("PVC-D2241IPS-SDR64-4in")), 3)
    1.778
    """
    if pipe.wall_least_m is not None:
        return pipe.wall_least_m
    if is_plastic(pipe.material):
        return pipe.wall_m / PLASTIC_MEAN_OVER_LEAST
    return pipe.wall_m * STEEL_LEAST_OVER_NOMINAL
