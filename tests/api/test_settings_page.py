"""What people read of the settings is what their rows say."""

from __future__ import annotations

from pathlib import Path

import pytest

from api.settings_page import ELSEWHERE, FILES, field_rows, guide_text, table_rows
from routing.settings import Settings, rows_of


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_files__are_what_the_rows_give(path: Path) -> None:
    written = path.read_text(encoding="utf-8")
    assert written == FILES[path](), "run: python -m api.settings_page"


def test_guide_text__every_key_has_its_line_with_range_and_meaning() -> None:
    lines = guide_text().splitlines()
    for table in rows_of(Settings).values():
        for told in rows_of(table.reader.rows or Settings).values():
            assert any(
                line.startswith(f"| `{told.key}` | {told.meaning} | ")
                and (told.reader.rows is not None or f"| {told.reader.takes} |" in line)
                for line in lines
            ), (table.key, told.key)


def test_field_rows__every_key_of_every_table_has_one() -> None:
    fields, tables = field_rows(), table_rows()

    def held(kind: type, above: str) -> None:
        for told in rows_of(kind).values():
            path = f"{above}{told.key}"
            if path in ELSEWHERE:
                continue
            if told.reader.rows is None:
                assert path in fields
                assert fields[path]["label"]
                assert fields[path]["meaning"]
            else:
                assert path in tables
                held(told.reader.rows, f"{path}.")

    held(Settings, "")
    assert len(fields) > 120


def test_field_rows__ends_are_in_si() -> None:
    rows = field_rows()
    assert rows["flow.design"]["ends"] == [1e-5, 100.0]
    assert rows["terrain.unit"]["choices"] == ["m", "ft", "US survey foot"]
