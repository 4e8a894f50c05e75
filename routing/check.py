"""One requirement of a line, judged: what is asked, what is there, and what is in hand.

A room keeps its requirements as rows of ``data/requirements.csv``: subject, limit, unit, rule,
severity and source stand there and nowhere else. :meth:`Requirement.judge` holds a demand against
a row; what fails says itself as a :class:`~routing.finding.Finding` of the row's severity, so that
the list of checks and the list of findings cannot disagree.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from routing.finding import Finding, Severity
from routing.value import dataclass

__all__ = ["Check", "Requirement", "failed_findings", "requirements_of"]

SAME = 1e-9
"""A demand this near to its limit is at it: 3 ft as metres is not 0.9144 to the last bit [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A requirement with its demand and limit in one unit, where it is tightest, and its rule.

    ``at_most`` is False where the demand must not fall below the limit. ``place`` names what is
    judged (a pipe, a span, a vent); ``station_m`` is None for the line as a whole. ``severity`` is
    what it means to fail, ``code`` and ``message`` what the finding of a failed check says;
    ``status`` is how sure the limit is.
    """

    subject: str
    place: str
    demand: float
    limit: float
    unit: str
    station_m: float | None
    rule: str
    source: str
    code: str
    severity: Severity
    message: str = ""
    at_most: bool = True
    status: str = ""

    @property
    def margin(self) -> float:
        """Return what is in hand as a share of the limit; negative where the check fails.

        >>> Check(subject="x", place="y", demand=60.0, limit=80.0, unit="kPa", station_m=None,
        ...       rule="r", source="s", code="over_rating", severity="fault").margin
        0.25
        """
        spare = self.limit - self.demand if self.at_most else self.demand - self.limit
        if abs(spare) <= SAME * abs(self.limit):
            return 0.0
        if self.limit == 0.0:
            return math.copysign(math.inf, spare)
        return spare / abs(self.limit)

    @property
    def passed(self) -> bool:
        """Return whether the requirement is kept."""
        return self.margin >= 0.0

    @property
    def finding(self) -> Finding:
        """Return what a failed check says."""
        return Finding(
            code=self.code,
            severity=self.severity,
            message=self.message,
            station_m=self.station_m,
            margin=self.margin,
        )


def failed_findings(checks: Iterable[Check]) -> tuple[Finding, ...]:
    """Return the findings of the checks that failed, in their order, one of each wording."""
    return tuple(dict.fromkeys(check.finding for check in checks if not check.passed))


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """One row of a room's requirements; ``limit`` is None where it follows from the line itself.

    ``code`` is that of the finding where it fails, ``severity`` how bad that is; ``source`` names
    the standard or handbook and ``status`` how sure the value is.
    """

    key: str
    code: str
    severity: Severity
    subject: str
    limit: float | None
    unit: str
    at_most: bool
    rule: str
    source: str
    status: str

    def judge(
        self,
        demand: float,
        message: str,
        *,
        limit: float | None = None,
        place: str = "line",
        station_m: float | None = None,
        rule: str | None = None,
        source: str | None = None,
    ) -> Check:
        """Hold a demand against this row; both in the row's unit.

        ``message`` is what the finding says if it fails: the place, the figures and the remedy.
        ``limit``, ``rule`` and ``source`` replace the row's own where they follow from the line.
        """
        asked = self.limit if limit is None else limit
        if asked is None:
            raise TypeError(f"the requirement {self.key!r} has no limit of its own; give one")
        return Check(
            subject=self.subject,
            place=place,
            demand=float(demand),
            limit=float(asked),
            unit=self.unit,
            station_m=station_m,
            rule=rule or self.rule,
            source=source or self.source,
            code=self.code,
            severity=self.severity,
            message=message,
            at_most=self.at_most,
            status=self.status,
        )

    @property
    def bound(self) -> float:
        """Return the row's own limit."""
        if self.limit is None:
            raise TypeError(f"the requirement {self.key!r} has no limit of its own")
        return self.limit


def requirements_of(room: Path) -> Callable[[str], Requirement]:
    """Return what finds a row of ``room/data/requirements.csv`` by its key; read when first asked.

    Columns: key, code, severity, subject, limit (empty where it follows from the line), unit,
    sense ("at most" or "at least"), rule, source, status.
    """

    @cache
    def rows() -> Mapping[str, Requirement]:
        with (room / "data" / "requirements.csv").open(newline="", encoding="utf-8") as file:
            listed = [_requirement(row) for row in csv.DictReader(file)]
        found = {each.key: each for each in listed}
        if len(found) != len(listed):
            raise ValueError(f"{room.name} has two requirements of one key")
        return MappingProxyType(found)

    return lambda key: rows()[key]


def _requirement(row: Mapping[str, str]) -> Requirement:
    severity = row["severity"]
    if severity not in ("fault", "warning", "note") or row["sense"] not in ("at most", "at least"):
        raise ValueError(f"the requirement {row['key']!r} has no known severity and sense")
    return Requirement(
        key=row["key"],
        code=row["code"],
        severity=severity,  # type: ignore[arg-type]
        subject=row["subject"],
        limit=float(row["limit"]) if row["limit"] else None,
        unit=row["unit"],
        at_most=row["sense"] == "at most",
        rule=row["rule"],
        source=row["source"],
        status=row["status"],
    )
