"""Sources are named by title; a page's address stands in a column of its own."""

from __future__ import annotations

import ast
import csv
import re
from pathlib import Path

import pytest

import routing

ROOT = Path(routing.__file__).parent
ENDS = "com|org|net|edu|gov|mil|int|info|io|cn|ca|mx|us|uk|eu|de|fr|ch|au|nz|za|in|id|sz|fl|ac"
HOST = re.compile(rf"https?://|www\.|\b[a-z0-9][a-z0-9-]*\.(?:{ENDS})\b(?![(\w])|scribd")
TABLES = sorted(ROOT.rglob("data/*.csv"))
ADDRESSES = ROOT / "data" / "addresses.csv"


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def docstrings(path: Path) -> list[str]:
    kinds = (ast.Module, ast.ClassDef, ast.FunctionDef)
    nodes = (
        node for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, kinds)
    )
    return [doc for node in nodes if (doc := ast.get_docstring(node))]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("scribd.com/document/1", True),
        ("a table, pipes.example.org, page 3", True),
        ("www.pipes", True),
        ("AWWA Manual M11, table 4.2, p. 7", False),
        ("ISO 4427-2:2007, 12.5 mm; doi 10.1029/2008GL034592", False),
    ],
)
def test_host__is_told_from_a_title(text: str, found: bool) -> None:
    assert bool(HOST.search(text)) is found


@pytest.mark.parametrize("path", TABLES, ids=lambda path: str(path.relative_to(ROOT)))
def test_tables__no_host_outside_the_column_of_addresses(path: Path) -> None:
    for row in rows(path):
        assert None not in row, "a cell too many: a comma without quotes"
        for column, cell in row.items():
            assert column == "address" or not HOST.search(cell), f"{column}: {cell}"


def test_docstrings__name_titles_and_no_hosts() -> None:
    found = [
        (path.name, match[0])
        for path in sorted(ROOT.rglob("*.py"))
        for doc in docstrings(path)
        if (match := HOST.search(doc))
    ]
    assert not found


def test_addresses__each_belongs_to_a_title_that_is_used() -> None:
    texts = [
        cell for path in TABLES if path != ADDRESSES for row in rows(path) for cell in row.values()
    ]
    texts += [" ".join(doc.split()) for path in ROOT.rglob("*.py") for doc in docstrings(path)]
    for row in rows(ADDRESSES):
        assert HOST.search(row["address"]), row
        assert any(row["title"] in text for text in texts), row["title"]
