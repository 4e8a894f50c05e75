"""What pressure a wall holds: the formulas behind the classes of the catalogue."""

from __future__ import annotations

from functools import partial

from routing.errors import PipeError
from routing.need import need

__all__ = ["rating_by_wall_pa"]

_need = partial(need, kind=PipeError)


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
