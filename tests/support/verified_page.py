"""The guide's page "How it was verified", from the records of the tests.

``python tests/support/verified_page.py`` writes it anew; a test holds it against the records.
"""

from __future__ import annotations

import importlib.util
import math
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

TESTS = Path(__file__).resolve().parents[1]
PAGE = TESTS.parent / "web" / "guide" / "verified.md"
HEAD = """# How it was verified

Every formula is held, in every run of the tests, against values from outside this project:
standards, handbook tables, worked examples, reference libraries. This page is made from the tests'
own records: who says so, what was worked out, how many values, and how far off the farthest one is.
"From memory" marks a value that was remembered and not read; "independently computed" one that was
worked out another way. Beside these stand tests of properties, tests over the whole range of each
formula, and comparisons with independent programs: they are in the source.

| source | what | values | farthest off |
| --- | --- | --- | --- |
"""


def records() -> Iterator[tuple[str, Any]]:
    """Yield the records of every reference test, with the name of its file."""
    sys.path[:0] = [str(TESTS / "support"), str(TESTS.parent)]
    from published import Record

    for path in sorted((TESTS / "reference").glob("test_*.py")):
        spec = importlib.util.spec_from_file_location(f"verified_{path.stem}", path)
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        for name, test in vars(module).items():
            for mark in getattr(test, "pytestmark", ()) if name.startswith("test_") else ():
                if mark.name != "parametrize":
                    continue
                for each in mark.args[1]:
                    if isinstance(each, Record):
                        yield path.stem.removeprefix("test_"), each


HOST = re.compile(
    r"[(,;: ]*(?:\b(?:at|and) )?\b[a-z0-9-]+(?:\.[a-z0-9-]+)*"
    r"\.(?:com|org|gov|edu|net|au|de|id|ca|uk)\b[^\s,;)]*(?:,? threads? \d+| and \d+)*"
)


def source_of(record: Any) -> str:
    """Return a record's source by its title; the address of a page stands in the test alone."""
    title = HOST.sub("", record.source).replace("()", "")
    for opened, kept in ((1, ")"), (-1, "")):
        if title.count("(") * opened > title.count(")") * opened:
            title = title + kept if kept else title.replace(")", "", 1)
    title = title.strip(" ,;:")
    if not re.search(r"[A-Za-z]{4}", title) or title.startswith("and "):
        return "Tables of a handbook or maker"
    return title[:1].upper() + title[1:]


def said(record: Any) -> str:
    """Return what a record's formula works out, in the words of its docstring."""
    formula = record.outcome.formula
    first = (formula.__doc__ or "").strip().partition("\n")[0]
    words = re.sub(r" ?\[\d+\]_", "", first.removeprefix("Return ")).removesuffix(".")
    words = words.replace("``", "")
    if words and formula.__name__ != "<lambda>":
        return words
    return ""


def off(record: Any) -> float | None:
    """Return how far off a record comes out, as a share of the value; None for words."""
    found = record.outcome.formula(*record.inputs)
    try:
        wanted, got = float(record.expected), float(found)
    except (TypeError, ValueError):
        return None
    if isinstance(record.expected, bool) or not math.isfinite(wanted):
        return None
    return abs(got - wanted) / abs(wanted) if wanted else abs(got)


def page() -> str:
    """Return the page's text."""
    rows: dict[tuple[str, str, str], list[float | None]] = {}
    for topic, record in records():
        key = (topic, source_of(record), said(record))
        rows.setdefault(key, []).append(off(record))
    lines = []
    for (topic, source, what), found in rows.items():
        numbers = [share for share in found if share is not None]
        worst = f"{100.0 * max(numbers):.2g} %" if numbers else "as published"
        if numbers and max(numbers) < 1e-9:
            worst = "none"
        what = what or topic.replace("_", " ")
        cells = (source, what[:1].upper() + what[1:], str(len(found)), worst)
        lines.append("| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |")
    count = sum(len(found) for found in rows.values())
    sources = len({source for _, source, _ in rows})
    return f"{HEAD}{chr(10).join(lines)}\n\n{count} values of {sources} sources.\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
