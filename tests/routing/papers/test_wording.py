"""Messages name settings as the file writes them; on paper they speak the words of the trade."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from legible import CODE_NAME, FILE_MARKS

import routing
from routing.papers.wording import plainly, worded
from routing.settings import Settings, rows_of
from routing.trade_table import trade_table

ROOT = Path(routing.__file__).parent
APART = ("document", "search", "choice", "settings", "choice_case", "choice_study", "papers")
"""Rooms whose messages are answers to a command, or that speak of settings files."""
TABLES = "|".join(rows_of(Settings))
NAMED = re.compile(
    rf"(?<![\w/])(?:{TABLES})\.(?!json)[a-z_]{{3,}}\b(?![(\]/])| under \[[a-z]|\[\[[a-z]"
)
"""What names a setting: its table and key, or a table in brackets."""
ROWS = trade_table(str(ROOT / "papers/wording.py"), "plain_settings.csv")


def sentences() -> Iterator[str]:
    """Yield every text of the trade's code that may reach a paper, numbers put in."""
    for path in sorted(ROOT.rglob("*.py")):
        if path.relative_to(ROOT).parts[0].removesuffix(".py") in APART:
            continue
        text = path.read_text(encoding="utf-8")
        if NAMED.search(text) is None:
            continue
        nodes = list(ast.walk(ast.parse(text)))
        # Parts of a text that numbers are put in, and what stands by itself: a docstring.
        within = {id(part) for node in nodes if isinstance(node, ast.JoinedStr)
                  for part in node.values}  # fmt: skip
        within |= {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
        for node in nodes:
            if isinstance(node, ast.JoinedStr):
                yield "".join(
                    str(part.value) if isinstance(part, ast.Constant) else "7"
                    for part in node.values
                )
            elif isinstance(node, ast.Constant) and id(node) not in within:
                yield str(node.value)


def test_messages__no_name_of_a_setting_comes_through() -> None:
    told = [text for text in sentences() if NAMED.search(text) and " " in text]
    assert len(told) > 10
    for text in told:
        said = plainly(text)
        assert NAMED.search(said) is None, said
        assert FILE_MARKS.search(said) is None, said
        assert CODE_NAME.search(said) is None, said


def test_plain_settings__each_is_a_setting_that_there_is() -> None:
    tables = rows_of(Settings)
    for row in ROWS:
        table, _, key = row["setting"].partition(".")
        assert table in tables, row
        reader = tables[table].reader
        assert not key or (reader.rows is not None and key in rows_of(reader.rows)), row


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            'Ask for: [[trench.limit]] from = "839 m", not trench.max_depth.',
            "Ask for: a stretch with limits of its own from 839\u00a0m, not the greatest depth of "
            "the trench.",
        ),
        (
            'set unit = "ft" or "US survey foot" under [terrain].',
            "set the unit of the raster's heights to ft or US survey foot.",
        ),
        (
            "an assumption: set site.vents_may_freeze to false if they are kept from frost",
            "an assumption: set the freezing of vents to no if they are kept from frost",
        ),
        ('The file "line 2.gpx" of study.json, ISO 4427-2', 'The file "line 2.gpx" of study.json, '
         "ISO 4427-2"),
    ],
)  # fmt: skip
def test_worded__says_what_is_meant_and_leaves_the_rest(text: str, told: str) -> None:
    assert worded(text) == told
