"""Water between freezing and 40 degC."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.trade_table import trade_table
from routing.value import dataclass

__all__ = ["STANDARD_GRAVITY_M_S2", "Water", "water_at"]


STANDARD_GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall [m/s2]; BIPM, *The International System of Units*, 9th ed."""

COLDEST_C, WARMEST_C = 0.0, 40.0
"""Range of the property formulas here [degC]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Properties of water at one temperature, and the gravity that pulls it down the line."""

    temperature_c: float
    density_kg_m3: float
    kinematic_viscosity_m2_s: float
    dynamic_viscosity_pa_s: float
    vapour_pressure_pa: float
    bulk_modulus_pa: float
    gravity_m_s2: float

    @property
    def weight_n_m3(self) -> float:
        """Return what a cubic metre weighs, which is the pressure of a metre of head [N/m3]."""
        return self.density_kg_m3 * self.gravity_m_s2


@lru_cache(maxsize=1)
def _bulk_moduli() -> tuple[FloatArray, FloatArray]:
    """Return temperatures [degC] and bulk moduli [Pa] of the data file."""
    rows = trade_table(__file__, "bulk_modulus.csv")
    return (
        frozen([float(row["temperature_c"]) for row in rows]),
        frozen([float(row["bulk_modulus_gpa"]) * 1e9 for row in rows]),
    )


def water_at(temperature_c: float) -> Water:
    r"""Return the properties of fresh water at a temperature and ordinary pressure.

    .. math::
        \rho = 999.97495 \left[1 - \frac{(t - 3.983035)^2 (t + 301.797)}
            {522528.9\,(t + 69.34881)}\right]

        \log_{10} \frac{\mu}{1.002} = \frac{20 - t}{t + 96}
            \left[1.2378 - 1.303\cdot10^{-3}(20 - t) + 3.06\cdot10^{-6}(20 - t)^2
            + 2.55\cdot10^{-8}(20 - t)^3\right]

        p_v = 611.21 \exp\left[\left(18.678 - \frac{t}{234.5}\right)
            \frac{t}{257.14 + t}\right]

    Parameters
    ----------
    temperature_c : float
        Temperature t, 0 to 40 [degC]

    Returns
    -------
    water : Water
        Density [kg/m3], viscosities [m2/s, Pa s], vapour pressure [Pa], isentropic bulk modulus
        [Pa], standard gravity [m/s2]

    Raises
    ------
    InputError
        If the temperature is outside the bound given above.

    Notes
    -----
    Valid for: 0 to 40 degC, pressures of a few MPa. The bulk modulus is linear between the rows of
    ``data/bulk_modulus.csv``.
    Checked by ``tests/reference/test_water.py``.

    Examples
    --------
    >>> water = water_at(10.0)
    >>> water.density_kg_m3, water.kinematic_viscosity_m2_s * 1e6
    (999.7027, 1.3079)

    References
    ----------
    .. [1] M. Tanaka et al. Recommended table for the density of water between 0 and 40 degC.
       *Metrologia* 38, 2001 (density).
    .. [2] J. Kestin, M. Sokolov, W. A. Wakeham. Viscosity of liquid water in the range -8 to
       150 degC. *J. Phys. Chem. Ref. Data* 7, 1978 (viscosity).
    .. [3] A. L. Buck, formula of 1981 as revised in 1996 (vapour pressure).
    """
    if not (math.isfinite(temperature_c) and COLDEST_C <= temperature_c <= WARMEST_C):
        raise InputError(
            f"The water temperature is {temperature_c:g} degC.",
            f"Give a temperature from {COLDEST_C:g} to {WARMEST_C:g} degC.",
        )
    t = float(temperature_c)
    density = 999.97495 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))
    below = 20.0 - t
    series = 1.2378 - 1.303e-3 * below + 3.06e-6 * below**2 + 2.55e-8 * below**3
    viscosity = 1.002e-3 * math.pow(10.0, below / (t + 96.0) * series)
    return Water(
        temperature_c=t,
        density_kg_m3=density,
        kinematic_viscosity_m2_s=viscosity / density,
        dynamic_viscosity_pa_s=viscosity,
        vapour_pressure_pa=611.21 * math.exp((18.678 - t / 234.5) * t / (257.14 + t)),
        bulk_modulus_pa=float(np.interp(t, *_bulk_moduli())),
        gravity_m_s2=STANDARD_GRAVITY_M_S2,
    )
