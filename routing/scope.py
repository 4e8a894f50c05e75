"""What a study looked into, and what it leaves to others, as lists of subjects."""

from __future__ import annotations

from routing.study import Study
from routing.value import dataclass

__all__ = ["Scope", "scope_of"]

NEVER = (
    "water right",
    "dam and weir safety",
    "works in the stream",
    "fish passage",
    "power licence",
    "access to land",
)
"""Subjects that no study looks into."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """Subjects of the water that were held against something, and those that were not."""

    checked: tuple[str, ...]
    not_checked: tuple[str, ...]


def scope_of(study: Study) -> Scope:
    """Return what of the water a study checked: what enough was stated for, and what never is."""
    side, stream = study.pressures, study.stream
    looked = {
        "flow": study.flow is not None,
        "surge": side is not None and bool(side.surges),
        "residual flow": stream.residual_checked,
        "sediment": stream.sediment_checked,
        "energy of a year": stream.energy is not None and stream.energy.year is not None,
    }
    return Scope(
        checked=tuple(subject for subject, done in looked.items() if done),
        not_checked=(*(subject for subject, done in looked.items() if not done), *NEVER),
    )
