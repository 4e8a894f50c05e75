"""A pipe as a beam: its section, weight, bending, sag and natural frequency."""

from __future__ import annotations

import math
from typing import Literal

from routing.anchors.given import check_diameters
from routing.errors import InputError
from routing.need import need
from routing.value import dataclass

__all__ = [
    "Section",
    "Support",
    "frequency_hz",
    "moment_n_m",
    "sag_m",
    "support_reactions_n",
    "weight_n_m",
]

Support = Literal["simple", "continuous", "fixed"]
"""How a span lies: on two supports, as one of three and more, or held at both ends."""

_MOMENT = {"simple": 8.0, "continuous": 10.0, "fixed": 12.0}
_SAG = {"simple": 384.0 / 5.0, "continuous": 145.0, "fixed": 384.0}
# The end bay of a continuous pipe swings nearly as one on two supports.
_FREQUENCY = {"simple": 0.5, "continuous": 0.5, "fixed": 1.125}


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """The wall of a pipe in cross-section."""

    outside_diameter_m: float
    inside_diameter_m: float

    def __post_init__(self) -> None:
        check_diameters(self.outside_diameter_m, self.inside_diameter_m)

    @property
    def wall_m(self) -> float:
        """Return the mean wall [m]."""
        return (self.outside_diameter_m - self.inside_diameter_m) / 2.0

    @property
    def area_m2(self) -> float:
        """Return the area of the wall [m2]."""
        return math.pi / 4.0 * (self.outside_diameter_m**2 - self.inside_diameter_m**2)

    @property
    def inertia_m4(self) -> float:
        """Return the second moment of area [m4]."""
        return math.pi / 64.0 * (self.outside_diameter_m**4 - self.inside_diameter_m**4)

    @property
    def modulus_m3(self) -> float:
        """Return the section modulus [m3]."""
        return 2.0 * self.inertia_m4 / self.outside_diameter_m


def _check_span(load_n_m: float, span_m: float) -> None:
    need("The load of the span", load_n_m, above=0.0, unit="N/m")
    need("The span", span_m, above=0.0, unit="m")


def _check_support(support: str) -> None:
    if support not in _MOMENT:
        raise InputError(f"No span lies {support!r}.", f"Give one of: {', '.join(_MOMENT)}.")


def weight_n_m(
    section: Section,
    *,
    pipe_density_kg_m3: float,
    water_density_kg_m3: float = 1000.0,
    gravity_m_s2: float = 9.80665,
    extra_n_m: float = 0.0,
    full: bool = True,
) -> float:
    r"""Return the weight of a pipe.

    .. math::
        w = g \left[\rho_p \tfrac{\pi}{4}(D^2 - d^2) + \rho_w \tfrac{\pi}{4} d^2\right] + w_x

    Parameters
    ----------
    section : Section
        Outside diameter and bore [m]
    pipe_density_kg_m3, water_density_kg_m3 : float
        Densities of the wall and of the water, > 0 [kg/m3]
    gravity_m_s2 : float
        Gravity, > 0 [m/s2]
    extra_n_m : float
        Ice, snow, walkway, >= 0 [N/m]
    full : bool
        Whether the pipe holds water [-]

    Returns
    -------
    weight_n_m : float
        Weight along the pipe [N/m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: one wall without lining; give a lining's weight as extra.
    Checked by ``tests/reference/test_supports.py``.

    Examples
    --------
    >>> steel = Section(outside_diameter_m=0.2191, inside_diameter_m=0.2027)
    >>> weight_n_m(steel, pipe_density_kg_m3=7850.0)
    734.

    References
    ----------
    .. [1] Geometry.
    """
    need("The density of the pipe", pipe_density_kg_m3, above=0.0, unit="kg/m3")
    need("The density of the water", water_density_kg_m3, above=0.0, unit="kg/m3")
    need("The gravity", gravity_m_s2, above=0.0, unit="m/s2")
    need("The extra load", extra_n_m, least=0.0, unit="N/m")
    water = math.pi / 4.0 * section.inside_diameter_m**2 * water_density_kg_m3 if full else 0.0
    return gravity_m_s2 * (pipe_density_kg_m3 * section.area_m2 + water) + extra_n_m


def moment_n_m(load_n_m: float, span_m: float, support: Support) -> float:
    """Return the greatest bending moment of a span: w L2 over 8, 10 or 12 [N m].

    Parameters
    ----------
    load_n_m : float
        Load of the span, > 0 [N/m]
    span_m : float
        Distance between supports, > 0 [m]
    support : Support
        How the span lies

    Returns
    -------
    moment_n_m : float
        Bending moment [N m]

    Examples
    --------
    >>> moment_n_m(734.0, 6.0, "simple")
    3303.0
    """
    _check_span(load_n_m, span_m)
    _check_support(support)
    return load_n_m * span_m**2 / _MOMENT[support]


def sag_m(load_n_m: float, span_m: float, rigidity_n_m2: float, support: Support) -> float:
    r"""Return the greatest sag of a span.

    .. math::
        d = \frac{5 w L^4}{384 E I}, \quad \frac{w L^4}{145 E I}, \quad \frac{w L^4}{384 E I}

    Parameters
    ----------
    load_n_m : float
        Weight along the pipe, > 0 [N/m]
    span_m : float
        Distance between supports, > 0 [m]
    rigidity_n_m2 : float
        E I, for plastic with the long-term modulus, > 0 [N m2]
    support : {"simple", "continuous", "fixed"}
        On two supports; end bay of three equal spans; held at both ends [-]

    Returns
    -------
    sag_m : float
        Sag at its greatest [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: slender spans that stay elastic. A propped single span (185) would be 22 % too low
    for a continuous pipe.
    Checked by ``tests/reference/test_supports.py``.

    Examples
    --------
    >>> 1000.0 * sag_m(734.0, 5.79, 200e9 * 3.02e-5, "simple")
    1.778

    References
    ----------
    .. [1] Beam theory; end bay of three spans independently computed.
    """
    _check_span(load_n_m, span_m)
    need("The rigidity E I", rigidity_n_m2, above=0.0, unit="N m2")
    _check_support(support)
    return load_n_m * span_m**4 / (_SAG[support] * rigidity_n_m2)


def support_reactions_n(load_n_m: float, span_m: float, spans: int) -> tuple[float, ...]:
    """Return what the supports of equal spans carry, first to last [N].

    Parameters
    ----------
    load_n_m : float
        Load of the spans, > 0 [N/m]
    span_m : float
        Distance between supports, > 0 [m]
    spans : int
        How many equal spans, >= 1

    Returns
    -------
    reactions_n : tuple of float
        Load on each support [N]

    Notes
    -----
    Two half spans at the ends of one span; 0.375 and 1.25 for two; 0.4 and 1.1 for three; for
    more, ends 0.4, the next ones 1.15 and the rest 1.0, on the safe side.

    Examples
    --------
    >>> support_reactions_n(100.0, 10.0, 3)
    (400.0, 1100.0, 1100.0, 400.0)
    """
    _check_span(load_n_m, span_m)
    if spans < 1:
        raise InputError(f"A pipe lies over {spans} spans.", "Give one or more.")
    shares = {1: (0.5, 0.5), 2: (0.375, 1.25, 0.375), 3: (0.4, 1.1, 1.1, 0.4)}.get(
        spans, (0.4, 1.15, *(1.0 for _ in range(spans - 3)), 1.15, 0.4)
    )
    return tuple(share * load_n_m * span_m for share in shares)


def frequency_hz(mass_kg_m: float, span_m: float, rigidity_n_m2: float, support: Support) -> float:
    r"""Return the lowest natural frequency of a span [1]_.

    .. math::
        f = \frac{k \pi}{L^2} \sqrt{\frac{E I}{m}}, \qquad k = 0.5 \text{ pinned}, 1.125
        \text{ fixed}

    Parameters
    ----------
    mass_kg_m : float
        Mass of the full pipe, > 0 [kg/m]
    span_m : float
        Distance between supports, > 0 [m]
    rigidity_n_m2 : float
        E I, > 0 [N m2]
    support : {"simple", "continuous", "fixed"}
        Continuous counts as simple [-]

    Returns
    -------
    frequency_hz : float
        Frequency of the first mode [Hz]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: slender spans on stiff supports; keep above 3 Hz.
    Checked by ``tests/reference/test_supports.py``.

    Examples
    --------
    >>> frequency_hz(74.85, 5.79, 200e9 * 3.02e-5, "simple")
    13.31

    References
    ----------
    .. [1] *Unified Facilities Criteria 3-310-03A*.
    """
    need("The mass of the pipe", mass_kg_m, above=0.0, unit="kg/m")
    need("The span", span_m, above=0.0, unit="m")
    need("The rigidity E I", rigidity_n_m2, above=0.0, unit="N m2")
    _check_support(support)
    return _FREQUENCY[support] * math.pi / span_m**2 * math.sqrt(rigidity_n_m2 / mass_kg_m)
