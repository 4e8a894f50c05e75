"""Older friction formulas, kept as a cross-check: Hazen and Williams, Manning."""

from __future__ import annotations

import math
from typing import Literal

from routing.flow.resistance import run_lengths_m
from routing.laid_line import LaidLine
from routing.need import need

__all__ = ["hazen_williams_total", "head_loss_hazen_williams"]

GALLONS_PER_MINUTE_M3_S = 231 * 0.0254**3 / 60.0
"""One US gallon (231 cubic inches) a minute [m3/s]."""

INCH_M = 0.0254
"""One inch [m]."""


def head_loss_hazen_williams(
    *,
    flow_m3_s: float,
    length_m: float,
    inside_diameter_m: float,
    c: float,
    form: Literal["si", "us"] = "si",
) -> float:
    r"""Return the friction head lost along a full pipe, after Hazen and Williams.

    .. math::
        h_f = 10.674\, L\, \frac{Q^{1.852}}{C^{1.852} D^{4.8704}} \quad (\mathrm{si})

        \frac{h_f}{100\,\mathrm{ft}} = 0.2083 \left(\frac{100}{C}\right)^{1.852}
            \frac{q_\mathrm{gpm}^{1.852}}{d_\mathrm{in}^{4.8655}} \quad (\mathrm{us})

    Parameters
    ----------
    flow_m3_s : float
        Flow, >= 0 [m3/s]
    length_m : float
        Length along the slope of the pipe, >= 0 [m]
    inside_diameter_m : float
        Bore, > 0 [m]
    c : float
        Coefficient C, > 0 [-]
    form : {"si", "us"}
        Which of the two published forms; they differ by 1.5 % at 4 in [-]

    Returns
    -------
    head_loss_m : float
        Friction head, >= 0 [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: turbulent water near 15 degC, bore of 50 mm and more, 0.3 to 3 m/s. C = 150 is
    optimistic below 100 mm or below 1 m/s.
    Checked by ``tests/reference/test_friction.py``.

    Examples
    --------
    >>> head_loss_hazen_williams(flow_m3_s=0.04, length_m=1000.0, inside_diameter_m=0.2, c=150.0)
    6.509

    References
    ----------
    .. [1] The form of handbooks of pipe in US units; G. S. Williams, A. Hazen. *Hydraulic Tables*,
       1905, from memory.
    """
    need("The flow", flow_m3_s, least=0.0)
    need("The length", length_m, least=0.0)
    need("The inside diameter", inside_diameter_m, above=0.0)
    need("The coefficient C", c, above=0.0)
    if form == "us":
        gpm = flow_m3_s / GALLONS_PER_MINUTE_M3_S
        per_hundred = 0.2083 * math.pow(100.0 / c * gpm, 1.852)
        return per_hundred / math.pow(inside_diameter_m / INCH_M, 4.8655) * length_m / 100.0
    return 10.674 * length_m * math.pow(flow_m3_s / c, 1.852) / math.pow(inside_diameter_m, 4.8704)


def hazen_williams_total(
    line: LaidLine, flow_m3_s: float, form: Literal["si", "us"] = "si"
) -> float | None:
    """Return the friction head of the whole line after Hazen and Williams, all pipes new.

    Parameters
    ----------
    line : LaidLine
        The line as laid, with its pipes [-]
    flow_m3_s : float
        Flow, >= 0 [m3/s]
    form : {"si", "us"}
        Which of the two published forms [-]

    Returns
    -------
    head_loss_m : float or None
        Friction head; None where a pipe has no coefficient C [m]

    Raises
    ------
    InputError
        If the flow is negative or not finite.

    Notes
    -----
    Valid for: what :func:`head_loss_hazen_williams` is valid for; local losses are not in it, so
    compare it with the friction of a steady flow in new pipe.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 800.0], [350.0, 350.0], "PE100-SDR17-200", intake_m=411.0)
    >>> hazen_williams_total(line, 0.03)
    5.8711
    """
    total = 0.0
    for run, length_m in zip(line.pipes.runs, run_lengths_m(line).tolist(), strict=True):
        if run.pipe.hazen_williams_c is None:
            return None
        total += head_loss_hazen_williams(
            flow_m3_s=flow_m3_s,
            length_m=length_m,
            inside_diameter_m=run.pipe.inside_diameter_m,
            c=run.pipe.hazen_williams_c,
            form=form,
        )
    return total
