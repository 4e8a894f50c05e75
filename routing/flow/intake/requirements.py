"""What an intake is asked for: the rows of ``data/requirements.csv``."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from routing.check import Check, requirements_of

__all__ = ["asked", "judge"]

asked = requirements_of(Path(__file__).parent)


def judge(
    key: str, demand: float, message: str, limit: float | None = None, rule: str | None = None
) -> Check:
    """Hold a demand of the intake against its row, both in the row's unit."""
    held = partial(asked(key).judge, demand, message, limit=limit, rule=rule)
    return held(place="intake", station_m=0.0)
