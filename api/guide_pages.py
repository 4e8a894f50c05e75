"""Pages of the guide that are made: methods, Python, HTTP, and tables within written pages."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Mapping
from functools import cache
from itertools import groupby
from typing import Any

from routing.provenance import Provenance, provenance_keys, where_from

__all__ = ["MADE", "PARTS_MADE"]

ROLE = re.compile(r":\w+:`~?([\w.]+)`")
"""A name in a docstring that leads to where it is described."""

TITLES = {
    "summary": "The whole line",
    "stations": "Along the line",
    "vents": "Vents",
    "drains": "Drains",
    "ground": "Highs and lows of the ground",
    "trench": "Trench",
    "bends": "Bends",
    "pipes": "Pipes",
    "flow": "Flow",
    "air": "Trapped air",
    "water": "Water",
}
MODULES = {
    "routing.notebook": "one call, a study that shows itself",
    "routing.study": "the chain, step by step",
    "routing.line": "lines from files",
    "routing.terrain": "rasters",
    "routing.laid_line": "the laid line as a value",
    "routing.flow": "friction, heads, power, energy, surge, intake",
    "routing.strength": "classes, collapse",
    "routing.anchors": "thrust, blocks, supports",
    "routing.fittings": "vents and drains",
    "routing.papers": "papers and files",
}
"""What the page of the Python reference tells of, in the order of the data."""


@cache
def methods_text() -> str:
    """Return the methods page: every number of a study with formula, inputs, range and source."""
    parts = [
        "# Methods",
        "How every number of a study comes about, taken from the functions that work it out.",
    ]
    found = [where_from(key) for key in provenance_keys()]
    for part, members in groupby(found, key=lambda item: item.key.partition(".")[0]):
        parts.append(f"## {TITLES.get(part, part.replace('_', ' ').capitalize())}")
        for item in members:
            parts += _entry(item)
    return "\n\n".join(parts) + "\n"


def _entry(item: Provenance) -> list[str]:
    lines = [f"### {item.name}"]
    meaning = item.meaning.removeprefix("Return ")
    lines.append(meaning[:1].upper() + meaning[1:])
    if item.formula:
        lines.append(f"**Formula.** {item.formula}")
    lines += [f"```math\n{latex}\n```" for latex in item.equations]
    if item.inputs:
        rows = [
            f"- *{given.words}*" + (f" [{given.unit}]" if given.unit else "") + f": {given.meaning}"
            for given in item.inputs
        ]
        lines.append("\n".join(rows))
    if item.notes:
        lines.append(item.notes)
    lines += [f"Source: {text}" for text in item.source]
    lines.append(f"For scripts: `{item.key}`")
    return lines


@cache
def python_text() -> str:
    """Return the page of the Python reference, from the docstrings."""
    from importlib import import_module

    parts = [
        "# From Python",
        "`routing.notebook` is the face that scripts may rely on; the example is the notebook"
        " `a-line.ipynb` in the guide's folder. The rooms below it can be used alone; they take and"
        " give SI numbers.",
    ]
    for name, what in MODULES.items():
        module = import_module(name)
        parts.append(f"## `{name}`: {what}")
        for public in sorted(getattr(module, "__all__", ())):
            thing = getattr(module, public)
            told = inspect.getdoc(thing) if callable(thing) else None
            if told:
                parts += [f"### `{_signature(public, thing)}`", _plain(told)]
    return "\n\n".join(parts) + "\n"


def _signature(name: str, thing: Any) -> str:
    if inspect.isclass(thing):
        return name
    try:
        found = inspect.signature(thing)
    except (TypeError, ValueError):
        return f"{name}(...)"
    return f"{name}({', '.join(found.parameters)})"


def _plain(docstring: str) -> str:
    """Return a docstring as markdown: its summary, then the rest as it is written."""
    summary, _, rest = docstring.partition("\n\n")
    summary = ROLE.sub(r"`\1`", " ".join(summary.split()).replace("``", "`"))
    rest = ROLE.sub(r"\1", rest).replace("``", "")  # which stands as it is, marks and all
    return f"{summary}\n\n```\n{rest}\n```" if rest.strip() else summary


@cache
def http_text() -> str:
    """Return the page of the HTTP interface, from the service's own description."""
    from pathlib import Path

    from api.app import create_app
    from api.settings import ServiceSettings

    described = create_app(ServiceSettings(data=Path("unused"))).openapi()
    parts = [
        "# Over HTTP",
        "Everything the page does is open to scripts. The description for machines is"
        " `/api/openapi.json`; errors are problem details (RFC 9457) with `code`, `detail` and"
        " `remedy`. Settings are the tables of a settings file as a JSON object.",
    ]
    for path, operations in described["paths"].items():
        for method, told in operations.items():
            parts.append(f"## `{method.upper()} {path}`")
            parts.append(str(told.get("description") or told.get("summary") or ""))
            rows = [
                f"- `{given['name']}` ({given['in']}"
                + (", needed" if given.get("required") else "")
                + f"): {given.get('description', '')}"
                for given in told.get("parameters", ())
            ]
            answers = ", ".join(
                f"{code} {answer.get('description', '')}".strip().rstrip(".")
                for code, answer in told.get("responses", {}).items()
            )
            parts += ["\n".join(rows), f"Answers: {answers}."] if rows else [f"Answers: {answers}."]
    return "\n\n".join(parts) + "\n"


@cache
def data_table() -> str:
    """Return the kinds of elevation data with the error that is taken for each."""
    from routing.terrain import accuracy
    from routing.trade_table import trade_table

    lines = ["| `source` | what | shows | error | from |", "| --- | --- | --- | --- | --- |"]
    for row in sorted(
        trade_table(str(accuracy.__file__), "accuracy.csv"), key=lambda row: float(row["rmse_m"])
    ):
        cells = (
            f"`{row['id']}`",
            row["label"],
            row["surface"],
            f"{row['rmse_m']} m",
            row["source"],
        )
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines)


@cache
def terms_table() -> str:
    """Return the words of the trade in every language."""
    from routing.words import languages, terms

    codes = [code for code in languages() if code != "en"]
    heads = ["English", *(languages()[code].name for code in codes)]
    lines = [f"| {' | '.join(heads)} |", f"|{' --- |' * len(heads)}"]
    for english, told in terms().items():
        lines.append(f"| {english} | {' | '.join(told.get(code, '') for code in codes)} |")
    return "\n".join(lines)


MADE: Mapping[str, Callable[[], str]] = {
    "methods": methods_text,
    "python": python_text,
    "http": http_text,
}
"""Pages that no file holds."""

PARTS_MADE: Mapping[str, Callable[[], str]] = {
    "<!-- kinds of data -->": data_table,
    "<!-- terms -->": terms_table,
}
"""Marks in written pages, and what stands in their place."""
