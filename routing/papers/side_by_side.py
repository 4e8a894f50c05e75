"""Several lines side by side: one row of figures for each, in the reader's units."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from routing.document import rows_of_lines
from routing.papers.document import Document, plain, units_of
from routing.papers.study_facts import priced, reached
from routing.papers.subject import Column, Subject, quantity
from routing.units import Kind, UnitSystem, show
from routing.value import dataclass

__all__ = ["Comparison", "compared", "line_values", "lines_subject"]

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One figure of every line in words; ``differs`` says that the lines are not alike in it."""

    label: str
    values: tuple[str, ...]

    @property
    def differs(self) -> bool:
        """Return whether some line has another value."""
        return len(set(self.values) - {"–"}) > 1


def compared(doc: Document) -> tuple[Comparison, ...]:
    """Return the figures of a study's lines in reading order, without those that no line has."""
    units, rows = units_of(doc), rows_of_lines(doc)
    made = [
        Comparison(label=label, values=tuple(_told(row, words, units) for row in rows))
        for label, words in _FIGURES
    ]
    return tuple(each for each in made if set(each.values) - {"–"})


def _told(row: Row, words: Callable[[Row, UnitSystem], str | None], units: UnitSystem) -> str:
    return "–" if row["summary"] is None else words(row, units) or "–"


def _summary(key: str, kind: Kind, factor: float = 1.0) -> Callable[[Row, UnitSystem], str | None]:
    def words(row: Row, units: UnitSystem) -> str | None:
        value = row["summary"].get(key)
        return None if value is None else show(factor * float(value), kind, units)

    return words


def _running(key: str, kind: Kind, factor: float = 1.0) -> Callable[[Row, UnitSystem], str | None]:
    """Return what says a figure of the running water, or with it why it cannot be had."""
    figure = _summary(key, kind, factor)

    def words(row: Row, units: UnitSystem) -> str | None:
        said = figure(row, units)
        return None if said is None else reached(row, said)

    return words


def _count(part: str, key: str) -> Callable[[Row, UnitSystem], str | None]:
    def words(row: Row, units: UnitSystem) -> str | None:
        held = row[part] if part else row
        value = None if held is None else held.get(key)
        return None if value is None else str(int(value))

    return words


def _money(row: Row, units: UnitSystem) -> str | None:
    cost = row["cost"]
    if cost is None:
        return None
    # A narrow space between thousands, as on all papers.
    return priced(f"{cost['total']:,.0f}".replace(",", "\u202f"), plain(cost["currency"]))


def _unpriced(row: Row, units: UnitSystem) -> str | None:
    return None if row["cost"] is None else ", ".join(plain(e) for e in row["cost"]["not_priced"])


def _expected(row: Row, units: UnitSystem) -> str | None:
    expected = row["summary"].get("expected_vents")
    return None if expected is None else f"{expected['mean']:.0f} ± {expected['sd']:.0f}"


def _open(row: Row, units: UnitSystem) -> str | None:
    return ", ".join(plain(code).replace("_", " ") for code in row["verdict"]["open"]) or "nothing"


_FIGURES: tuple[tuple[str, Callable[[Row, UnitSystem], str | None]], ...] = (
    ("Length in plan", _summary("plan_length_m", "length")),
    ("Length of pipe", _summary("pipe_length_m", "length")),
    ("Gross head", _summary("gross_head_m", "head")),
    ("Highest static pressure", _summary("max_static_pressure_kpa", "pressure", 1e3)),
    ("Design flow", _summary("flow_m3_s", "flow")),
    ("Head lost", _summary("head_loss_m", "head")),
    ("Net head", _running("net_head_m", "head")),
    ("Power", _running("power_kw", "power", 1e3)),
    ("Trench volume", _summary("trench_volume_m3", "volume")),
    ("Vents", _count("summary", "vent_count")),
    ("Summits to expect", _expected),
    ("Drains", _count("summary", "drain_count")),
    ("Crossings", _count("", "crossing_count")),
    ("Consents lacking", _count("", "consents_lacking")),
    ("Cost", _money),
    ("Without a price", _unpriced),
    ("Faults", _count("verdict", "faults")),
    ("Warnings", _count("verdict", "warnings")),
    ("Failed checks", _count("verdict", "failed_checks")),
    ("Open", _open),
)


def line_values(row: Row) -> dict[str, Any]:
    """Return a line's figures as plain values in SI, for a table of attributes."""
    summary, verdict, cost = row["summary"] or {}, row["verdict"] or {}, row["cost"] or {}
    figures = {
        key: value
        for key, value in summary.items()
        if value is None or isinstance(value, bool | int | float | str)
    }
    counts = {key: verdict.get(key) for key in ("faults", "warnings", "failed_checks")}
    return {
        "name": plain(row["name"]),
        **figures,
        "crossing_count": row["crossing_count"],
        "consents_lacking": row["consents_lacking"],
        **counts,
        "cost_total": cost.get("total"),
        "currency": cost.get("currency"),
        "problem": row["problem"],
    }


def lines_subject(doc: Document) -> Subject:
    """Return the lines of a study as a table, a row each; without rows where there is one line."""
    units = units_of(doc)
    rows = [line_values(row) for row in doc.get("lines") or ()]
    keys = list(dict.fromkeys(key for row in rows for key in row))
    forms = [quantity(key, units) for key in keys]
    columns = tuple(
        Column(key=key, title=form[0], unit=form[1], digits=form[4])
        for key, form in zip(keys, forms, strict=True)
    )
    return Subject(
        name="lines",
        columns=columns,
        rows=tuple(
            tuple(
                value * form[2] + form[3]
                if isinstance(value := row.get(key), float) and form[1]
                else value
                for key, form in zip(keys, forms, strict=True)
            )
            for row in rows
        ),
    )
