"""What supports do to a pipe: bent rings, pushed columns, and the spacing that others publish."""

from __future__ import annotations

import math

from routing.anchors.given import check_diameters
from routing.need import need
from routing.trade_table import trade_table
from routing.units import FOOT

__all__ = ["column_buckling_n", "published_span_m", "saddle_stress_pa"]


def saddle_stress_pa(
    reaction_n: float, outside_diameter_m: float, wall_m: float, saddle_deg: float = 120.0
) -> float:
    r"""Return the local bending of a pipe's ring at the tips of a saddle [1]_.

    .. math::
        \sigma = \frac{k R}{e^2} \ln\frac{r}{e}, \qquad k = 0.02 - 0.00012 (\beta - 90)

    Parameters
    ----------
    reaction_n : float
        Load on the saddle, >= 0 [N]
    outside_diameter_m : float
        Outside diameter, > 2 walls [m]
    wall_m : float
        Wall, > 0 [m]
    saddle_deg : float
        Angle that the saddle embraces, 90 to 180 [deg]

    Returns
    -------
    stress_pa : float
        Bending of the ring, in tension and compression [Pa]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: steel pipe of D/e 20 to 200 that is nearly full; r is the mean radius. Thinner
    pipe wants a stiffening ring.
    Checked by ``tests/reference/test_supports.py``.

    Examples
    --------
    >>> saddle_stress_pa(10000.0, 0.3239, 0.0064) / 1e6
    12.857

    References
    ----------
    .. [1] AWWA Manual M11, *Steel pipe: a guide for design and installation*, from memory of it.
    """
    need("The load on the saddle", reaction_n, least=0.0, unit="N")
    need("The wall", wall_m, above=0.0, unit="m")
    check_diameters(outside_diameter_m, outside_diameter_m - 2.0 * wall_m)
    need("The angle of the saddle", saddle_deg, least=90.0, most=180.0, unit="degrees")
    k = 0.02 - 0.00012 * (saddle_deg - 90.0)
    radius = (outside_diameter_m - wall_m) / 2.0
    return k * reaction_n / wall_m**2 * max(math.log(radius / wall_m), 0.0)


def column_buckling_n(rigidity_n_m2: float, span_m: float) -> float:
    """Return the push along a pipe at which it leaves the line between two supports [N].

    Parameters
    ----------
    rigidity_n_m2 : float
        Bending stiffness E I, > 0 [N m2]
    span_m : float
        Distance between supports, > 0 [m]

    Returns
    -------
    push_n : float
        Push along the pipe [N]

    Notes
    -----
    Euler's pi2 E I / L2 with pinned ends, the safe side.

    Examples
    --------
    >>> column_buckling_n(1.0e6, 10.0)
    98696.
    """
    need("The rigidity E I", rigidity_n_m2, above=0.0, unit="N m2")
    need("The span", span_m, above=0.0, unit="m")
    return math.pi**2 * rigidity_n_m2 / span_m**2


def published_span_m(
    family: str, outside_diameter_m: float, temperature_c: float = 20.0, series: str | None = None
) -> float | None:
    """Return the published spacing of supports, or None where no table gives one [m] [1]_ [2]_.

    Parameters
    ----------
    family : str
        Family of material
    outside_diameter_m : float
        Outside diameter [m]
    temperature_c : float
        Temperature of the pipe [degC]
    series : str or None
        Series of the table, None for the usual one

    Returns
    -------
    span_m : float or None
        Distance between supports [m]

    Notes
    -----
    By the next smaller pipe of the table and its next warmer row. Steel of standard wall; PVC of
    schedule 40 unless ``series`` asks for "schedule 80".

    Examples
    --------
    >>> published_span_m("STEEL", 0.2191) / 0.3048
    19.0

    References
    ----------
    .. [1] Steel: a piping standard, table B5.1.
    .. [2] PVC: a published table of support spacing.
    """
    wanted = series or ("standard wall" if family == "STEEL" else "schedule 40")
    warm_f = 32.0 + 1.8 * temperature_c
    table = [
        row
        for row in trade_table(__file__, "spans.csv")
        if (row["material"], row["series"]) == (family, wanted)
    ]
    warmer = {float(row["temperature_f"]) for row in table if row["temperature_f"]}
    if warmer:
        fit = [degree for degree in warmer if degree >= warm_f - 0.5]
        if not fit:
            return None
        table = [row for row in table if float(row["temperature_f"]) == min(fit)]
    # Outside diameters in millimetres are rounded, so a hair of tolerance.
    smaller = [
        row for row in table if float(row["outside_in"]) * 0.0254 <= outside_diameter_m * 1.005
    ]
    if not smaller:
        return None
    return FOOT * float(max(smaller, key=lambda row: float(row["outside_in"]))["span_ft"])
