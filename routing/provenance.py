"""Where every number comes from: its formula, what it is made of, how far it holds, its source.

``data/provenance.csv`` says which function stands behind a key of the study; meaning, inputs,
range of validity and references are read from that function's own docstring, so that they cannot
drift from the code.
"""

from __future__ import annotations

import difflib
import importlib
import inspect
import re
from collections.abc import Mapping
from functools import lru_cache

from routing.errors import InputError
from routing.trade_table import trade_table
from routing.value import dataclass

__all__ = ["Input", "Provenance", "equations_of", "provenance_keys", "where_from"]

_UNIT = re.compile(r"_(?:m|m2|m3|m3_s|m2_s|m_s|m_s2|kpa|pa|c|kw|w|deg|rad|s|n|kg_m|kg_m3)$")
SECTIONS = re.compile(r"^([A-Z][A-Za-z ]+)\n-{3,}\n", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One thing that a number is made of, with its unit in brackets as the docstring gives it."""

    name: str
    meaning: str
    unit: str

    @property
    def words(self) -> str:
        """Return the name as people say it, without unit and code."""
        names = (_UNIT.sub("", part.strip()).replace("_", " ") for part in self.name.split(","))
        return ", ".join(names)


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """How a number of the study came about.

    ``formula`` is in words, ``equations`` are those that the function states, in LaTeX; ``notes``
    is the range in which it holds.
    """

    key: str
    name: str
    meaning: str
    formula: str
    equations: tuple[str, ...]
    inputs: tuple[Input, ...]
    notes: str
    source: tuple[str, ...]
    function: str


def provenance_keys() -> tuple[str, ...]:
    """Return every key that can be asked for, in the order of the document."""
    return tuple(_rows())


@lru_cache(maxsize=512)
def where_from(key: str) -> Provenance:
    """Return how a number came about.

    Parameters
    ----------
    key : str
        Part and member of the study, as ``summary.net_head_m``; the member alone means the first
        part that has it [-]

    Returns
    -------
    provenance : Provenance
        Formula, inputs, range of validity and source

    Raises
    ------
    InputError
        If no number of the study has that name.

    Examples
    --------
    >>> where_from("net_head_m").formula
    'gross head - head lost'
    """
    row = _row(key)
    path, _, name = row["function"].partition(":")
    parts = _docstring(row["function"])
    return Provenance(
        key=row["key"],
        name=row["name"],
        meaning=_joined(re.split(r"\n\s*\n", parts[""])[0]),
        formula=row["formula"],
        equations=equations_of(row["function"]),
        inputs=tuple(_inputs(parts.get("Parameters", ""))),
        notes=_joined(_without_equations(parts.get("Notes", ""))),
        source=tuple(_references(parts)),
        function=f"{path}.{name}",
    )


@lru_cache(maxsize=512)
def equations_of(function: str) -> tuple[str, ...]:
    r"""Return the equations (LaTeX) that a function's docstring states.

    >>> equations_of("routing.heads:pressure_pa")
    ('p = \\rho g h',)
    """
    parts = _docstring(function)
    return _equations(parts[""] + "\n" + parts.get("Notes", ""))


def _docstring(function: str) -> dict[str, str]:
    path, _, name = function.partition(":")
    found = getattr(importlib.import_module(path), name)
    return _sections(inspect.getdoc(inspect.unwrap(found)) or "")


@lru_cache(maxsize=1)
def _rows() -> dict[str, Mapping[str, str]]:
    return {row["key"]: row for row in trade_table(__file__, "provenance.csv")}


def _row(key: str) -> Mapping[str, str]:
    rows = _rows()
    if key in rows:
        return rows[key]
    found = next((row for name, row in rows.items() if name.partition(".")[2] == key), None)
    if found is not None:
        return found
    members = [name.partition(".")[2] for name in rows]
    near = difflib.get_close_matches(key, [*rows, *members], 1)
    hint = f"Did you mean {near[0]!r}?" if near else "Name it as in study.json."
    raise InputError(f"The study has no number {key[:80]!r} with a formula.", hint)


def _sections(text: str) -> dict[str, str]:
    """Return a docstring by its sections; what stands before the first is under ''."""
    parts = SECTIONS.split(text)
    return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


def _joined(text: str) -> str:
    """Return text on one line, its references and marks left out."""
    plain = re.sub(r"\s*\[\d+\]_", "", " ".join(text.split()))
    plain = re.sub(r"Checked (?:by|in) ``tests/[^`]*``[^.]*\.", "", plain)
    plain = re.sub(r":[a-z]+:`~?(?:[\w.]*\.)?(\w+)`", r"\1", plain)
    return plain.replace("``", "").strip()


def _equations(text: str) -> tuple[str, ...]:
    """Return the formulas of a docstring; blank lines stand between several of one block."""
    blocks = re.findall(r"\.\. math::\s*\n((?:[ \t]+\S.*\n?|\s*\n)+)", text)
    pieces = [piece for block in blocks for piece in re.split(r"\n\s*\n", block)]
    return tuple(" ".join(piece.split()) for piece in pieces if piece.strip())


def _without_equations(text: str) -> str:
    return re.sub(r"\.\. math::\s*\n(?:[ \t]+\S.*\n?|\s*\n)+", "", text)


def _inputs(text: str) -> list[Input]:
    """Return the parameters of a numpy-style section."""
    found = []
    for match in re.finditer(r"^(\S[^\n:]*?) *:[^\n]*\n((?:[ \t]+[^\n]*\n?)+)", text, re.MULTILINE):
        words = _joined(match.group(2))
        unit = re.search(r"\[([^\]]*)\]$", words)
        found.append(
            Input(
                name=match.group(1).strip(),
                meaning=words[: unit.start()].rstrip() if unit else words,
                unit=unit.group(1) if unit else "",
            )
        )
    return found


def _references(parts: dict[str, str]) -> list[str]:
    text = parts.get("References", "")
    listed = re.split(r"^\.\. \[\d+\] ", text, flags=re.MULTILINE)
    return [_joined(item).replace("*", "") for item in listed if item.strip()]
