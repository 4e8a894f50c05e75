"""What a report takes beside the document: the settings in words, and the study run again."""

from __future__ import annotations

from routing.value import dataclass

__all__ = ["Case", "Extras"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """The study with one input changed: what came of it; None where it was not asked."""

    name: str
    head_loss_m: float | None = None
    net_head_m: float | None = None
    power_kw: float | None = None
    surge_rise_m: float | None = None
    blocked_rise_m: float | None = None
    cost: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Extras:
    """Settings as (meaning, value as given), and the cases of the sensitivity."""

    given: tuple[tuple[str, str], ...] = ()
    cases: tuple[Case, ...] = ()
