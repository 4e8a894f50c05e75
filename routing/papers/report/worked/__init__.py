"""One worked example of each kind of formula, with the study's own values and the tool's own code.

Each example is a group of numbers named with its unit; ``data/symbols.csv`` says which symbol of
which formula each of them is. What is worked here is what the study found: the tests hold both
against each other.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from routing.papers.document import Document
from routing.papers.report.worked.fittings import fitting_examples
from routing.papers.report.worked.ground import ground_examples
from routing.papers.report.worked.span import span_examples
from routing.papers.report.worked.wall import wall_examples
from routing.papers.report.worked.water import water_examples
from routing.papers.report.worked.wave import wave_examples

__all__ = ["worked"]

Numbers = Mapping[str, float | None]
_PARTS: tuple[Callable[[Document], Mapping[str, Numbers]], ...] = (
    wave_examples,
    wall_examples,
    fitting_examples,
    ground_examples,
    span_examples,
    water_examples,
)


def worked(doc: Document) -> dict[str, Numbers]:
    """Return every example that the study has the values for, by the name of its group."""
    return {name: numbers for part in _PARTS for name, numbers in part(doc).items()}
