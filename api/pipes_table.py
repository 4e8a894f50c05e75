"""The choice of pipe for the terminal, in the units of its reader."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TextIO

from routing.papers.study_facts import priced
from routing.units import UnitSystem, show
from routing.words import said

__all__ = ["CLASS_AND_VACUUM", "print_pipes"]

NONE = "–"
COLUMNS = ("pipe", "bore", "velocity", "loss", "power", "surge", "class", "vacuum", "mass")

CLASS_AND_VACUUM = (
    "Class and vacuum: what is in hand over static pressure with a sudden blockage, and over a "
    "full vacuum."
)


def print_pipes(choice: Mapping[str, Any], most: int, stream: TextIO) -> None:
    """Print the best rows of a sweep, the class line and the sizes chosen, and the notes."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(file=stream, highlight=False, width=None if stream.isatty() else 140)
    units: UnitSystem = choice["units"]
    line = choice["line"]
    console.print(Text(choice["name"], style="bold"))
    told = (
        f"{show(line['flow_m3_s'], 'flow', units)} over {show(line['length_m'], 'length', units)} "
        f"with {show(line['gross_head_m'], 'head', units)} of head: {choice['fitting']} of "
        f"{choice['tried']} pipes fit, by {choice['ranked_by']}."
    )
    console.print(said(told))
    money = choice["ranked_by"] != "mass"
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0))
    titles = [*COLUMNS, *(["price"] if money else [])]
    titles += ["a year"] if choice["ranked_by"] == "yearly cost" else []
    for title in [*titles, ""]:
        table.add_column(said(title), justify="left" if title in ("", "pipe") else "right")
    for row in choice["sweep"][:most]:
        cells = _cells(row, units)
        cells += [_money(row["price"])] if money else []
        cells += [_money(row["yearly_cost"])] if choice["ranked_by"] == "yearly cost" else []
        told = ", ".join(said(each) for each in _standing(row))
        table.add_row(cells[0], *(Text(said(cell)) for cell in cells[1:]), Text(told))
    console.print(table)
    console.print(said(CLASS_AND_VACUUM))
    for part, title in (("class_line", "Classes of this size"), ("diameters", "Several sizes")):
        if choice[part] is not None:
            _print_runs(choice, choice[part], title, console)
    for note in choice["notes"]:
        console.print(Text(f"! {said(note)}"))


def _standing(row: Mapping[str, Any]) -> list[str]:
    """Return how a pipe stands: why not, or whether the study has it and what judged it."""
    if not row["fits"]:
        return [row["verdict"]]
    study = ["in the study"] if row["in_study"] else []
    return study if row["tried"] == "full" else [*study, "by the bound"]


def _cells(row: Mapping[str, Any], units: UnitSystem) -> list[str]:
    kilopascal = {
        key: None if row[key] is None else row[key] * 1000.0
        for key in ("class_margin_kpa", "vacuum_margin_kpa")
    }
    return [
        row["id"],
        show(row["inside_diameter_m"], "diameter", units),
        show(row["velocity_m_s"], "velocity", units),
        f"{100.0 * row['loss_share']:.1f} %",
        show(row["power_kw"] * 1000.0, "power", units),
        show(row["surge_m"], "head", units),
        show(kilopascal["class_margin_kpa"], "pressure", units),
        show(kilopascal["vacuum_margin_kpa"], "pressure", units),
        NONE if row["mass_kg"] is None else f"{row['mass_kg']:.0f} kg",
    ]


def _money(value: float | None) -> str:
    return NONE if value is None else f"{value:,.0f}".replace(",", " ")


def _print_runs(
    choice: Mapping[str, Any], part: Mapping[str, Any], title: str, console: Any
) -> None:
    units: UnitSystem = choice["units"]
    unit = "kg" if choice["ranked_by"] == "mass" else choice["currency"] or ""
    lost = "" if "loss_m" not in part else f", {show(part['loss_m'], 'head', units)} lost"
    console.print(said(f"{title}: {priced(_money(part['cost']), unit)}{lost}"))
    for run in part["runs"]:
        start, end = (show(run[key], "station", units) for key in ("from_m", "to_m"))
        console.print("  " + said(f"{start} to {end}: {run['label']}"))
