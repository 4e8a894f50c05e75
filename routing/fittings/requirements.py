"""What this room asks of a line: the rows of ``data/requirements.csv``."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from routing.check import Check, requirements_of
from routing.flow.requirements import asked as asked_of_flow

__all__ = ["asked", "seal_head_m", "tightest"]

asked = requirements_of(Path(__file__).parent)


def seal_head_m() -> float:
    """Return the head that shuts a float valve: the row of the flow over a summit [m]."""
    return asked_of_flow("summit_seals").bound


def tightest(checks: Iterable[Check]) -> tuple[Check, ...]:
    """Return the checks that fail, and of the others the one with least in hand of each subject.

    A line has dozens of vents and drains; a list of all that hold says no more than the tightest.
    """
    least: dict[str, Check] = {}
    failed = []
    for check in checks:
        if not check.passed:
            failed.append(check)
        elif check.subject not in least or check.margin < least[check.subject].margin:
            least[check.subject] = check
    broken = {check.subject for check in failed}
    return (*failed, *(check for check in least.values() if check.subject not in broken))
