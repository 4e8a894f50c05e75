"""The guide as a folder of pages that any browser opens without the service, search included."""

from __future__ import annotations

import json
import re
from functools import cache
from html import unescape
from pathlib import Path

import web
from api.guide import FOLDER, guide_body, guide_html, guide_names, guide_title

__all__ = ["search_index", "write_guide"]

WEB = Path(web.__file__).resolve().parent
HEADING = re.compile(r'<h[1-3] id="([^"]*)">(.*?)</h[1-3]>', re.DOTALL)
TAGS = re.compile(r"<math.*?</math>|<[^>]+>", re.DOTALL)


@cache
def search_index(ending: str = "") -> str:
    """Return the script that gives the search its words; ``ending`` is that of the pages' names."""
    parts = []
    for name in sorted(guide_names()):
        title, body = guide_title(name), guide_body(name)
        pieces = HEADING.split(body)
        for identity, heading, text in zip(pieces[1::3], pieces[2::3], pieces[3::3], strict=True):
            parts.append(
                {
                    "page": f"{name}{ending}",
                    "title": title,
                    "heading": _words(heading),
                    "id": identity,
                    "text": _words(text),
                }
            )
    return f"window.leatlineGuide = {json.dumps(parts, ensure_ascii=False)};\n"


def _words(html: str) -> str:
    return " ".join(unescape(TAGS.sub(" ", html)).split())


def write_guide(folder: Path) -> list[Path]:
    """Write the guide into a folder, which is made if need be, and return what was written."""
    (folder / "pictures").mkdir(parents=True, exist_ok=True)
    files: dict[Path, bytes] = {
        folder / f"{name}.html": _offline(guide_html(name)).encode() for name in guide_names()
    }
    files[folder / "search-index.js"] = search_index(".html").encode()
    files[folder / "guide-search.js"] = (WEB / "js" / "guide-search.js").read_bytes()
    for name in ("colours.css", "guide.css"):
        files[folder / name] = (WEB / "css" / name).read_bytes()
    for picture in (FOLDER / "pictures").iterdir():
        files[folder / "pictures" / picture.name] = picture.read_bytes()
    files[folder / "a-line.ipynb"] = (FOLDER / "a-line.ipynb").read_bytes()
    for path, data in files.items():
        path.write_bytes(data)
    return sorted(files)


def _offline(page: str) -> str:
    """Return a page whose addresses are files beside it."""
    page = re.sub(r'(href|src)="/(?:css|js|guide)/', r'\1="', page)
    page = re.sub(r' ?<a href="/(?:list)?">[^<]*</a>', "", page)
    page = page.replace('<a href="/guide">Guide</a>', '<a href="index.html">Guide</a>')

    def local(match: re.Match[str]) -> str:
        stem, mark = match[1].removesuffix(".md"), match[2] or ""
        return f'href="{stem}.html{mark}"' if stem in guide_names() else match[0]

    return re.sub(r'href="([\w.-]+?)(#[^"]*)?"', local, page)
