"""The bill of quantities, what it comes to, and what the energy of a year pays of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

import numpy as np

from routing.cost import BillRow, Cost, Counts, bill_of, cost_of
from routing.flow import capital_recovery_factor
from routing.rounding import fields_of
from routing.study import Study
from routing.trench import LEAST_BEND_DEG, deflections_deg

__all__ = ["money_sections", "money_summary"]


def money_sections(study: Study, made: Mapping[str, Any]) -> dict[str, Any]:
    """Return ``quantities`` and ``cost``; ``made`` are the sections of pressures and works.

    What is worked out for a line at rest only is told as not priced while it is dragged.
    """
    prices, lacking = study.settings.prices, []
    whole = study.pressures is not None or study.line.schedule is None
    if not whole:
        lacking.append(
            "blocks, anchors, supports, taps, relief valves, bench: not worked out while dragging"
        )
    rows = bill_of(prices, study.line, _counts(study, made), study.settings.trench.ground)
    cost = cost_of(prices, rows, lacking)
    return {"quantities": [_row(row) for row in rows], "cost": _cost(study, cost)}


def _counts(study: Study, made: Mapping[str, Any]) -> Counts:
    wide = {
        check.place for check in study.checks if check.code == "block_wide" and not check.passed
    }
    cast = [*(made.get("blocks") or ()), *(made.get("anchors") or ())]
    sized = [item for item in cast if str(item["id"]) not in wide]
    crossed = [each.kind for each in study.crossings if each.relation in ("inside", "crosses")]
    fitted = study.fittings.sized
    return Counts(
        vents=len(study.fittings.vents),
        drains=len(study.fittings.drains),
        valves=len(made.get("valves") or ()),
        bends=int(np.count_nonzero(deflections_deg(study.line.bends) >= LEAST_BEND_DEG)),
        taps=len(made.get("taps") or ()),
        relief_valves=0 if fitted is None else len(fitted.relief_valves),
        supports=len(made.get("supports") or ()),
        concrete_m3=sum(float(item["volume_m3"] or 0.0) for item in sized),
        blocks_open=len(cast) - len(sized),
        bench_m3=0.0 if study.bench is None else study.bench.volume_m3,
        crossings=Counter(crossed),
    )


def _row(row: BillRow) -> dict[str, Any]:
    return fields_of(row, "what size quantity unit price amount")


def _cost(study: Study, cost: Cost | None) -> dict[str, Any] | None:
    if cost is None:
        return None
    energy, told = study.settings.energy, study.stream.energy
    year = None if told is None else told.year
    kwh = None if year is None else year.energy_kwh
    worth = None
    if kwh is not None and energy.price_per_kwh is not None:
        worth = kwh * energy.price_per_kwh
    yearly = None
    if energy.interest is not None and energy.years is not None:
        yearly = cost.total * capital_recovery_factor(energy.interest, energy.years)
    return {
        **fields_of(cost, "total contingency currency date not_priced"),
        "yearly": yearly,
        "per_kwh": yearly / kwh if yearly is not None and kwh else None,
        "payback_years": cost.total / worth if worth else None,
    }


def money_summary(money: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the summary says of money; nothing without prices."""
    cost = money["cost"]
    if cost is None:
        return {}
    return {
        "cost": cost["total"],
        "cost_per_kwh": cost["per_kwh"],
        "payback_years": cost["payback_years"],
    }
