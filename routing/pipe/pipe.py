"""One pipe: its sizes, what it holds and how rough it is; from the catalogue or by hand."""

from __future__ import annotations

import math
from dataclasses import replace

from routing.errors import PipeError
from routing.pipe.design_stress import design_stress_pa
from routing.pipe.elasticity import find_elasticity
from routing.pipe.joint import Jointing, find_joint, usual_jointing
from routing.pipe.material import find_material, load_materials
from routing.value import dataclass

__all__ = ["Pipe", "pipe_by_hand", "with_jointing", "with_roughness"]

GREATEST_BORE_M = 5.0
"""A bore above this is taken for a number in the wrong unit [m]."""

GREATEST_RELATIVE_ROUGHNESS = 0.05
"""Roughness over bore up to which the friction formulas were fitted [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    """One kind of pipe; ``id`` is None where it was given by hand.

    ``wall_m`` and ``inside_diameter_m`` are means and not the least wall and the bore it leaves.
    ``roughness_m`` is that of the aged pipe, which a design uses; ``hazen_williams_c`` that of the
    new pipe. Every group of values carries where it comes from and how sure that is. The moduli
    are those of the wall in a wave, over minutes and over years; ``wall_least_m`` is what the
    standard allows at the thinnest place; ``design_stress_pa``, what the material bears for years,
    judges a rating by hand. None where not known. ``joint``, what one may turn and the length of a
    stick are as given; :attr:`jointing` takes what is usual where they are None.
    """

    id: str | None
    label: str
    material: str
    standard: str | None
    series: str | None
    nominal: str | None
    outside_diameter_m: float
    wall_m: float
    inside_diameter_m: float
    rating_pa: float | None
    rating_reference_c: float | None
    rating_basis: str | None
    roughness_m: float
    roughness_new_m: float
    roughness_source: str
    hazen_williams_c: float | None
    mass_kg_m: float | None
    dimension_status: str
    dimension_source: str
    rating_status: str
    rating_source: str
    note: str
    elastic_dynamic_pa: float | None = None
    elastic_short_pa: float | None = None
    elastic_long_pa: float | None = None
    poisson: float | None = None
    expansion_per_c: float | None = None
    density_kg_m3: float | None = None
    wall_least_m: float | None = None
    design_stress_pa: float | None = None
    joint: str | None = None
    joint_allowance_deg: float | None = None
    stick_m: float | None = None

    def __post_init__(self) -> None:
        name = self.id or "the pipe given by hand"
        _check_size(self.inside_diameter_m, "inside diameter", name)
        _check_size(self.wall_m, "wall", name)
        if self.wall_m > self.inside_diameter_m:
            raise PipeError(
                f"The wall of {name} ({self.wall_m * 1000:.4g} mm) is thicker than its inside "
                f"diameter ({self.inside_diameter_m * 1000:.4g} mm).",
                "Check that the two were not exchanged, and their units.",
            )
        if self.rating_pa is not None and not (
            math.isfinite(self.rating_pa) and self.rating_pa > 0.0
        ):
            raise PipeError(
                f"The pressure rating of {name} is {self.rating_pa / 1000:.4g} kPa.",
                "Give a rating above zero, or leave it out where it is not known.",
            )
        for roughness_m in (self.roughness_m, self.roughness_new_m):
            _check_roughness(roughness_m, self.inside_diameter_m, name)

    @property
    def jointing(self) -> Jointing:
        """Return how the pipe is joined: as given, else as is usual for its material."""
        usual = usual_jointing(self.material, self.inside_diameter_m)
        name, given = self.joint, self.joint_allowance_deg
        joint = usual.joint if name is None else find_joint(name, self.inside_diameter_m)
        named = {"joint": name, "joint_allowance": given, "stick": self.stick_m}
        return Jointing(
            joint=joint,
            # A joint that carries thrust is rigid, whatever is said of the others.
            allowance_deg=joint.allowance_deg if given is None or joint.carries_thrust else given,
            stick_m=usual.stick_m if self.stick_m is None else self.stick_m,
            assumed=tuple(key for key, value in named.items() if value is None),
        )


def _check_size(size_m: float, what: str, name: str) -> None:
    if not (math.isfinite(size_m) and 0.0 < size_m <= GREATEST_BORE_M):
        raise PipeError(
            f"The {what} of {name} is {size_m:.6g} m.",
            f"Give a length above zero and not above {GREATEST_BORE_M:g} m, with its unit, for "
            'example "154.5 mm".',
        )


def _check_roughness(roughness_m: float, inside_diameter_m: float, name: str) -> None:
    greatest_m = GREATEST_RELATIVE_ROUGHNESS * inside_diameter_m
    if not (math.isfinite(roughness_m) and 0.0 <= roughness_m <= greatest_m):
        raise PipeError(
            f"The roughness of {name} is {roughness_m * 1000:.4g} mm, but the friction formula "
            f"holds from zero to a twentieth of the bore ({greatest_m * 1000:.4g} mm).",
            'Give the roughness of the wall with its unit, for example "0.05 mm".',
        )


def with_roughness(pipe: Pipe, roughness_m: float) -> Pipe:
    """Return the pipe with the user's own design roughness; new pipe is never rougher than that.

    >>> pipe = pipe_by_hand(material="PVC", inside_diameter_m=0.19, wall_m=0.005)
    >>> with_roughness(pipe, 0.00001).roughness_source
    'as given'
    """
    return replace(
        pipe,
        roughness_m=roughness_m,
        roughness_new_m=min(pipe.roughness_new_m, roughness_m),
        roughness_source="as given",
    )


def with_jointing(
    pipe: Pipe,
    *,
    joint: str | None = None,
    allowance_deg: float | None = None,
    stick_m: float | None = None,
) -> Pipe:
    """Return the pipe with the joint, its allowance [deg] and the stick [m] of the user.

    >>> pipe = pipe_by_hand(material="PVC", inside_diameter_m=0.19, wall_m=0.005)
    >>> with_jointing(pipe, joint="solvent").jointing.assumed
    ('joint_allowance', 'stick')
    """
    joined = replace(pipe, joint=joint, joint_allowance_deg=allowance_deg, stick_m=stick_m)
    if joint is not None:
        find_joint(joint, pipe.inside_diameter_m)  # an unknown joint is refused, naming the known
    return joined


def pipe_by_hand(
    *,
    material: str,
    inside_diameter_m: float,
    wall_m: float,
    rating_pa: float | None = None,
    rating_reference_c: float | None = None,
    roughness_m: float | None = None,
) -> Pipe:
    """Return a pipe that is not in the catalogue, from its bore and wall.

    Parameters
    ----------
    material : str
        The material in the user's own word; one of the roughness table, or any other together
        with ``roughness_m`` [-]
    inside_diameter_m : float
        Mean bore, > 0 and <= 5; not the nominal size [m]
    wall_m : float
        Mean wall, > 0 and <= the bore [m]
    rating_pa : float, optional
        Greatest working pressure at the reference temperature, > 0; None where unknown [Pa]
    rating_reference_c : float, optional
        Temperature that the rating holds for; None takes the one usual for the material [degC]
    roughness_m : float, optional
        Roughness of the wall for design, 0 to bore/20; None takes the material's, aged [m]

    Returns
    -------
    pipe : Pipe
        The pipe, its outside diameter being bore + 2 walls

    Raises
    ------
    PipeError
        If a size cannot be, or the material is unknown and no roughness was given.

    Notes
    -----
    Valid for: round pipe with a wall of one material; a lining belongs to neither bore nor wall.

    Examples
    --------
    >>> pipe_by_hand(material="PVC", inside_diameter_m=0.1545, wall_m=0.0069).outside_diameter_m
    0.1683
    """
    known = find_material(material)
    if roughness_m is not None:
        design_m, origin = roughness_m, "as given"
        new_m = roughness_m if known is None else min(known.roughness_new_m, roughness_m)
    elif known is not None:
        design_m, new_m = known.roughness_design_m, known.roughness_new_m
        origin = known.roughness_origin
    else:
        raise PipeError(
            f"Nothing is known of the roughness of the material {material!r}.",
            "Give the pipe's roughness, or one of the materials "
            f"{', '.join(each.name for each in load_materials())}.",
        )
    name = material.strip() if known is None else known.name
    elastic = find_elasticity(name)
    return Pipe(
        id=None,
        label=f"{name}, bore {inside_diameter_m * 1000:.4g} mm, wall {wall_m * 1000:.3g} mm",
        material=name,
        standard=None,
        series=None,
        nominal=None,
        outside_diameter_m=inside_diameter_m + 2.0 * wall_m,
        wall_m=wall_m,
        inside_diameter_m=inside_diameter_m,
        rating_pa=rating_pa,
        rating_reference_c=rating_reference_c,
        rating_basis=None,
        roughness_m=design_m,
        roughness_new_m=new_m,
        roughness_source=origin,
        hazen_williams_c=None if known is None else known.hazen_williams_c_new,
        mass_kg_m=None,
        dimension_status="AS GIVEN",
        dimension_source="settings",
        rating_status="AS GIVEN" if rating_pa is not None else "UNKNOWN",
        rating_source="settings",
        note="",
        elastic_dynamic_pa=None if elastic is None else elastic.elastic_dynamic_pa,
        elastic_short_pa=None if elastic is None else elastic.elastic_short_pa,
        elastic_long_pa=None if elastic is None else elastic.elastic_long_pa,
        poisson=None if elastic is None else elastic.poisson,
        expansion_per_c=None if elastic is None else elastic.expansion_per_c,
        density_kg_m3=None if elastic is None else elastic.density_kg_m3,
        design_stress_pa=design_stress_pa(material),
    )
