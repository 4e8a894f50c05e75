from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from api.folder import MANIFEST, output_file, output_folder
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
    assert names(wanted) == [MANIFEST, "one"]
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


def write(wanted: Path, **files: str) -> tuple[str, ...]:
    with output_folder(wanted) as output:
        for name, text in files.items():
            place = output.draft / name.replace("__", "/")
            place.parent.mkdir(exist_ok=True)
            place.write_text(text)
    return output.left


def test_output_folder__replaces_exactly_what_earlier_runs_wrote(tmp_path: Path) -> None:
    wanted = tmp_path / "a"
    write(wanted, one="old", gone="old", sub__two="old", sub2__three="old")
    (wanted / "mine").write_text("mine")
    (wanted / "sub2" / "mine").write_text("mine")
    assert write(wanted, one="new", sub__two="new") == ("mine", "sub2")
    assert (wanted / "one").read_text() == "new"
    assert (wanted / "sub" / "two").read_text() == "new"
    assert names(wanted) == [MANIFEST, "mine", "one", "sub", "sub2"]
    assert names(wanted / "sub2") == ["mine"]
    assert write(wanted, one="third") == ("mine", "sub2")
    assert names(wanted) == [MANIFEST, "mine", "one", "sub2"]
    assert names(tmp_path) == ["a"]


@pytest.mark.parametrize("kind", ["own", "changed", "folder", "link", "file for a folder"])
def test_output_folder__users_own_file_in_the_way(tmp_path: Path, kind: str) -> None:
    wanted = tmp_path / "a"
    write(wanted, zero="old", **({"one": "old"} if kind == "changed" else {}))
    own = tmp_path / "elsewhere"
    own.write_text("mine")
    if kind == "folder":
        (wanted / "one").mkdir()
    elif kind == "link":
        (wanted / "one").symlink_to(own)
    elif kind == "file for a folder":
        (wanted / "sub").write_text("mine")
    else:
        (wanted / "one").write_text("mine")
    before = names(wanted)
    with pytest.raises(InputError, match="sub" if kind.startswith("file") else "one"):
        write(wanted, zero="new", one="new", sub__two="new")
    assert names(wanted) == before
    assert (wanted / "zero").read_text() == "old"
    assert own.read_text() == "mine"
    assert names(tmp_path) == ["a", "elsewhere"]


def test_output_folder__same_contents_are_in_nobodys_way(tmp_path: Path) -> None:
    wanted = tmp_path / "a"
    wanted.mkdir()
    (wanted / "one").write_text("same")
    write(wanted, one="same")
    write(wanted, one="new")
    assert (wanted / "one").read_text() == "new"


@pytest.mark.parametrize("text", ["", "[]", '{"files": {"../x": ["1"]}}', '{"files": 5}', "\x00"])
def test_output_folder__damaged_list_claims_nothing(tmp_path: Path, text: str) -> None:
    wanted = tmp_path / "a"
    wanted.mkdir()
    (tmp_path / "x").write_text("mine")
    (wanted / "one").write_text("mine")
    (wanted / MANIFEST).write_text(text)
    with pytest.raises(InputError, match="one"):
        write(wanted, one="new")
    write(wanted, two="new")
    assert (tmp_path / "x").read_text() == "mine"
    assert (wanted / "one").read_text() == "mine"


def test_output_folder__killed_on_the_way_is_mended_by_the_next_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted, really = tmp_path / "a", os.replace
    for moves in range(3):
        write(wanted, one="old", two="old", three="old")
        left = moves

        def dies(source: Path, place: Path) -> None:
            nonlocal left
            if left == 0:
                raise KeyboardInterrupt
            left -= 1
            really(source, place)

        with monkeypatch.context() as patch:
            patch.setattr("api.folder.os.replace", dies)
            with pytest.raises(KeyboardInterrupt):
                write(wanted, one="new", two="new")
        write(wanted, one="last", two="last")
        assert names(wanted) == [MANIFEST, "one", "two"]
        assert (wanted / "one").read_text() == (wanted / "two").read_text() == "last"


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


def test_output_file__replaces_its_own_and_nothing_else(tmp_path: Path) -> None:
    wanted = tmp_path / "line.csv"
    for text in ("first", "second"):
        with output_file(wanted):
            wanted.write_text(text)
    wanted.write_text("mine")
    with pytest.raises(InputError, match=r"line\.csv"), output_file(wanted):
        pass
    other, empty = tmp_path / "other.csv", tmp_path / "empty.csv"
    other.write_text("mine")
    with pytest.raises(InputError, match=r"other\.csv"), output_file(other):
        other.write_text("never")
    assert other.read_text() == "mine"
    empty.touch()
    with output_file(empty):
        empty.write_text("new")


def test_output_file__is_left_alone_by_runs_into_its_folder(tmp_path: Path) -> None:
    wanted = tmp_path / "a"
    write(wanted, one="old")
    with output_file(wanted / "report.pdf"):
        (wanted / "report.pdf").write_text("asked for alone")
    assert write(wanted, two="new") == ()
    assert names(wanted) == [MANIFEST, "report.pdf", "two"]
    write(wanted, **{"report.pdf": "of a run"})  # a run may write it: it is of Leatline
    assert (wanted / "report.pdf").read_text() == "of a run"
