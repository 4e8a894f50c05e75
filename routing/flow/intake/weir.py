"""Sharp-crested weirs and notches: head to flow, and flow to head."""

from __future__ import annotations

import math

import numpy as np

from routing.flow.intake.trade_data import v_notch_table
from routing.need import need
from routing.units import FOOT
from routing.water import STANDARD_GRAVITY_M_S2

__all__ = [
    "cipolletti_flow_m3_s",
    "v_notch_flow_m3_s",
    "v_notch_head_m",
    "v_notch_us_flow_m3_s",
    "weir_contracted_flow_m3_s",
    "weir_suppressed_flow_m3_s",
]

FRANCIS = 3.33 * math.sqrt(FOOT)
"""Francis's constant, 3.33 in feet, about 1.838 in metres [m0.5/s]."""

CIPOLLETTI = 3.367 * math.sqrt(FOOT)
"""Cipolletti's constant, 3.367 in feet, about 1.859 in metres [m0.5/s]."""


def _v_notch(angle_deg: float) -> tuple[float, float]:
    """Return the factor on (h + k)^2.5 in metres and seconds, and k [m]."""
    angles, coefficients, offsets = v_notch_table()
    need("The angle of the notch", angle_deg, least=float(angles[0]), most=float(angles[-1]))
    coefficient = float(np.interp(angle_deg, angles, coefficients))
    offset_m = float(np.interp(angle_deg, angles, offsets))
    shape = math.tan(math.radians(angle_deg) / 2.0) * math.sqrt(2.0 * STANDARD_GRAVITY_M_S2)
    return 8.0 / 15.0 * coefficient * shape, offset_m


def v_notch_flow_m3_s(head_m: float, angle_deg: float = 90.0) -> float:
    r"""Return the flow over a sharp V notch.

    .. math::
        Q = \frac{8}{15} C_e \sqrt{2 g} \tan\frac{\theta}{2} (h + k)^{5/2}

    Parameters
    ----------
    head_m : float
        Water level above the point of the notch, read four heads upstream, >= 0 [m]
    angle_deg : float
        Full angle of the notch, 25 to 100 [deg]

    Returns
    -------
    flow_m3_s : float
        Flow; exactly 0 at no head [m3/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: 61 to 381 mm of head, full contraction, free fall behind. Low heads are the weak
    spot: another published table for 60 degrees reads 3.7 % lower at 61 mm. Checked by
    ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> 1000.0 * v_notch_flow_m3_s(0.1524)
    12.5517

    References
    ----------
    .. [1] ISO 1438, thin-plate weirs, from memory.
    """
    need("The head over the notch", head_m, least=0.0)
    factor, offset_m = _v_notch(angle_deg)
    return factor * math.pow(head_m + offset_m, 2.5) if head_m > 0.0 else 0.0


def v_notch_head_m(flow_m3_s: float, angle_deg: float = 90.0) -> float:
    """Return the head at which a sharp V notch passes a flow: the inverse of v_notch_flow_m3_s.

    Parameters
    ----------
    flow_m3_s : float
        Flow, >= 0 [m3/s]
    angle_deg : float
        Full angle of the notch, 25 to 100 [deg]

    Returns
    -------
    head_m : float
        Water level above the point of the notch, >= 0 [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: as :func:`v_notch_flow_m3_s`. Checked by ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> v_notch_head_m(0.005)
    0.105199

    References
    ----------
    .. [1] As :func:`v_notch_flow_m3_s`.
    """
    need("The flow over the notch", flow_m3_s, least=0.0)
    factor, offset_m = _v_notch(angle_deg)
    return max(0.0, math.pow(flow_m3_s / factor, 0.4) - offset_m)


def v_notch_us_flow_m3_s(head_m: float) -> float:
    r"""Return the flow over a 90 degree notch by the short formula used in the United States.

    .. math::
        Q = 2.49\, h^{2.48} \quad \text{(feet, cubic feet per second)}

    Parameters
    ----------
    head_m : float
        Water level above the point of the notch, >= 0 [m]

    Returns
    -------
    flow_m3_s : float
        Flow [m3/s]

    Raises
    ------
    InputError
        If the head is negative or not finite.

    Notes
    -----
    Valid for: a fully contracted 90 degree notch, 61 to 381 mm of head; a cross-check of
    :func:`v_notch_flow_m3_s`, within 1 % of it. Checked by ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> 1000.0 * v_notch_us_flow_m3_s(0.3048)
    70.509

    References
    ----------
    .. [1] USBR. *Water Measurement Manual*, eq. 7-6, from memory.
    """
    need("The head over the notch", head_m, least=0.0)
    return 2.49 * math.pow(head_m / FOOT, 2.48) * FOOT**3


def weir_suppressed_flow_m3_s(head_m: float, width_m: float, crest_m: float) -> float:
    r"""Return the flow over a rectangular weir as wide as its channel, after Rehbock.

    .. math::
        Q = \frac{2}{3} \left(0.602 + 0.083 \frac{h}{P}\right) \sqrt{2 g}\, b\,
            (h + 0.0012\,\mathrm{m})^{3/2}

    Parameters
    ----------
    head_m : float
        Water level above the crest, read four heads upstream, >= 0 [m]
    width_m : float
        Width of crest and channel, > 0 [m]
    crest_m : float
        Height of the crest above the channel's floor, > 0 [m]

    Returns
    -------
    flow_m3_s : float
        Flow; exactly 0 at no head [m3/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: h/b <= 1/3, air under the falling sheet. Checked by
    ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> weir_suppressed_flow_m3_s(0.2, 1.0, 0.5)
    0.16925

    References
    ----------
    .. [1] ISO 1438, Rehbock's formula, from memory.
    """
    need("The head over the weir", head_m, least=0.0)
    need("The width of the weir", width_m, above=0.0)
    need("The height of the crest", crest_m, above=0.0)
    if head_m == 0.0:
        return 0.0
    coefficient = 0.602 + 0.083 * head_m / crest_m
    root = math.sqrt(2.0 * STANDARD_GRAVITY_M_S2)
    return 2.0 / 3.0 * coefficient * root * width_m * math.pow(head_m + 0.0012, 1.5)


def weir_contracted_flow_m3_s(head_m: float, width_m: float) -> float:
    r"""Return the flow over a rectangular weir narrower than its channel, after Francis.

    .. math::
        Q = 1.838\, (L - 0.2 h)\, h^{3/2}

    Parameters
    ----------
    head_m : float
        Water level above the crest, read four heads upstream, >= 0 [m]
    width_m : float
        Length L of the crest, > 0 [m]

    Returns
    -------
    flow_m3_s : float
        Flow [m3/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound, or the head is above half the crest.

    Notes
    -----
    Valid for: h/L <= 1/3 and both ends contracted. Above h = 2L the formula turns back, so heads
    above L/2 are refused. Checked by ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> weir_contracted_flow_m3_s(0.2, 1.0)
    0.157859

    References
    ----------
    .. [1] Francis, 3.33 in feet; contraction in a city's design manual, p. 147, seen second-hand.
    """
    need("The width of the weir", width_m, above=0.0)
    need("The head over the weir", head_m, least=0.0, most=0.5 * width_m)
    return FRANCIS * (width_m - 0.2 * head_m) * math.pow(head_m, 1.5)


def cipolletti_flow_m3_s(head_m: float, width_m: float) -> float:
    r"""Return the flow over a weir whose sides lean out 1 in 4, after Cipolletti.

    .. math::
        Q = 1.859\, L\, h^{3/2}

    Parameters
    ----------
    head_m : float
        Water level above the crest, read four heads upstream, >= 0 [m]
    width_m : float
        Length L of the crest, > 0 [m]

    Returns
    -------
    flow_m3_s : float
        Flow [m3/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: h/L <= 1/3; the leaning sides make up for the contraction. Checked by
    ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> cipolletti_flow_m3_s(0.2, 1.0)
    0.166263

    References
    ----------
    .. [1] Cipolletti, 3.367 in feet; USBR *Water Measurement Manual*, from memory.
    """
    need("The head over the weir", head_m, least=0.0)
    need("The width of the weir", width_m, above=0.0)
    return CIPOLLETTI * width_m * math.pow(head_m, 1.5)
