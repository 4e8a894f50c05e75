"""The pipe as a ring: the outside pressure that flattens it."""

from __future__ import annotations

from routing.need import need
from routing.pipe import Pipe, is_plastic

__all__ = ["least_wall_m", "ring_collapse_pa"]

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
