"""What this room asks of a line: the rows of ``data/requirements.csv``."""

from __future__ import annotations

from pathlib import Path

from routing.check import requirements_of
from routing.flow.requirements import asked as asked_of_flow

__all__ = ["asked", "seal_head_m"]

asked = requirements_of(Path(__file__).parent)


def seal_head_m() -> float:
    """Return the head that shuts a float valve: the row of the flow over a summit [m]."""
    return asked_of_flow("summit_seals").bound
