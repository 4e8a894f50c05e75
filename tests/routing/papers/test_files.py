"""Files written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from routing.papers.files import beside, write_text


def test_write_text__replaces_and_leaves_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")
    write_text(path, "nëw\n")
    assert path.read_bytes() == "nëw\n".encode()
    assert list(tmp_path.iterdir()) == [path]


def test_beside__failure_keeps_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")

    def half_written() -> None:
        with beside(path) as draft:
            draft.write_text("half")
            raise RuntimeError("stop")

    with pytest.raises(RuntimeError):
        half_written()
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]
