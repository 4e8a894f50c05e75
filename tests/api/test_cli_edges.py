"""The command line among files of the user's own, odd terminals, closed pipes and full devices."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from leatline_command import ROOT, clean, leatline
from missing import missing

COMMAND = [sys.executable, "-m", "api.cli"]
LINUX_FULL = Path("/dev/full")
"""A device that is always full (Linux, full(4))."""


def error_of(done: subprocess.CompletedProcess[bytes], code: int = 2) -> dict[str, object]:
    """Return the one object that a command wrote on standard error."""
    assert done.returncode == code, done.stderr
    assert done.stdout == b""
    said: dict[str, object] = json.loads(done.stderr)
    assert said.keys() == {"code", "message", "remedy", "station_m"}
    return said


def test_study__second_run_replaces_the_first_alone(
    hill: Path, line_file: Path, settings_file: Path, tmp_path: Path
) -> None:
    run = ("study", line_file, "--terrain", hill, "--settings", settings_file, "--out", "out")
    clean(leatline(*run, "--papers", cwd=tmp_path), 0)
    papers = {path.name for path in (tmp_path / "out").iterdir()}
    (tmp_path / "out" / "notes.txt").write_text("mine")
    said = clean(leatline(*run, cwd=tmp_path), 0)
    after = {path.name for path in (tmp_path / "out").iterdir()}
    assert "notes.txt" in said
    assert "notes.txt" in after
    assert {"report.pdf"} <= papers - after


def test_study__own_file_in_the_way(hill: Path, line_file: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "study.json").write_text("mine")
    run = ("study", line_file, "--terrain", hill, "--out", "out")
    assert "study.json" in clean(leatline(*run, cwd=tmp_path), 2)
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["study.json"]
    said = error_of(leatline(*run, "--format", "json", cwd=tmp_path))
    assert "study.json" in str(said["message"])
    assert (tmp_path / "out" / "study.json").read_text() == "mine"


def test_errors__as_json(hill: Path, line_file: Path, tmp_path: Path) -> None:
    as_json = ("--format", "json")
    no_file = leatline("study", line_file, "--terrain", "no.tif", *as_json, cwd=tmp_path)
    assert "no.tif" in str(error_of(no_file)["message"])
    away = tmp_path / "away.geojson"
    line = json.loads(line_file.read_bytes())
    line["geometry"]["coordinates"].append([-16.0, 62.2])
    away.write_text(json.dumps(line))
    outside = error_of(leatline("study", away, "--terrain", hill, *as_json, cwd=tmp_path))
    assert outside["code"] == "outside_terrain"
    assert isinstance(outside["station_m"], float)
    assert outside["remedy"]
    usage = error_of(leatline("study", line_file, *as_json, cwd=tmp_path))
    assert usage["code"] == "usage"
    assert "--terrain" in str(usage["message"])
    option = leatline("study", line_file, "--terrain", hill, "--format=json", "--no", cwd=tmp_path)
    assert error_of(option)["code"] == "usage"
    assert {path.name for path in tmp_path.iterdir()} == {line_file.name, "away.geojson"}


def test_settings__with_a_byte_order_mark(
    hill: Path, line_file: Path, settings_file: Path, tmp_path: Path
) -> None:
    settings_file.write_bytes(b"\xef\xbb\xbf" + settings_file.read_bytes())
    line_file.write_bytes(b"\xef\xbb\xbf" + line_file.read_bytes())
    run = ("study", line_file, "--terrain", hill, "--settings", settings_file, "--out", "out")
    clean(leatline(*run, cwd=tmp_path), 0)


@pytest.mark.parametrize(
    "deep",
    ["a = " + "[" * 50_000, "a = " + "{b=" * 30_000],
    ids=["list", "table"],
)
def test_settings__nested_beyond_sense(
    hill: Path, line_file: Path, tmp_path: Path, deep: str
) -> None:
    (tmp_path / "deep.toml").write_text(deep)
    run = ("study", line_file, "--terrain", hill, "--settings", "deep.toml")
    assert "deep.toml" in clean(leatline(*run, cwd=tmp_path), 2)


@pytest.mark.parametrize("charset", ["ascii", "cp437", "latin-1"])
def test_terminal__without_our_characters(
    hill: Path, line_file: Path, settings_file: Path, tmp_path: Path, charset: str
) -> None:
    run = ("study", line_file, "--terrain", hill, "--settings", settings_file, "--out", "out")
    done = leatline(*run, cwd=tmp_path, PYTHONIOENCODING=charset)
    assert done.returncode == 0, done.stderr
    printed = done.stdout.decode(charset)
    assert "?" not in printed
    assert leatline("--help", cwd=tmp_path, PYTHONIOENCODING=charset).returncode == 0


def shell(command: str, cwd: Path) -> subprocess.CompletedProcess[bytes]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "LEATLINE": " ".join(COMMAND)}
    return subprocess.run(
        ["bash", "-c", command], cwd=cwd, env=environment, capture_output=True, timeout=120
    )


def test_pipe__closed_early(hill: Path, line_file: Path, tmp_path: Path) -> None:
    run = f"$LEATLINE study '{line_file}' --terrain '{hill}' --out out"
    for more in ("", "--format json"):
        done = shell(f"{run} {more} | head -1; exit ${{PIPESTATUS[0]}}", tmp_path)
        assert done.returncode == 0, done.stderr
        assert b"Traceback" not in done.stderr
        assert b"BrokenPipe" not in done.stderr
    assert (tmp_path / "out" / "study.json").exists()


def test_output__device_is_full(hill: Path, line_file: Path, tmp_path: Path) -> None:
    if not LINUX_FULL.exists():
        missing(f"{LINUX_FULL}, a device that is always full,")
    for run in (f"study '{line_file}' --terrain '{hill}' --out out", f"terrain '{hill}'",
                "--help", "--version", f"terrain '{hill}' --format json"):  # fmt: skip
        done = shell(f"$LEATLINE {run} >/dev/full", tmp_path)
        assert done.returncode == 2, (run, done.stderr)
        assert b"Traceback" not in done.stderr
        assert b"space" in done.stderr
