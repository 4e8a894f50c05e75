from __future__ import annotations

import stat
from pathlib import Path

import pytest

from api.folder import output_folder
from routing.errors import InputError


def fail_after_writing(draft: Path, error: BaseException) -> None:
    (draft / "one").write_text("new")
    raise error


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_output_folder__appears_whole(tmp_path: Path) -> None:
    wanted = tmp_path / "a" / "b"
    with output_folder(wanted) as output:
        (output.draft / "one").write_text("1")
        assert not wanted.exists()
    assert output.place == wanted
    assert names(wanted) == ["one"]
    assert names(wanted.parent) == ["b"]
    assert stat.S_IMODE(wanted.stat().st_mode) & 0o500 == 0o500


def test_output_folder__error_leaves_nothing_not_even_parents(tmp_path: Path) -> None:
    with pytest.raises(ZeroDivisionError), output_folder(tmp_path / "a" / "b") as output:
        fail_after_writing(output.draft, ZeroDivisionError())
    assert names(tmp_path) == []


def test_output_folder__error_leaves_an_existing_folder_as_it_was(tmp_path: Path) -> None:
    wanted = tmp_path / "a"
    wanted.mkdir()
    (wanted / "one").write_text("old")
    with pytest.raises(KeyboardInterrupt), output_folder(wanted) as output:
        fail_after_writing(output.draft, KeyboardInterrupt())
    assert (wanted / "one").read_text() == "old"
    assert names(tmp_path) == ["a"]


def test_output_folder__replaces_only_files_of_the_same_name(tmp_path: Path) -> None:
    wanted = tmp_path / "a"
    wanted.mkdir()
    (wanted / "one").write_text("old")
    (wanted / "mine").write_text("mine")
    with output_folder(wanted) as output:
        (output.draft / "one").write_text("new")
    assert (wanted / "one").read_text() == "new"
    assert names(wanted) == ["mine", "one"]
    assert names(tmp_path) == ["a"]


def test_output_folder__new_takes_the_next_free_name(tmp_path: Path) -> None:
    places = []
    for _ in range(3):
        with output_folder(tmp_path / "line", new=True) as output:
            (output.draft / "one").write_text("1")
        places.append(output.place.name)
    assert places == ["line", "line-2", "line-3"]
    assert names(tmp_path) == places


def test_output_folder__file_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("a file")
    with pytest.raises(InputError, match="is a file"), output_folder(tmp_path / "a"):
        pass
    with pytest.raises(InputError, match="--out"), output_folder(tmp_path / "a" / "b"):
        pass
    assert names(tmp_path) == ["a"]
