"""Friction in full pipes, after Darcy, Weisbach and Colebrook."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, overload

import numpy as np

from routing.arrays import FloatArray
from routing.need import need
from routing.water import STANDARD_GRAVITY_M_S2

__all__ = ["flow_for_gradient", "friction_factor", "head_loss_darcy"]

LAMINAR_REYNOLDS = 2000.0
"""Up to here the flow is laminar [-]."""

TURBULENT_REYNOLDS = 4000.0
"""From here the flow is turbulent, and Colebrook's formula holds [-]."""

GREATEST_RELATIVE_ROUGHNESS = 0.05
"""Roughness over bore up to which Colebrook's formula was fitted [-]."""

NEWTON_STEPS = 4
"""Each doubles the digits of a start that is right to 2 %; four reach the last bit."""


def _need_flow_terms(
    inside_diameter_m: float | FloatArray,
    roughness_m: float | FloatArray,
    kinematic_viscosity_m2_s: float,
) -> None:
    need("The inside diameter", inside_diameter_m, above=0.0)
    need("The kinematic viscosity", kinematic_viscosity_m2_s, above=0.0)
    _need_relative(roughness_m / np.asarray(inside_diameter_m))


def _need_relative(relative_roughness: float | FloatArray) -> None:
    # Forgive the last bit: a roughness of exactly bore/20 may come out a little above it.
    need(
        "The roughness over the bore",
        relative_roughness,
        least=0.0,
        most=GREATEST_RELATIVE_ROUGHNESS * (1.0 + 1e-12),
    )


def _plain(value: FloatArray) -> float | FloatArray:
    """Return a 0-d result as a float of Python's own."""
    return float(value) if np.ndim(value) == 0 else value


def colebrook(
    reynolds: Any, relative_roughness: Any, log10: Callable[[Any], Any] = np.log10
) -> Any:
    """Return Colebrook's friction factor, solved to machine precision, for Reynolds >= 4000.

    Newton's method on x + 2 log10(a + b x) = 0 with x = 1/sqrt(f), from Haaland's formula.
    """
    a = relative_roughness / 3.7
    b = 2.51 / reynolds
    x = -1.8 * log10(a**1.11 + 6.9 / reynolds)
    for _ in range(NEWTON_STEPS):
        inner = a + b * x
        x = x - (x + 2.0 * log10(inner)) / (1.0 + (2.0 / math.log(10.0)) * b / inner)
    return 1.0 / (x * x)


def friction_factors(reynolds: FloatArray, relative_roughness: FloatArray) -> FloatArray:
    """Return Darcy's factor in laminar, transition and turbulent flow; arguments unchecked."""
    rough: FloatArray = colebrook(np.maximum(reynolds, TURBULENT_REYNOLDS), relative_roughness)
    if np.all(reynolds >= TURBULENT_REYNOLDS):
        return rough
    share = (reynolds - LAMINAR_REYNOLDS) / (TURBULENT_REYNOLDS - LAMINAR_REYNOLDS)
    blend = _between(np.clip(share, 0.0, 1.0), rough)
    slow = np.minimum(reynolds, LAMINAR_REYNOLDS)
    return np.where(reynolds <= LAMINAR_REYNOLDS, 64.0 / slow, blend)


def _between(share: Any, rough: Any) -> Any:
    """Return the factor on the straight line from laminar to turbulent flow."""
    laminar_end = 64.0 / LAMINAR_REYNOLDS
    return laminar_end + (rough - laminar_end) * share


def _one_factor(reynolds: float, relative_roughness: float) -> float:
    """Return what :func:`friction_factors` does of one number, without the cost of arrays."""
    if reynolds <= LAMINAR_REYNOLDS:
        return 64.0 / reynolds
    rough = colebrook(max(reynolds, TURBULENT_REYNOLDS), relative_roughness, math.log10)
    share = (reynolds - LAMINAR_REYNOLDS) / (TURBULENT_REYNOLDS - LAMINAR_REYNOLDS)
    return float(rough if share >= 1.0 else _between(share, rough))


@overload
def friction_factor(reynolds: float, relative_roughness: float) -> float: ...
@overload
def friction_factor(
    reynolds: float | FloatArray, relative_roughness: float | FloatArray
) -> float | FloatArray: ...
def friction_factor(
    reynolds: float | FloatArray, relative_roughness: float | FloatArray
) -> float | FloatArray:
    r"""Return the Darcy friction factor of a full pipe.

    .. math::
        f = \frac{64}{\mathrm{Re}} \quad (\mathrm{Re} \le 2000)

        \frac{1}{\sqrt f} = -2 \log_{10}\left(\frac{e/D}{3.7} + \frac{2.51}
            {\mathrm{Re}\sqrt f}\right) \quad (\mathrm{Re} \ge 4000)

    and a straight line between the two.

    Parameters
    ----------
    reynolds : float or FloatArray
        Reynolds number V D / nu, > 0 [-]
    relative_roughness : float or FloatArray
        Roughness over bore e/D, 0 to 0.05; broadcast against ``reynolds`` [-]

    Returns
    -------
    f_darcy : float or FloatArray
        Darcy (not Fanning) friction factor [-]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: full, steady flow. Between 2000 and 4000 the real flow changes to and fro; the line
    is a convention, and other programs take others.
    Checked by ``tests/reference/test_friction.py``.

    Examples
    --------
    >>> friction_factor(1e5, 1e-4)
    0.018514

    References
    ----------
    .. [1] C. F. Colebrook. Turbulent flow in pipes. *Journal of the ICE* 11, 1939.
    """
    need("The Reynolds number", reynolds, above=0.0)
    _need_relative(relative_roughness)
    if isinstance(reynolds, float) and isinstance(relative_roughness, float):
        return _one_factor(float(reynolds), float(relative_roughness))
    return _plain(
        friction_factors(
            np.asarray(reynolds, dtype=np.float64), np.asarray(relative_roughness, dtype=np.float64)
        )
    )


@overload
def head_loss_darcy(
    *,
    flow_m3_s: float,
    length_m: float,
    inside_diameter_m: float,
    roughness_m: float,
    kinematic_viscosity_m2_s: float,
    gravity_m_s2: float = ...,
) -> float: ...
@overload
def head_loss_darcy(
    *,
    flow_m3_s: float | FloatArray,
    length_m: float | FloatArray,
    inside_diameter_m: float | FloatArray,
    roughness_m: float | FloatArray,
    kinematic_viscosity_m2_s: float,
    gravity_m_s2: float = ...,
) -> float | FloatArray: ...
def head_loss_darcy(
    *,
    flow_m3_s: float | FloatArray,
    length_m: float | FloatArray,
    inside_diameter_m: float | FloatArray,
    roughness_m: float | FloatArray,
    kinematic_viscosity_m2_s: float,
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2,
) -> float | FloatArray:
    r"""Return the friction head lost along a full pipe, after Darcy and Weisbach.

    .. math::
        h_f = f \frac{L}{D} \frac{V^2}{2 g}

    Parameters
    ----------
    flow_m3_s : float or FloatArray
        Flow, >= 0 [m3/s]
    length_m : float or FloatArray
        Length along the slope of the pipe, >= 0 [m]
    inside_diameter_m : float or FloatArray
        Bore, > 0 [m]
    roughness_m : float or FloatArray
        Roughness of the wall, 0 to bore/20 [m]
    kinematic_viscosity_m2_s : float
        Kinematic viscosity of the water, > 0 [m2/s]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    head_loss_m : float or FloatArray
        Friction head, >= 0; the arguments broadcast together [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: full, steady flow; bends and fittings are not included.
    Checked by ``tests/reference/test_friction.py``.

    Examples
    --------
    >>> head_loss_darcy(flow_m3_s=0.04, length_m=1000.0, inside_diameter_m=0.2,
    ...                 roughness_m=0.05e-3, kinematic_viscosity_m2_s=1.308e-6)
    7.222

    References
    ----------
    .. [1] C. F. Colebrook. Turbulent flow in pipes. *Journal of the ICE* 11, 1939.
    """
    need("The flow", flow_m3_s, least=0.0)
    need("The length", length_m, least=0.0)
    _need_flow_terms(inside_diameter_m, roughness_m, kinematic_viscosity_m2_s)
    bore = np.asarray(inside_diameter_m, dtype=np.float64)
    velocity = np.asarray(flow_m3_s) / (math.pi / 4.0 * bore * bore)
    # Still water has no Reynolds number worth a factor; the loss is zero whatever it is.
    reynolds = np.maximum(velocity * bore / kinematic_viscosity_m2_s, 1e-9)
    factor = friction_factors(reynolds, roughness_m / bore)
    return _plain(factor * length_m / bore * velocity * velocity / (2.0 * gravity_m_s2))


def flow_for_gradient(
    *,
    gradient: float,
    inside_diameter_m: float,
    roughness_m: float,
    kinematic_viscosity_m2_s: float,
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2,
) -> float:
    r"""Return the flow that loses a given head per length of full pipe.

    .. math::
        Q = -2 A \sqrt{2 g D S} \log_{10}\left(\frac{e}{3.7 D}
            + \frac{2.51\,\nu}{D \sqrt{2 g D S}}\right)

    in turbulent flow; the inverse of :func:`head_loss_darcy` below.

    Parameters
    ----------
    gradient : float
        Head lost per slope length S, >= 0 [-]
    inside_diameter_m : float
        Bore, > 0 [m]
    roughness_m : float
        Roughness of the wall, 0 to bore/20 [m]
    kinematic_viscosity_m2_s : float
        Kinematic viscosity of the water, > 0 [m2/s]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    flow_m3_s : float
        Flow, >= 0 [m3/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: full, steady flow without local losses.
    Checked by ``tests/reference/test_friction.py``.

    Examples
    --------
    >>> 1000.0 * flow_for_gradient(gradient=0.02, inside_diameter_m=0.2, roughness_m=1.5e-6,
    ...                            kinematic_viscosity_m2_s=1.308e-6)
    74.220

    References
    ----------
    .. [1] C. F. Colebrook. Turbulent flow in pipes. *Journal of the ICE* 11, 1939.
    """
    need("The gradient", gradient, least=0.0)
    _need_flow_terms(inside_diameter_m, roughness_m, kinematic_viscosity_m2_s)
    relative = roughness_m / inside_diameter_m
    if gradient == 0.0:
        return 0.0
    # Everything in terms of the Reynolds number: f Re^2 is known, Re is sought.
    shear = math.sqrt(2.0 * gravity_m_s2 * inside_diameter_m * gradient)
    known = shear * inside_diameter_m / kinematic_viscosity_m2_s
    reynolds = -2.0 * known * math.log10(relative / 3.7 + 2.51 / known)
    if reynolds < TURBULENT_REYNOLDS:
        reynolds = _reynolds_below_turbulent(known * known, relative)
    return reynolds * kinematic_viscosity_m2_s * math.pi / 4.0 * inside_diameter_m


def _reynolds_below_turbulent(known: float, relative: float) -> float:
    """Return Re <= 4000 with f(Re) Re^2 = known."""
    laminar = known / 64.0
    if laminar <= LAMINAR_REYNOLDS:
        return laminar
    low, high = 64.0 / LAMINAR_REYNOLDS, friction_factor(TURBULENT_REYNOLDS, relative)
    rise = (high - low) / (TURBULENT_REYNOLDS - LAMINAR_REYNOLDS)
    start = low - rise * LAMINAR_REYNOLDS
    # f Re^2 = start Re^2 + rise Re^3 is convex here, so Newton from above comes down to the root.
    reynolds = TURBULENT_REYNOLDS
    for _ in range(12):
        value = (start + rise * reynolds) * reynolds**2 - known
        slope = (2.0 * start + 3.0 * rise * reynolds) * reynolds
        reynolds -= value / slope
    return reynolds
