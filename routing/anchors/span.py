"""One bay of a pipe above ground: what lies on it, and everything asked of it."""

from __future__ import annotations

import math

from routing.anchors.beam import Section, Support, frequency_hz, moment_n_m, sag_m, weight_n_m
from routing.anchors.requirements import asked
from routing.anchors.saddle import column_buckling_n, saddle_stress_pa
from routing.anchors.thermal import restrained_force_n
from routing.anchors.trade_data import anchor_limits, span_stress
from routing.check import Check
from routing.need import need
from routing.pipe import Pipe, material_family
from routing.value import dataclass

__all__ = [
    "PipeBody",
    "SpanConditions",
    "body_of",
    "held_force_n",
    "span_loads_n_m",
    "span_requirements",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeBody:
    """A pipe as a structure; moduli in Pa, of which the long-term one holds for standing loads.

    ``yield_pa`` is for metals (None takes that of the weakest usual), ``stick_m`` the length of a
    stick where the joints do not carry bending, None where they do.
    """

    material: str
    section: Section
    density_kg_m3: float
    elastic_long_pa: float
    elastic_short_pa: float
    expansion_per_c: float
    yield_pa: float | None = None
    stick_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanConditions:
    """What lies on a span and how it is held.

    ``spacing_m`` is the distance between supports, None where the span is clear from end to end;
    ``support`` is None where it follows from their number. Temperatures are those of the pipe's
    wall; an empty pipe in the sun is far warmer than its water.
    """

    spacing_m: float | None = None
    support: Support | None = None
    extra_n_m: float = 0.0
    wind_pa: float | None = None
    saddle_deg: float = 120.0
    coldest_c: float = -10.0
    hottest_c: float = 45.0
    fitting_c: float = 15.0
    water_c: float = 20.0
    water_density_kg_m3: float = 1000.0
    gravity_m_s2: float = 9.80665


def body_of(pipe: Pipe) -> PipeBody | None:
    """Return a pipe as a structure; None where its stiffness is not known."""
    density, long_term, short_term, expansion = (
        pipe.density_kg_m3,
        pipe.elastic_long_pa,
        pipe.elastic_short_pa,
        pipe.expansion_per_c,
    )
    if density is None or long_term is None or short_term is None or expansion is None:
        return None
    return PipeBody(
        material=pipe.material,
        section=Section(
            outside_diameter_m=pipe.outside_diameter_m, inside_diameter_m=pipe.inside_diameter_m
        ),
        density_kg_m3=density,
        elastic_long_pa=long_term,
        elastic_short_pa=short_term,
        expansion_per_c=expansion,
        stick_m=None if pipe.jointing.joint.continuous else pipe.jointing.stick_m,
    )


def span_requirements(
    body: PipeBody,
    conditions: SpanConditions,
    *,
    bay_m: float,
    support: Support,
    pressure_pa: float,
    grade: float,
    held: bool = True,
) -> tuple[Check, ...]:
    r"""Return everything asked of one bay of a span, with demand and limit.

    .. math::
        \sigma_l = \frac{M}{Z} + \frac{P d}{4 e}, \qquad \sigma_h = \frac{P D}{2 e}, \qquad
        \sigma_v^2 = \sigma_l^2 - \sigma_l \sigma_h + \sigma_h^2

    Parameters
    ----------
    body : PipeBody
        The pipe as a structure
    conditions : SpanConditions
        Loads and temperatures
    bay_m : float
        Distance between supports along the pipe, > 0 [m]
    support : {"simple", "continuous", "fixed"}
        How the bay lies [-]
    pressure_pa : float
        Greatest pressure in it, >= 0 [Pa]
    grade : float
        Fall of the pipe over its plan length, either way; a sag must still drain along it [-]
    held : bool
        Whether no expansion joint lets the pipe grow [-]

    Returns
    -------
    requirements : tuple of Check
        Stress (absent where no table knows the material), sag, drainage, frequency, saddle (metals)
        and buckling between held ends; stresses [Pa], lengths [m], frequency [Hz], force [N]

    Raises
    ------
    InputError
        If a value is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: round pipe whose joints carry bending. Wind acts with the weight; both sides of the
    bending are tried. Plastic is judged with its long-term stiffness.
    Checked by ``tests/reference/test_supports.py``.

    Examples
    --------
    >>> steel = PipeBody(material="steel", density_kg_m3=7850.0, elastic_long_pa=200e9,
    ...     section=Section(outside_diameter_m=0.2191, inside_diameter_m=0.2027),
    ...     elastic_short_pa=200e9, expansion_per_c=1.17e-5)
    >>> checks = span_requirements(steel, SpanConditions(), bay_m=6.0, support="simple",
    ...                            pressure_pa=1.0e6, grade=0.1)
    >>> [(each.subject, each.passed) for each in checks][:2]
    [('span: stress', True), ('span: sag', True)]

    References
    ----------
    .. [1] Beam and thin-tube theory; allowable stresses and sag common practice, no source.
    """
    need("The distance between supports", bay_m, above=0.0, unit="m")
    need("The pressure", pressure_pa, least=0.0, unit="Pa")
    need("The grade of the span", abs(grade), least=0.0)
    numbers, section = anchor_limits(), body.section
    weight, load = span_loads_n_m(body, conditions)
    rigid_long = body.elastic_long_pa * section.inertia_m4
    rigid_short = body.elastic_short_pa * section.inertia_m4
    checks = _stress(body, moment_n_m(load, bay_m, support), pressure_pa)
    sag = sag_m(weight, bay_m, rigid_long, support)
    swing = frequency_hz(weight / conditions.gravity_m_s2, bay_m, rigid_short, support)
    checks += [
        asked("span_sag").judge(sag, "", limit=bay_m / numbers.sag_share),
        asked("span_drainage").judge(4.0 * sag / bay_m, "", limit=abs(grade)),
        asked("span_frequency").judge(swing, ""),
    ]
    if held:
        push = held_force_n(body, conditions.hottest_c - conditions.fitting_c)
        checks.append(
            asked("span_buckling").judge(push, "", limit=column_buckling_n(rigid_short, bay_m))
        )
    allowed = _allowable_pa(body)
    if allowed is not None and material_family(body.material) in ("STEEL", "DI"):
        # An inner support carries up to 1.25 bays.
        saddle = saddle_stress_pa(
            1.25 * load * bay_m, section.outside_diameter_m, section.wall_m, conditions.saddle_deg
        )
        ring = section.outside_diameter_m / section.wall_m
        checks.append(asked("span_saddle").judge(saddle, "", limit=allowed))
        checks.append(asked("span_ring").judge(ring, ""))
    if body.stick_m is not None:
        checks.append(asked("span_bells").judge(bay_m, "", limit=body.stick_m))
    return tuple(checks)


def span_loads_n_m(body: PipeBody, conditions: SpanConditions) -> tuple[float, float]:
    """Return the weight of the full pipe and that weight with the wind, as vectors add."""
    weight = weight_n_m(
        body.section, pipe_density_kg_m3=body.density_kg_m3,
        water_density_kg_m3=conditions.water_density_kg_m3,
        gravity_m_s2=conditions.gravity_m_s2, extra_n_m=conditions.extra_n_m,
    )  # fmt: skip
    wind = anchor_limits().wind_pa if conditions.wind_pa is None else conditions.wind_pa
    need("The wind", wind, least=0.0, unit="Pa")
    return weight, math.hypot(weight, wind * body.section.outside_diameter_m)


def _allowable_pa(body: PipeBody) -> float | None:
    known = span_stress().get(material_family(body.material))
    if known is None:
        return None
    if known.allowable_pa is not None:
        return known.allowable_pa
    yield_pa = body.yield_pa or known.yield_pa or anchor_limits().steel_yield_pa
    return (known.share_of_yield or 0.0) * yield_pa


def _stress(body: PipeBody, moment: float, pressure_pa: float) -> list[Check]:
    allowed = _allowable_pa(body)
    if allowed is None:
        return []
    section, basis = body.section, span_stress()[material_family(body.material)].basis
    bending = moment / section.modulus_m3
    along = pressure_pa * section.inside_diameter_m / (4.0 * section.wall_m)
    around = pressure_pa * section.outside_diameter_m / (2.0 * section.wall_m)
    if basis == "bending":
        demand = bending
    elif basis == "longitudinal":
        demand = bending + along
    else:
        sides = (along + bending, along - bending)
        demand = max(math.sqrt(s * s - s * around + around * around) for s in sides)
    return [asked("span_stress").judge(demand, "", limit=allowed)]


def held_force_n(body: PipeBody, change_c: float) -> float:
    """Return the force of a pipe that is held while its wall changes temperature [N].

    Parameters
    ----------
    body : PipeBody
        The pipe
    change_c : float
        Change of temperature, cooling negative [degC]

    Returns
    -------
    force_n : float
        Force along the pipe, as :func:`restrained_force_n` [N]
    """
    return restrained_force_n(
        body.elastic_short_pa, body.section.area_m2, body.expansion_per_c, change_c
    )
