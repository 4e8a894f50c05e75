"""What a line costs and pays back, in words."""

from __future__ import annotations

from routing.papers.document import Document, plain

__all__ = ["cost_facts"]


def cost_facts(doc: Document) -> list[tuple[str, str]]:
    """Return what the line costs by the prices given, and what the year's energy pays of it."""
    cost = doc.get("cost")
    if cost is None:
        return []
    money = plain(cost["currency"])
    said = f"{cost['total']:,.0f}".replace(",", "\u202f")
    facts = [("Cost", f"{said} {money}".strip() + ", more with what has no price")]
    if cost.get("payback_years") is not None:
        facts.append(("Pay-back", f"{cost['payback_years']:.1f} years, upkeep left out"))
    if cost.get("per_kwh") is not None:
        each = f"{cost['per_kwh']:.3f} {money}".strip()
        facts.append(("Cost a kilowatt hour", f"{each}, upkeep left out"))
    return facts
