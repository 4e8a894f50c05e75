"""Local losses: h = K V^2 / 2g at entrances, bends, changes of bore and screens."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import overload

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.need import need
from routing.trade_table import rows_of
from routing.value import dataclass
from routing.water import STANDARD_GRAVITY_M_S2

__all__ = [
    "LossCoefficient",
    "bend_loss_k",
    "local_loss_coefficients",
    "screen_loss_m",
    "sudden_contraction_k",
    "sudden_expansion_k",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class LossCoefficient:
    """One K of the data file, and the velocity it belongs to."""

    item: str
    angle_deg: float | None
    k: float
    k_low: float | None
    k_high: float | None
    velocity: str
    source: str
    status: str


@lru_cache(maxsize=1)
def _coefficients() -> tuple[LossCoefficient, ...]:
    return rows_of(LossCoefficient, __file__, "local_losses.csv")


def local_loss_coefficients() -> Mapping[str, LossCoefficient]:
    """Return every K of the data file by its item, bends with their angle: "mitre bend 45".

    >>> local_loss_coefficients()["entrance sharp"].k
    0.5
    """
    return MappingProxyType(
        {
            each.item if each.angle_deg is None else f"{each.item} {each.angle_deg:g}": each
            for each in _coefficients()
        }
    )


@lru_cache(maxsize=1)
def _mitre_table() -> tuple[FloatArray, FloatArray]:
    rows = [
        (each.angle_deg or 0.0, each.k) for each in _coefficients() if each.item == "mitre bend"
    ]
    return frozen([angle for angle, _ in rows]), frozen([k for _, k in rows])


@overload
def bend_loss_k(deflection_deg: float) -> float: ...
@overload
def bend_loss_k(deflection_deg: FloatArray) -> FloatArray: ...
def bend_loss_k(deflection_deg: float | FloatArray) -> float | FloatArray:
    r"""Return the loss coefficient of a bend made as one mitre, the worst way to make it.

    Parameters
    ----------
    deflection_deg : float or FloatArray
        Change of direction in space, 0 to 180 [deg]

    Returns
    -------
    k : float or FloatArray
        Loss coefficient on the velocity head of the pipe, >= 0 [-]

    Raises
    ------
    InputError
        If an angle is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: 0 to 90 degrees, linear between the rows of ``data/local_losses.csv``. A sharper
    turn is made from several bends, so it is charged by its share of 90 degrees. Expect the real
    loss 20 % below to 30 % above, more in small pipe.
    Checked by ``tests/reference/test_local_losses.py``.

    Examples
    --------
    >>> bend_loss_k(37.5)
    0.15

    References
    ----------
    .. [1] Tables B-6 and B-7 of a handbook on the design of pumping stations, second-hand.
    """
    angle = np.asarray(deflection_deg, dtype=np.float64)
    need("The deflection of a bend", angle, least=0.0, most=180.0, unit="degrees")
    angles, ks = _mitre_table()
    k = np.interp(angle, angles, ks) * np.maximum(1.0, angle / angles[-1])
    return float(k) if k.ndim == 0 else k


def sudden_contraction_k(upstream_m: float, downstream_m: float) -> float:
    r"""Return the loss coefficient where the bore becomes smaller at once.

    .. math::
        K = \frac{1}{2} \left(1 - \frac{A_2}{A_1}\right)

    Parameters
    ----------
    upstream_m : float
        Bore above, >= the bore below [m]
    downstream_m : float
        Bore below, > 0 [m]

    Returns
    -------
    k : float
        Loss coefficient on the velocity head of the smaller bore [-]

    Raises
    ------
    InputError
        If a bore is not above zero, or the bore does not become smaller.

    Notes
    -----
    Valid for: a square edge; a conical reducer loses about 0.03.
    Checked by ``tests/reference/test_local_losses.py``.

    Examples
    --------
    >>> sudden_contraction_k(0.3, 0.2)
    0.2778

    References
    ----------
    .. [1] Common practice, no source.
    """
    need("The bore", [upstream_m, downstream_m], above=0.0, unit="m")
    if downstream_m > upstream_m:
        raise InputError("The bore becomes larger, not smaller.", "Use the expansion's loss.")
    return 0.5 * (1.0 - (downstream_m / upstream_m) ** 2)


def sudden_expansion_k(upstream_m: float, downstream_m: float) -> float:
    r"""Return the loss coefficient where the bore becomes larger at once, after Borda.

    .. math::
        K = \left(1 - \frac{A_1}{A_2}\right)^2

    Parameters
    ----------
    upstream_m : float
        Bore above, > 0 [m]
    downstream_m : float
        Bore below, >= the bore above [m]

    Returns
    -------
    k : float
        Loss coefficient on the velocity head of the smaller bore [-]

    Raises
    ------
    InputError
        If a bore is not above zero, or the bore does not become larger.

    Notes
    -----
    Valid for: turbulent flow.
    Checked by ``tests/reference/test_local_losses.py``.

    Examples
    --------
    >>> sudden_expansion_k(0.2, 0.3)
    0.3086

    References
    ----------
    .. [1] Borda and Carnot, from the balance of momentum.
    """
    need("The bore", [upstream_m, downstream_m], above=0.0, unit="m")
    if downstream_m < upstream_m:
        raise InputError("The bore becomes smaller, not larger.", "Use the contraction's loss.")
    return (1.0 - (upstream_m / downstream_m) ** 2) ** 2


def screen_loss_m(
    *,
    bar_m: float,
    gap_m: float,
    approach_m_s: float,
    inclination_deg: float,
    shape: str = "sharp rectangle",
) -> float:
    r"""Return the head lost at a clean bar screen, after Kirschmer.

    .. math::
        h = K_b \left(\frac{t}{b}\right)^{4/3} \sin\alpha \; \frac{V^2}{2 g}

    Parameters
    ----------
    bar_m : float
        Thickness t of a bar, > 0 [m]
    gap_m : float
        Clear gap b between bars, > 0 [m]
    approach_m_s : float
        Velocity of the water before the screen, >= 0 [m/s]
    inclination_deg : float
        Slope of the bars from the horizontal, > 0 and <= 90 [deg]
    shape : str
        "sharp rectangle", "rounded upstream", "rounded both ends" or "round bar" [-]

    Returns
    -------
    head_loss_m : float
        Head lost at the clean screen [m]

    Raises
    ------
    InputError
        If an argument is non-finite, outside the bound given above or an unknown shape.

    Notes
    -----
    Valid for: water straight onto a clean screen. A dirty one loses 2 to 4 times as much.
    Checked by ``tests/reference/test_local_losses.py``.

    Examples
    --------
    >>> 1000.0 * screen_loss_m(bar_m=0.008, gap_m=0.020, approach_m_s=0.6, inclination_deg=70.0)
    12.30

    References
    ----------
    .. [1] Kirschmer's bar factors, from memory of USBR and ESHA guides.
    """
    sizes = (bar_m, gap_m, inclination_deg)
    if not all(math.isfinite(size) and size > 0.0 for size in sizes) or inclination_deg > 90.0:
        raise InputError(
            f"A screen of {bar_m:g} m bars, {gap_m:g} m gaps at {inclination_deg:g} degrees "
            "is out of range.",
            "Give sizes above zero and a slope of up to 90 degrees.",
        )
    if not (math.isfinite(approach_m_s) and approach_m_s >= 0.0):
        raise InputError(
            f"The velocity before the screen is {approach_m_s:g} m/s.", "Give zero or more."
        )
    prefix = "screen "
    found = local_loss_coefficients().get(prefix + shape)
    if found is None:
        known = [name[len(prefix) :] for name in local_loss_coefficients() if prefix in name]
        raise InputError(f"No bar of a screen is {shape!r}.", f"Shapes are: {', '.join(known)}.")
    k = found.k * math.pow(bar_m / gap_m, 4.0 / 3.0) * math.sin(math.radians(inclination_deg))
    return k * approach_m_s**2 / (2.0 * STANDARD_GRAVITY_M_S2)
