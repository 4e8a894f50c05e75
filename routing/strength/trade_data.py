"""The numbers of the trade for strength, from ``data/``."""

from __future__ import annotations

from functools import lru_cache

from routing.trade_table import named_numbers, optional_number, trade_table
from routing.value import dataclass

__all__ = ["HydrotestRule", "SurgeRule", "hydrotest_rules", "limit", "surge_rules"]

PASCAL_PER_PSI = 6894.757293168


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeRule:
    """How much above its class a kind of pipe may be loaded in a surge, and who says so.

    ``occasional_factor`` is for a rare emergency, ``recurring_factor`` for everyday surges;
    ``addition_pa`` is added after the factor.
    """

    name: str
    material: str
    standard: str
    occasional_factor: float
    recurring_factor: float
    addition_pa: float
    source: str
    status: str

    def factor(self, *, recurring: bool) -> float:
        """Return the factor for everyday surges or for a rare one [-]."""
        return self.recurring_factor if recurring else self.occasional_factor


@lru_cache(maxsize=1)
def surge_rules() -> tuple[SurgeRule, ...]:
    """Return every rule of the data file; the last one is for all other pipe."""
    return tuple(
        SurgeRule(
            name=row["name"],
            material=row["material"],
            standard=row["standard"],
            occasional_factor=float(row["occasional_factor"]),
            recurring_factor=float(row["recurring_factor"]),
            addition_pa=float(row["addition_psi"]) * PASCAL_PER_PSI,
            source=row["source"],
            status=row["status"],
        )
        for row in trade_table(__file__, "surge_rules.csv")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HydrotestRule:
    """How hard a line is tested, and how far above its rating fused polyethylene may be.

    ``surge_pa`` is added to the highest pressure with surge, ``most_pa`` is the most added to the
    one at rest; None where the rule knows neither.
    """

    factor: float
    surge_pa: float | None
    most_pa: float | None
    over_rating: float
    source: str
    status: str


@lru_cache(maxsize=1)
def hydrotest_rules() -> dict[str, HydrotestRule]:
    """Return the rules of the test with water by their names."""
    return {
        row["rule"]: HydrotestRule(
            factor=float(row["factor"]),
            surge_pa=_pascal(row["surge_kpa"]),
            most_pa=_pascal(row["most_kpa"]),
            over_rating=float(row["over_rating"]),
            source=row["source"],
            status=row["status"],
        )
        for row in trade_table(__file__, "test_rules.csv")
    }


def _pascal(kilopascal: str) -> float | None:
    number = optional_number(kilopascal)
    return None if number is None else 1000.0 * number


def limit(name: str) -> float:
    """Return one limit of ``data/limits.csv``, in the unit written there."""
    return named_numbers(__file__, "limits.csv")[name]
