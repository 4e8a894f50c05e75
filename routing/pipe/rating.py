"""What pressure a wall holds: the formulas behind the classes of the catalogue."""

from __future__ import annotations

from functools import partial

from routing.errors import PipeError
from routing.need import need

__all__ = [
    "rating_by_ratio_pa",
    "rating_by_wall_pa",
    "rating_steel_pa",
]


_need = partial(need, kind=PipeError)


def rating_by_ratio_pa(design_stress_pa: float, dimension_ratio: float) -> float:
    r"""Return the pressure class of a plastic pipe of a given dimension ratio.

    .. math::
        p = \frac{2 \sigma}{\mathrm{DR} - 1}

    Parameters
    ----------
    design_stress_pa : float
        Design stress, > 0: the hydrostatic design stress of US standards (PVC 1120 2000 psi,
        PE4710 1000 psi) or MRS/C of ISO standards (PE100 8 MPa, PVC-U 12.5 or 10 MPa) [Pa]
    dimension_ratio : float
        Outside diameter over least wall (DR, SDR), > 1 [-]

    Returns
    -------
    rating_pa : float
        Working pressure at the reference temperature of the stress [Pa]

    Raises
    ------
    PipeError
        If an argument is outside the bound given above.

    Notes
    -----
    Valid for: pipe held to its outside diameter. Published classes are rounded, some of them down
    (SDR 13.5 PVC is 315 psi, not 320): where a published class exists it rules.
    Checked by ``tests/reference/test_ratings.py``.

    Examples
    --------
    >>> rating_by_ratio_pa(8.0e6, 17.0)
    1000000.0

    References
    ----------
    .. [1] ASTM D2241, pressure ratings, from memory; ISO 4427-2:2007, table of
       dimensions, as a maker prints it.
    """
    _need("The design stress", design_stress_pa, above=0.0)
    _need("The dimension ratio", dimension_ratio, above=1.0)
    return 2.0 * design_stress_pa / (dimension_ratio - 1.0)


def rating_by_wall_pa(design_stress_pa: float, outside_diameter_m: float, wall_m: float) -> float:
    r"""Return the pressure that a plastic pipe of a given wall holds, as schedule pipe is rated.

    .. math::
        p = \frac{2 \sigma t}{D - t}

    Parameters
    ----------
    design_stress_pa : float
        Hydrostatic design stress, > 0 [Pa]
    outside_diameter_m : float
        Outside diameter, > wall [m]
    wall_m : float
        Least wall, > 0 [m]

    Returns
    -------
    rating_pa : float
        Working pressure at the reference temperature, plain ends [Pa]

    Raises
    ------
    PipeError
        If an argument is outside the bound given above.

    Notes
    -----
    Valid for: plain or solvent-welded ends; a cut thread halves it. The pressure of one schedule
    falls with size. Published values are rounded to 10 psi.
    Checked by ``tests/reference/test_ratings.py``.

    Examples
    --------
    >>> rating_by_wall_pa(13.79e6, 0.16828, 0.007112) / 6894.757
    176.518

    References
    ----------
    .. [1] ASTM D1785, pressure ratings, from memory; its table of dimensions and ratings,
       handbook copy.
    """
    _need("The design stress", design_stress_pa, above=0.0)
    _need("The wall", wall_m, above=0.0)
    _need("The outside diameter", outside_diameter_m, above=wall_m)
    return 2.0 * design_stress_pa * wall_m / (outside_diameter_m - wall_m)


def rating_steel_pa(
    yield_stress_pa: float,
    outside_diameter_m: float,
    wall_m: float,
    *,
    joint_factor: float = 1.0,
    corrosion_m: float = 0.001,
) -> float:
    r"""Return the working pressure of steel pipe at half its yield stress.

    .. math::
        p = \frac{2 (0.5 f_y) E (0.875 t - c)}{D}

    Parameters
    ----------
    yield_stress_pa : float
        Least yield stress of the steel, > 0 [Pa]
    outside_diameter_m : float
        Outside diameter, > 0 [m]
    wall_m : float
        Nominal wall, > 0; the mill may roll it 12.5 % thinner [m]
    joint_factor : float
        Efficiency of the welds: 0.6 furnace butt, 0.85 resistance or site weld without
        radiography, 1.0 seamless; 0 < E <= 1 [-]
    corrosion_m : float
        Wall kept for corrosion, >= 0, commonly 1 to 2 mm [m]

    Returns
    -------
    rating_pa : float
        Working pressure, zero where corrosion takes the whole wall [Pa]

    Raises
    ------
    PipeError
        If an argument is outside the bound given above.

    Notes
    -----
    Valid for: thin walls (D/t above about 20); thicker walls are rated low by it.
    Checked by ``tests/reference/test_ratings.py``.

    Examples
    --------
    >>> rating_steel_pa(241e6, 0.2191, 0.00818) / 1e5
    67.73

    References
    ----------
    .. [1] AWWA. *Steel Pipe - A Guide for Design and Installation* (M11), working stress; ASME
       B31, joint factors; both from memory.
    """
    _need("The yield stress", yield_stress_pa, above=0.0)
    _need("The outside diameter", outside_diameter_m, above=0.0)
    _need("The wall", wall_m, above=0.0)
    _need("The joint factor", joint_factor, above=0.0, most=1.0)
    _need("The corrosion allowance", corrosion_m, least=0.0)
    sound_m = max(0.0, 0.875 * wall_m - corrosion_m)
    return yield_stress_pa * joint_factor * sound_m / outside_diameter_m
