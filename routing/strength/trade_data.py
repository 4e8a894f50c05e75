"""The numbers of the trade for strength, from ``data/``."""

from __future__ import annotations

from functools import lru_cache

from routing.trade_table import named_numbers, rows_of, scaled, trade_table
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
    addition = scaled("addition_psi", PASCAL_PER_PSI)
    return rows_of(SurgeRule, __file__, "surge_rules.csv", addition_pa=addition)


@dataclass(frozen=True, slots=True, kw_only=True)
class HydrotestRule:
    """How hard a line is tested, and how far above its rating fused polyethylene may be.

    ``surge_pa`` is added to the highest pressure with surge, which counts alone where ``most_pa``,
    the most added to the one at rest, is given, else where it is more than the factor asks for;
    None where the rule knows neither.
    """

    factor: float
    surge_pa: float | None
    most_pa: float | None
    over_rating: float
    source: str
    status: str

    @property
    def standard(self) -> str:
        """Return the standard or book that the rule is from, as it is cited.

        >>> hydrotest_rules()["polyethylene"].standard
        'ASTM F2164-21'
        """
        return self.source.partition(",")[0]


@lru_cache(maxsize=1)
def hydrotest_rules() -> dict[str, HydrotestRule]:
    """Return the rules of the test with water by their names."""
    names = [row["rule"] for row in trade_table(__file__, "test_rules.csv")]
    rules = rows_of(
        HydrotestRule,
        __file__,
        "test_rules.csv",
        surge_pa=scaled("surge_kpa", 1e3),
        most_pa=scaled("most_kpa", 1e3),
    )
    return dict(zip(names, rules, strict=True))


def limit(name: str) -> float:
    """Return one limit of ``data/limits.csv``, in the unit written there."""
    return named_numbers(__file__, "limits.csv")[name]
