"""What lets a paper speak the language of its study, or one asked for; a page does by a script."""

from __future__ import annotations

import json
import re
from contextlib import AbstractContextManager
from functools import lru_cache
from pathlib import Path

from routing.papers.document import Document, plain
from routing.papers.letters import FACES, letters_style
from routing.words import Translator, language, speaking, spoken_words

__all__ = ["script_of_language", "speaking_as"]


def speaking_as(doc: Document) -> AbstractContextManager[Translator]:
    """Put what is drawn within into the language of a study."""
    return speaking(_code(doc))


def _code(doc: Document) -> str:
    return language(plain(doc.get("language") or "en")).code


def script_of_language(doc: Document) -> str:
    """Return the script that puts a page into the language of its study; for English none."""
    code = _code(doc)
    return "" if code == "en" else _script(code)


@lru_cache(maxsize=8)
def _script(code: str) -> str:
    import web

    module = (Path(web.__file__).parent / "js" / "words.js").read_text(encoding="utf-8")
    own = re.sub(r"^export (?=const|function|async)", "", module, flags=re.MULTILINE)
    words = json.dumps(spoken_words(code), ensure_ascii=False).replace("</", "<\\/")
    style = json.dumps(f"<style>{letters_style(code)}</style>").replace("</", "<\\/")
    worn = f"document.head.insertAdjacentHTML('beforeend', {style});\n" if code in FACES else ""
    how = "speakInLetters" if code in FACES else "speak"
    return f"(() => {{\n{own}\n{worn}{how}({words});\n}})();\n"
