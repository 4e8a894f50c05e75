"""What the ground beside a trench bears: published tables that disagree, side by side."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Literal

import numpy as np

from routing.anchors.trade_data import anchor_limits
from routing.errors import InputError
from routing.need import need
from routing.trade_table import trade_table
from routing.units import FOOT
from routing.value import dataclass

__all__ = ["DEFAULT_SOIL_SET", "PSF_PA", "Bearing", "SoilSet", "bearing_of_soil", "soil_names"]

SoilSet = Literal["A", "B", "C", "D"]
"""The four tables: A pipe maker's handbook, B textbook, C municipal standard, D by depth."""
DEFAULT_SOIL_SET: SoilSet = "B"
"""The table used unless another is asked for: the lowest of the three that go by soil alone."""
PSF_PA = 4.4482216152605 / FOOT**2
"""One pound of force on a square foot [Pa]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearing:
    """What the ground bears: ``bearing_pa`` after ``set``; ``others`` as the other tables say.

    ``soil`` is None where nobody named one. ``firm`` says whether a small turn may be left to the
    joints in it.
    """

    soil: str | None
    set: str
    bearing_pa: float
    firm: bool
    source: str
    status: str
    others: tuple[Bearing, ...] = ()


@cache
def _table() -> dict[str, dict[str, list[Mapping[str, str]]]]:
    table: dict[str, dict[str, list[Mapping[str, str]]]] = {}
    for row in trade_table(__file__, "soils.csv"):
        table.setdefault(row["soil"], {}).setdefault(row["set"], []).append(row)
    return table


def soil_names() -> tuple[str, ...]:
    """Return the soils that a table knows, weakest first as they stand in the file.

    >>> soil_names()[:2]
    ('peat', 'soft clay')
    """
    return tuple(_table())


def _one(soil: str, name: str, lines: list[Mapping[str, str]], depth_m: float) -> Bearing:
    if name == "D":
        depths = [0.0, *(float(line["cover_ft"]) * FOOT for line in lines)]
        loads = [0.0, *(float(line["bearing_psf"]) for line in lines)]
        bearing_psf = float(np.interp(depth_m, depths, loads))
    else:
        bearing_psf = float(lines[0]["bearing_psf"])
    return Bearing(
        soil=soil,
        set=name,
        bearing_pa=bearing_psf * PSF_PA,
        firm=lines[0]["firm"] == "yes",
        source=lines[0]["source"],
        status=lines[0]["status"],
    )


def bearing_of_soil(
    soil: str | None, depth_m: float, soil_set: SoilSet = DEFAULT_SOIL_SET
) -> Bearing:
    r"""Return the pressure that undisturbed ground bears beside a block [1]_ [2]_ [3]_ [4]_.

    The table asked for decides where it knows the soil; else the lowest of the others.

    Parameters
    ----------
    soil : str or None
        One of :func:`soil_names`; None where nobody knows, which is taken for 500 psf [-]
    depth_m : float
        Ground to the centre of the block, >= 0; table D goes by it [m]
    soil_set : {"A", "B", "C", "D"}
        The table to use [-]

    Returns
    -------
    bearing : Bearing
        Pressure with its source, and what each other table would give [Pa]

    Raises
    ------
    InputError
        If no table knows the soil or the depth is below zero.

    Notes
    -----
    Valid for: undisturbed ground, cover of 0.6 m and more. Published values for sand differ
    fourfold. Table D is linear between its depths of 2 to 5 ft, falls to nothing at the surface
    and stays as it is below.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> sand = bearing_of_soil("sand", 0.9144)
    >>> sand.bearing_pa, [(each.set, each.bearing_pa) for each in sand.others]
    (47880., [('A', 95760.), ('C', 191521.), ('D', 57456.)])

    References
    ----------
    .. [1] A: a pipe maker's handbook of thrust blocks.
    .. [2] B: *Buried Pipe Design*, p. 271.
    .. [3] C: a municipal standard of thrust blocks.
    .. [4] D: *NRCS Conservation Practice Standard 430*, from memory of it.
    """
    need("The depth of the block", depth_m, least=0.0, unit="m")
    if soil is None:
        return Bearing(
            soil=None, set="unknown", bearing_pa=anchor_limits().unknown_soil_psf * PSF_PA,
            firm=False, source="", status="common practice, no source",
        )  # fmt: skip
    sets = _table().get(soil.strip().lower())
    if sets is None:
        raise InputError(
            f"No table knows the soil {soil!r}.", f"Soils are: {'; '.join(soil_names())}."
        )
    each = {name: _one(soil.strip().lower(), name, sets[name], depth_m) for name in sorted(sets)}
    chosen = each.get(soil_set) or min(each.values(), key=lambda one: one.bearing_pa)
    return Bearing(
        soil=chosen.soil, set=chosen.set, bearing_pa=chosen.bearing_pa, firm=chosen.firm,
        source=chosen.source, status=chosen.status,
        others=tuple(one for name, one in each.items() if name != chosen.set),
    )  # fmt: skip
