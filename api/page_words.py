"""Pages without a script of their own, put into the reader's language where they are served."""

from __future__ import annotations

import re

from api.tongue import requested_language
from routing.words import Translator, catalogue, language

__all__ = ["in_language"]

TEXT = re.compile(r">(\s*)([^<>\s][^<>]*?)(\s*)<")
"""What stands between two tags, without the blanks about it."""


def in_language(html: str, header: str) -> str:
    """Return a page in the language that a request would rather have (its Accept-Language).

    What no catalogue holds stays English and is marked so (WCAG 2.2, 3.1.2).

    >>> in_language('<html lang="en"><h2>Sign in</h2><p>Skarn Beck</p>', "es")
    '<html lang="es" dir="ltr"><h2>Iniciar sesión</h2><p><span lang="en">Skarn Beck</span></p>'
    """
    code = requested_language(header)
    if code == "en":
        return html
    to = Translator(language(code), catalogue(code))

    def said(match: re.Match[str]) -> str:
        before, words, after = match.groups()
        known = to(words)
        if to.missing and not match.string.startswith("</title", match.end() - 1):
            known = f'<span lang="en">{known}</span>'
        to.missing.clear()
        return f">{before}{known}{after}<"

    told = TEXT.sub(said, html)
    return told.replace('<html lang="en">', f'<html lang="{code}" dir="{to.to.direction}">', 1)
