"""The list of constants that ``tests/mutations/run.py`` changes names what is there."""

from __future__ import annotations

import csv
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_constants__every_row_finds_its_constant_and_its_tests() -> None:
    lost = []
    with (ROOT / "tests/mutations/constants.csv").open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            path = ROOT / row["file"]
            if not path.is_file() or row["constant"] not in path.read_text(encoding="utf-8"):
                lost.append((row["file"], row["constant"]))
            names = (
                n if "/" in n else f"tests/reference/test_{n}.py" for n in row["tests"].split()
            )
            lost += [(row["file"], name) for name in names if not (ROOT / name).exists()]
    assert lost == []
