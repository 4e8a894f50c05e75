"""What all findings and checks of a line come to, and what somebody answers for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from typing import Protocol

from routing.check import Check
from routing.errors import SettingsError
from routing.finding import FINDING_CODES, Finding, Severity
from routing.value import dataclass

__all__ = ["OUT_OF_REACH", "Verdict", "Waiver", "verdict_of"]

OUT_OF_REACH: dict[str, str] = {
    "uphill": "outlet too high",
    "no_fall": "no fall",
    "above_intake": "above intake",
    "flow_exceeds": "flow too high",
    "siphon": "siphon",
    "over_rating": "over its rating",
}
"""Faults that leave no head or power to speak of, each in a few words: water that does not run,
and a pipe that bursts at rest (the class that holds has another bore, and other figures). Causes
stand before what follows from them."""
BY_OTHERS = frozenset({"over_rating"})
"""Those that somebody can answer for: no signature makes water run uphill."""


class _Waive(Protocol):
    @property
    def code(self) -> str: ...
    @property
    def reason(self) -> str: ...
    @property
    def name(self) -> str: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver:
    """A fault or failed check that somebody answers for; ``covers`` counts what it stands for."""

    code: str
    reason: str
    name: str
    covers: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One count for terminal, page and papers.

    ``faults``, ``warnings`` and ``notes`` count causes; ``failed_checks`` are the checks whose
    failing is a fault, ``unsettled_checks`` those whose failing is a warning. Waived ones are
    counted too, since a waiver mends nothing. ``open`` are the codes of faults, failed and
    unsettled checks that nobody answers for. ``out_of_reach_code`` is that of the fault by which
    net head and power cannot be had.
    """

    faults: int
    warnings: int
    notes: int
    failed_checks: int
    unsettled_checks: int
    open: tuple[str, ...]
    waivers: tuple[Waiver, ...]
    out_of_reach_code: str | None = None

    @property
    def preliminary(self) -> bool:
        """Return whether papers must say that nothing may be built from them yet."""
        return bool(self.open)

    @property
    def out_of_reach(self) -> str | None:
        """Return in a few words why net head and power cannot be had."""
        return None if self.out_of_reach_code is None else OUT_OF_REACH[self.out_of_reach_code]


def verdict_of(
    findings: Sequence[Finding], checks: Iterable[Check], waived: Iterable[_Waive] = ()
) -> Verdict:
    """Return what findings and checks come to.

    Parameters
    ----------
    findings : sequence of Finding
        All causes of the study
    checks : iterable of Check
        All its checks
    waived : iterable
        The settings' [[waive]]: code, reason and name of who answers

    Returns
    -------
    Verdict
        Counts, the codes that are open, and the waivers with what they cover

    Raises
    ------
    SettingsError
        If a waiver names a code that no finding can have.

    Examples
    --------
    >>> steep = Finding(code="uphill", severity="fault", message="The outlet lies above.")
    >>> verdict_of([steep], []).open
    ('uphill',)
    """
    failed = [check for check in checks if not check.passed and check.severity != "note"]
    blocking = [each.code for each in findings if each.severity == "fault"]
    blocking += [check.code for check in failed]
    present = [*blocking, *(each.code for each in findings if each.severity != "fault")]
    waivers = tuple(
        Waiver(code=_known(each.code), reason=each.reason, name=each.name, covers=count)
        for each in waived
        for count in (present.count(each.code),)
    )
    answered = {waiver.code for waiver in waivers}

    def count(severity: Severity) -> int:
        return sum(each.severity == severity for each in findings)

    return Verdict(
        faults=count("fault"),
        warnings=count("warning"),
        notes=count("note"),
        failed_checks=sum(check.severity == "fault" for check in failed),
        unsettled_checks=sum(check.severity == "warning" for check in failed),
        open=tuple(code for code in dict.fromkeys(blocking) if code not in answered),
        waivers=waivers,
        out_of_reach_code=_out_of_reach(findings, answered),
    )


def _out_of_reach(findings: Sequence[Finding], answered: set[str]) -> str | None:
    faults = {each.code for each in findings if each.severity == "fault"}
    faults -= BY_OTHERS & answered
    return next((code for code in OUT_OF_REACH if code in faults), None)


def _known(code: str) -> str:
    if code in FINDING_CODES:
        return code
    (near,) = get_close_matches(code, FINDING_CODES, n=1, cutoff=0.0)
    raise SettingsError(
        f'waive: no finding has the code "{code}".',
        f"Give the code that the finding carries; the nearest known one is {near}.",
    )
