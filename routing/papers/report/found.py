"""Tables that other parts of a study bring: the checks in words, the rest as compact as can be."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from importlib.resources import files
from typing import Any

from routing.papers.document import Document, plain, units_of
from routing.papers.subject import Column, Subject
from routing.units import in_system, in_units, show, unit_of

__all__ = ["checks_table", "compact_table", "formula_rows", "table"]

FEW_ROWS, MANY_COLUMNS = 4, 8
"""A table of so few rows and so many columns is printed on its side [-]."""
LONG_WORDS = 14
"""Text from which a column that always says the same is said once, below the table [-]."""
WRAPPED_WORDS = 22
"""Text from which a column may break its lines [-]."""


def table(
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    numeric: Sequence[bool],
    note: str = "",
    widths: Sequence[int] | None = None,
) -> dict[str, Any]:
    """Return a table as the template takes it; a width of 0 fits its content, others share room."""
    return {
        "heads": list(heads),
        "rows": [list(row) for row in rows],
        "numeric": list(numeric),
        "note": note,
        "widths": list(widths or [0] * len(heads)),
    }


def checks_table(doc: Document) -> dict[str, Any]:
    """Return the checks, failed ones first, each in the reader's units with rule and source."""
    units = units_of(doc)
    rows = []
    for item in doc.get("checks") or ():
        at = item.get("station_m")
        unit, factor = in_system(plain(item.get("unit") or ""), units)
        rows.append(
            [
                _verdict(item),
                f"{plain(item['subject'])}: {plain(item.get('place') or '')}".rstrip(": "),
                "" if at is None else show(float(at), "station", units, unit=False),
                _number(item.get("demand"), factor),
                f"{plain(item.get('sense') or '')} {_number(item.get('limit'), factor)}".strip(),
                unit,
                f"{in_units(plain(item['rule']), units)} ({plain(item['source'])})",
            ]
        )
    heads = ["", "what", f"station, {unit_of('station', units)}", "is", "may be", "", "rule"]
    return table(
        heads, rows, [False, False, True, True, True, False, False], widths=[0, 3, 0, 0, 0, 0, 4]
    )


def compact_table(subject: Subject) -> dict[str, Any]:
    """Return a table of the document without empty columns; what never varies is said once."""
    shown: list[tuple[Column, list[Any]]] = []
    notes = []
    for number, column in enumerate(subject.columns):
        values = [row[number] for row in subject.rows]
        known = [value for value in values if value is not None and value != ""]
        if not known:
            continue
        words = {value for value in known if isinstance(value, str)}
        if len(values) > 2 and len(words) == 1 and len(known) == len(values):
            (only,) = words
            if len(only) >= LONG_WORDS:
                notes.append(f"{column.title}: {only}")
                continue
        shown.append((column, values))
    heads = [f"{c.title}, {c.unit}" if c.unit else c.title for c, _ in shown]
    widths = []
    for _, values in shown:
        longest = max(len(v) if isinstance(v, str) else 0 for v in values)
        widths.append(0 if longest < WRAPPED_WORDS else 2 + longest // 40)
    numeric = [
        all(isinstance(v, int | float) and not isinstance(v, bool) for v in values if v is not None)
        for _, values in shown
    ]
    rows = [[_worded(values[index]) for _, values in shown] for index in range(len(subject.rows))]
    if len(rows) <= FEW_ROWS and len(heads) > MANY_COLUMNS:
        turned = [[head, *cells] for head, *cells in zip(heads, *rows, strict=True)]
        blank = ["", *[""] * len(rows)]
        return table(blank, turned, [False] * len(blank), "; ".join(notes), [0] + [1] * len(rows))
    return table(heads, rows, numeric, "; ".join(notes), widths)


def formula_rows(doc: Document) -> list[list[str]]:
    """Return the formulas that the document's tables name by their ids, with their sources."""
    named: dict[str, None] = {}
    for value in doc.values():
        for item in value if isinstance(value, list | tuple) else ():
            for name in (item.get("formulas") or ()) if isinstance(item, Mapping) else ():
                named[str(name)] = None
    if not named:
        return []
    text = (files("routing.anchors") / "data" / "formulas.csv").read_text(encoding="utf-8")
    known = {row["id"]: row for row in csv.DictReader(text.splitlines())}
    return [
        [
            name,
            f"{known[name]['what'].capitalize()}: {known[name]['equation']}. On the safe side: "
            f"{known[name]['safe_side']}. Source: {known[name]['source']} "
            f"({known[name]['status']}).",
        ]
        for name in named
        if name in known
    ]


def _verdict(check: Mapping[str, Any]) -> str:
    """Return one word: a check that fails says how much that matters, or that it is waived."""
    if check["passed"]:
        return "holds"
    if check["waived"]:
        return "waived"
    return "FAILS" if check["severity"] == "fault" else str(check["severity"])


def _number(value: Any, factor: float = 1.0) -> str:
    return "–" if value is None else f"{float(value) * factor:.4g}".replace("-", "−")


def _worded(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{round(value, 3) + 0.0:.7g}".replace("-", "−")
    return str(value)
