"""The guide as pages: markdown files, and the methods page made from docstrings and data."""

from __future__ import annotations

from functools import lru_cache
from html import escape
from itertools import groupby
from pathlib import Path
from typing import Any

import web
from routing.mathematics import mathml
from routing.provenance import Provenance, provenance_keys, where_from

__all__ = ["guide_html", "guide_names"]

FOLDER = Path(web.__file__).resolve().parent / "guide"
METHODS = "methods"
PARTS = {
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


def guide_names() -> frozenset[str]:
    """Return the names of the guide's pages."""
    return frozenset({METHODS, *(path.stem for path in FOLDER.glob("*.md"))})


def guide_html(name: str) -> str:
    """Return one page of the guide."""
    from markdown_it import MarkdownIt

    text = methods_text() if name == METHODS else _file(f"{name}.md")
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    markdown.add_render_rule("fence", _fence)
    body = markdown.render(text)
    title = text.partition("\n")[0].lstrip("# ")
    page = _file("page.html").replace("<!-- title -->", escape(title))
    return page.replace("<!-- body -->", body)


def _fence(renderer: Any, tokens: Any, index: int, options: Any, env: Any) -> str:
    """Return a fenced block: formulas set as mathematics, anything else as it is written."""
    token = tokens[index]
    if token.info == "math":
        return f'<div class="formula" tabindex="0">{mathml(token.content.strip())}</div>'
    return str(renderer.fence(tokens, index, options, env))


def _file(name: str) -> str:
    return (FOLDER / name).read_text(encoding="utf-8")


@lru_cache(maxsize=1)
def methods_text() -> str:
    """Return the methods page: every number of a study with formula, inputs, range and source."""
    parts = [
        "# Methods",
        "How every number of a study comes about, taken from the functions that work it out.",
    ]
    found = [where_from(key) for key in provenance_keys()]
    for part, members in groupby(found, key=lambda item: item.key.partition(".")[0]):
        parts.append(f"## {PARTS.get(part, part.replace('_', ' ').capitalize())}")
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
