"""The guide as pages: markdown files, and pages that are made from docstrings and tables."""

from __future__ import annotations

import re
from html import escape
from pathlib import Path
from typing import Any

import web
from api.guide_pages import MADE, PARTS_MADE
from routing.mathematics import mathml

__all__ = ["FOLDER", "guide_body", "guide_html", "guide_names", "guide_picture", "guide_title"]

FOLDER = Path(web.__file__).resolve().parent / "guide"
LINKS = (
    '<a href="/">Plan a line</a> <a href="/list">Terrains and studies</a> '
    '<a href="/guide">Guide</a>'
)
PICTURES = {".jpg": "image/jpeg", ".svg": "image/svg+xml"}


def guide_names() -> frozenset[str]:
    """Return the names of the guide's pages."""
    return frozenset({*MADE, *(path.stem for path in FOLDER.glob("*.md"))})


def guide_picture(name: str) -> tuple[bytes, str] | None:
    """Return a picture of the guide with its media type; None where there is none of that name."""
    path = FOLDER / "pictures" / name
    if path.suffix not in PICTURES or path.parent != FOLDER / "pictures" or not path.is_file():
        return None
    return path.read_bytes(), PICTURES[path.suffix]


def guide_title(name: str) -> str:
    """Return the title of a page."""
    return _text(name).partition("\n")[0].lstrip("# ")


def guide_body(name: str) -> str:
    """Return what stands in a page, as HTML, each heading with a name to link to."""
    from markdown_it import MarkdownIt

    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    markdown.add_render_rule("fence", _fence)
    markdown.add_render_rule("heading_open", _heading)
    return str(markdown.render(_text(name)))


def guide_html(name: str) -> str:
    """Return one page of the guide, as the service shows it."""
    page = (FOLDER / "page.html").read_text(encoding="utf-8")
    page = page.replace("<!-- title -->", escape(guide_title(name)))
    return page.replace("<!-- links -->", LINKS).replace("<!-- body -->", guide_body(name))


def _text(name: str) -> str:
    if name in MADE:
        return MADE[name]()
    text = (FOLDER / f"{name}.md").read_text(encoding="utf-8")
    for mark, made in PARTS_MADE.items():
        if mark in text:
            text = text.replace(mark, made())
    return text


def _fence(renderer: Any, tokens: Any, index: int, options: Any, env: Any) -> str:
    """Return a fenced block: formulas set as mathematics, anything else as it is written."""
    token = tokens[index]
    if token.info == "math":
        return f'<div class="formula" tabindex="0">{mathml(token.content.strip())}</div>'
    return str(renderer.fence(tokens, index, options, env))


def _heading(renderer: Any, tokens: Any, index: int, options: Any, env: Any) -> str:
    """Return the opening of a heading, with a name made of its words."""
    words = re.sub(r"[^a-z0-9]+", "-", tokens[index + 1].content.lower()).strip("-")
    return f'<{tokens[index].tag} id="{escape(words)}">'
