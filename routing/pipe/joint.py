"""Joints between pipes: how far they turn, whether they hold, and what is usual for a material."""

from __future__ import annotations

import math
from functools import cache
from typing import Literal

from routing.errors import InputError
from routing.pipe.material import material_family
from routing.trade_table import rows_of, trade_table
from routing.value import dataclass

__all__ = ["Joint", "Jointing", "find_joint", "joint_names", "usual_jointing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """One way of joining pipes.

    ``allowance_deg`` is what a design counts on, ``allowance_usual_deg`` what makers usually give;
    ``carries_thrust`` where the joint holds its pipes together, ``continuous`` where a pipe may
    span and bend across it. ``bends`` says how a turn is made: of the angles that fittings are
    made in, or "mitred" at any angle.
    """

    name: str
    what: str
    allowance_deg: float
    allowance_usual_deg: float
    carries_thrust: bool
    continuous: bool
    bends: Literal["fittings", "mitred"]
    source: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Jointing:
    """How a pipe is joined: its joint, what one joint may turn [deg], the length of a stick [m].

    ``assumed`` names what was not given but is usual for the material.
    """

    joint: Joint
    allowance_deg: float
    stick_m: float
    assumed: tuple[str, ...]


@cache
def _joints() -> tuple[tuple[float, Joint], ...]:
    joints = rows_of(
        Joint,
        __file__,
        "joints.csv",
        name=lambda row: row["joint"],
        bends=lambda row: "mitred" if row["bends"] == "mitred" else "fittings",
    )
    largest = [row["largest_bore_m"] for row in trade_table(__file__, "joints.csv")]
    return tuple(zip((float(m) if m else math.inf for m in largest), joints, strict=True))


def joint_names() -> tuple[str, ...]:
    """Return the joints that the table knows, in its order."""
    return tuple(dict.fromkeys(joint.name for _, joint in _joints()))


def find_joint(name: str, inside_diameter_m: float) -> Joint:
    """Return a joint by name, for a pipe of this bore.

    >>> find_joint("gasket di", 0.4).allowance_deg
    3.0
    """
    word = name.strip().lower()
    for largest_m, joint in _joints():
        if joint.name == word and inside_diameter_m <= largest_m:
            return joint
    raise InputError(f"No joint is called {name!r}.", f"Joints are: {', '.join(joint_names())}.")


@cache
def usual_jointing(material: str, inside_diameter_m: float) -> Jointing:
    """Return the joint and the stick that are usual for a material.

    A material that the table does not know gets sockets on which nothing is counted.

    >>> found = usual_jointing("ductile iron", 0.2)
    >>> found.joint.name, found.allowance_deg, found.stick_m
    ('gasket di', 5.0, 5.5)
    """
    family, usual = (
        material_family(material),
        {row["family"]: row for row in trade_table(__file__, "usual_joints.csv")},
    )
    row = usual.get(family, usual[""])
    joint = find_joint(row["joint"], inside_diameter_m)
    return Jointing(
        joint=joint,
        allowance_deg=joint.allowance_deg,
        stick_m=float(row["stick_m"]),
        assumed=("joint", "joint_allowance", "stick"),
    )
