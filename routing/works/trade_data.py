"""The numbers of the trade for commissioning, from ``data/``."""

from __future__ import annotations

from functools import cache
from typing import Literal

from routing.trade_table import named_numbers, trade_table
from routing.value import dataclass

__all__ = ["Makeup", "SectionRule", "gauge_ranges_pa", "number", "section_rules"]

Makeup = Literal["by length and bore", "by bore, length and head", "by elastic water", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionRule:
    """How a section is tested: the steps, the fall of pressure they name, time held, make-up.

    It soaks for ``soak_s``, is topped up for ``stretch_s`` while the wall creeps, then let off by
    ``let_off_pa``; held, it stays within ``band_pa`` and ``band_share`` of that pressure, or None:
    its water alone counts.
    """

    hold_s: float
    makeup: Makeup
    how: str
    drop_pa: float
    soak_s: float
    stretch_s: float
    let_off_pa: float
    band_pa: float | None
    band_share: float
    source: str


def number(name: str) -> float:
    """Return one number of ``data/works.csv``, in the unit written there."""
    return named_numbers(__file__, "works.csv")[name]


@cache
def gauge_ranges_pa() -> tuple[float, ...]:
    """Return the full scales in which gauges are sold, rising [Pa]."""
    return tuple(1e3 * float(row["full_kpa"]) for row in trade_table(__file__, "gauge_ranges.csv"))


@cache
def section_rules() -> dict[str, SectionRule]:
    """Return what each rule of the test with water asks of a section, by its name."""
    return {
        row["rule"]: SectionRule(
            hold_s=float(row["hold_s"]),
            makeup=row["makeup"],  # type: ignore[arg-type]
            how=row["how"],
            drop_pa=1e3 * float(row["drop_kpa"]),
            soak_s=3600.0 * float(row["soak_h"]),
            stretch_s=3600.0 * float(row["stretch_h"]),
            let_off_pa=1e3 * float(row["let_off_kpa"]),
            band_pa=1e3 * float(row["band_kpa"]) if row["band_kpa"] else None,
            band_share=float(row["band_share"]),
            source=row["source"],
        )
        for row in trade_table(__file__, "section_rules.csv")
    }
