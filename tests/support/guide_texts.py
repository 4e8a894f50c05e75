"""README and pages of the guide: the commands and settings that stand in them."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import web

__all__ = ["GUIDE", "TEXTS", "commands", "settings_pieces"]

GUIDE = Path(web.__file__).parent / "guide"
TEXTS = (GUIDE.parents[1] / "README.md", *sorted(GUIDE.glob("*.md")))


def commands(text: str) -> list[list[str]]:
    """Return the commands that a text tells to type, continued lines joined."""
    joined = re.sub(r"\\\n\s*", " ", text)
    found = re.findall(r"^ *(?:\$ )?(leatline .*)$", joined, re.MULTILINE)
    found += re.findall(r"`(leatline [^`]*)`", joined)
    return [shlex.split(line.partition("#")[0].replace("\n", " "))[1:] for line in found]


def settings_pieces(text: str) -> list[str]:
    """Return the pieces of settings files that a text shows."""
    return re.findall(r"^ *```toml\n(.*?)^ *```", text, re.DOTALL | re.MULTILINE)
