"""The support that well packed soil gives a buried pipe; counted only when the user asks for it."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray
from routing.need import need
from routing.strength.trade_data import limit
from routing.units import FOOT
from routing.value import dataclass

__all__ = ["BurialCredit", "buried_collapse_pa"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BurialCredit:
    """The user's own word that the soil holds the pipe: its modulus, cover and water level.

    ``cover_m`` (n,) is the soil above the crown, ``water_m`` (n,) the ground water above it.
    """

    soil_modulus_pa: float
    cover_m: FloatArray
    water_m: FloatArray


def buried_collapse_pa(
    *,
    elastic_pa: float,
    outside_diameter_m: float,
    wall_m: float,
    soil_modulus_pa: float,
    cover_m: float | FloatArray,
    water_m: float | FloatArray = 0.0,
) -> float | FloatArray:
    r"""Return the outside pressure that a buried pipe may be let bear, safety included.

    .. math::
        q_a = \frac{1}{\mathrm{FS}} \sqrt{32\, R_w B' E' \frac{E}{12 (\mathrm{DR} - 1)^3}}

        B' = \frac{1}{1 + 4 e^{-0.065\, h_\mathrm{ft}}}, \qquad R_w = 1 - 0.33 \frac{h_w}{h}

    Parameters
    ----------
    elastic_pa : float
        Modulus E of the wall, > 0 [Pa]
    outside_diameter_m : float
        Outside diameter, > 2 walls [m]
    wall_m : float
        Least wall, > 0 [m]
    soil_modulus_pa : float
        Modulus E' of the soil beside the pipe, 1.4e6 to 13.8e6 [Pa]
    cover_m : float or FloatArray
        Soil above the crown, > 0 [m]
    water_m : float or FloatArray
        Ground water above the crown, 0 to the cover [m]

    Returns
    -------
    allowed_pa : float or FloatArray
        Allowed pressure outside above that inside [Pa]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: compacted mineral soil; none on bridges, in peat or above ground. The safety is 2.5,
    and 3.0 where the cover is less than two diameters. Checked by
    ``tests/reference/test_vacuum.py``.

    Examples
    --------
    >>> psi = 6894.757
    >>> buried_collapse_pa(elastic_pa=400e3 * psi, outside_diameter_m=0.41, wall_m=0.01,
    ...                    soil_modulus_pa=1000 * psi, cover_m=3 * 0.3048) / psi
    24.93

    References
    ----------
    .. [1] AWWA M23 and M11, allowable buckling pressure, from memory.
    """
    need("The modulus of the wall", elastic_pa, above=0.0)
    need("The wall", wall_m, above=0.0)
    need("The outside diameter", outside_diameter_m, above=2.0 * wall_m)
    need(
        "The modulus of the soil",
        soil_modulus_pa,
        least=limit("soil_modulus_least") * (1.0 - 0.02),
        most=limit("soil_modulus_most") * (1.0 + 0.02),
    )
    need("The cover", cover_m, above=0.0)
    need("The ground water above the pipe", water_m, least=0.0)
    cover = np.asarray(cover_m, dtype=np.float64)
    buoyant = 1.0 - 0.33 * np.minimum(1.0, water_m / cover)
    support = 1.0 / (1.0 + 4.0 * np.exp(-0.065 * cover / FOOT))
    stiffness = elastic_pa / (12.0 * (outside_diameter_m / wall_m - 1.0) ** 3)
    deep = cover >= 2.0 * outside_diameter_m
    safety = np.where(deep, limit("burial_safety_deep"), limit("burial_safety_shallow"))
    allowed = np.sqrt(32.0 * buoyant * support * soil_modulus_pa * stiffness) / safety
    return float(allowed) if allowed.ndim == 0 else allowed
