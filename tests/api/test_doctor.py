"""``leatline doctor``: each part is tried, and what is wrong is said with the remedy."""

from __future__ import annotations

import shutil
from pathlib import Path
from types import SimpleNamespace

import pyproj
import pytest
from leatline_command import leatline

from api.doctor import trials
from routing.words import IN_ENGLISH, languages, said, said_message, speaking


def told(data: Path) -> dict[str, tuple[bool, str]]:
    return {trial.part: (trial.works, trial.told) for trial in trials(data)}


def test_every_part_works_where_the_tests_run(tmp_path: Path) -> None:
    wrong = {part: text for part, (works, text) in told(tmp_path / "data").items() if not works}
    assert wrong == {}


@pytest.mark.parametrize("code", [code for code in languages() if code != "en"])
def test_what_is_said_of_each_part_is_in_the_catalogue(code: str, tmp_path: Path) -> None:
    tried = trials(tmp_path / "data")
    with speaking(code) as to:
        for trial in tried:
            assert said(trial.part)
            assert to(IN_ENGLISH) not in said_message("", trial.told)[0], trial
    assert list(to.missing) == []


def test_a_broken_projection_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shifted = SimpleNamespace(transform=lambda lon, lat: (577275.99, 69740.50))
    monkeypatch.setattr(pyproj.Transformer, "from_crs", lambda *a, **k: shifted)
    works, text = told(tmp_path)["coordinates (PROJ)"]
    assert not works
    assert "reinstall pyproj" in text


def test_a_full_disk_is_told_with_the_remedy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda place: SimpleNamespace(free=5_000_000))
    works, text = told(tmp_path)["data folder"]
    assert not works
    assert "5 MB free" in text
    assert "--data" in text


def test_the_command_ends_well_and_leaves_nothing(tmp_path: Path) -> None:
    done = leatline("doctor", "--data", "data", cwd=tmp_path)
    assert done.returncode == 0, done.stdout
    assert b"FAILS" not in done.stdout
    assert list(tmp_path.iterdir()) == []
