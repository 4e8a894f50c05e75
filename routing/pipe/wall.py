"""From a standard's least wall to the wall and bore that a pipe has on the average."""

from __future__ import annotations

import math

__all__ = ["bore_pe_m", "iso_wall_m", "mean_wall_pvc_m"]

R10_PER_DECADE = 10
"""Steps of the preferred-number series R10 in a decade, to which pipe series S belong."""


def iso_wall_m(outside_diameter_m: float, series_s: float) -> float:
    r"""Return the least wall of a plastic pipe after the ISO rule for pipe series S [1]_.

    .. math::
        e = \frac{d_n}{2 S + 1}

    with the exact preferred number for S, rounded to 0.01 mm and then up to 0.1 mm.

    Parameters
    ----------
    outside_diameter_m : float
        Nominal outside diameter, > 0 [m]
    series_s : float
        Pipe series S as written on the pipe (20, 16, 12.5, 10, 8, 6.3, 5, 4, 3.2), > 0 [-]

    Returns
    -------
    wall_m : float
        Least wall [m]

    Notes
    -----
    Valid for: PE and PVC-U of 50 mm and more; the standards raise the walls of smaller pipe.
    Checked by ``tests/reference/test_catalogue.py``.

    Examples
    --------
    >>> iso_wall_m(0.500, 8.0)
    0.0297

    References
    ----------
    .. [1] ISO 4065. *Thermoplastics pipes - Universal wall thickness table*; R10 numbers after
       ISO 3.
    """
    exact_s = math.pow(10.0, round(R10_PER_DECADE * math.log10(series_s)) / R10_PER_DECADE)
    hundredths_mm = round(outside_diameter_m / (2.0 * exact_s + 1.0) * 100_000.0)
    return math.ceil(hundredths_mm / 10.0) / 10_000.0


def mean_wall_pvc_m(least_wall_m: float) -> float:
    r"""Return the mean wall of PVC pipe made to US standards, from its least wall.

    .. math::
        e_m = e + \frac{1}{2} \max(0.508\,\mathrm{mm},\; 0.12\,e)

    Parameters
    ----------
    least_wall_m : float
        Least wall of the standard, > 0 [m]

    Returns
    -------
    wall_m : float
        Mean wall: half the tolerance above the least [m]

    Notes
    -----
    Valid for: PVC after ASTM D2241, D1785 and AWWA C900, whose tolerance is 12 % and not less than
    0.020 in, all of it above the least wall.
    Checked by ``tests/reference/test_catalogue.py``.

    Examples
    --------
    >>> mean_wall_pvc_m(0.006477) * 1000
    6.8656

    References
    ----------
    .. [1] ASTM D2241, wall tolerances; its mean walls as a maker prints them (tolerances from
       memory).
    """
    return least_wall_m + max(0.000254, 0.06 * least_wall_m)


def bore_pe_m(outside_diameter_m: float, dimension_ratio: float) -> float:
    r"""Return the mean bore of polyethylene pipe made to US standards.

    .. math::
        d = D \left(1 - \frac{2.12}{\mathrm{DR}}\right)

    Parameters
    ----------
    outside_diameter_m : float
        Outside diameter, > 0 [m]
    dimension_ratio : float
        Outside diameter over least wall, > 2.12 [-]

    Returns
    -------
    inside_diameter_m : float
        Mean bore: the mean wall is 6 % above the least [m]

    Notes
    -----
    Valid for: polyethylene after ASTM F714 and D3035.
    Checked by ``tests/reference/test_catalogue.py``.

    Examples
    --------
    >>> bore_pe_m(0.3353, 11.0)
    0.27068

    References
    ----------
    .. [1] Plastics Pipe Institute, comparison of PE4710 and PE3608.
    """
    return outside_diameter_m * (1.0 - 2.12 / dimension_ratio)
