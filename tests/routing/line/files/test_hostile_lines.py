"""Hostile files, each read in its own process: quick, small, silent, and nothing else opened."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hostile_lines import CANARY, write_corpus

SECONDS = 20.0
MEGABYTES = 500.0
READ = {
    "at-limit.wkt",
    "at-limit.csv",
    "prj.shp",
    "wrong-size.kmz",
    "root.kmz",
    "parts-in-chain.geojson",
}
"""Files that hold a sound line under their trick; the trick must not work."""


def outcomes(reader: str, paths: list[Path]) -> dict[str, dict[str, Any]]:
    """Return what came of each file."""
    script = Path(__file__).parents[3] / "support" / "read_in_child.py"
    run = subprocess.run(
        [sys.executable, str(script), reader, *map(str, paths)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert CANARY not in run.stderr
    return {row["name"]: row for row in map(json.loads, run.stdout.splitlines())}


@pytest.fixture(scope="module")
def listener() -> Any:
    """Return a socket that would notice a caller."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.01)
        yield server


@pytest.fixture(scope="module")
def corpus(tmp_path_factory: pytest.TempPathFactory, listener: socket.socket) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("hostile") / "files"
    folder.mkdir()
    return write_corpus(folder, address=f"http://127.0.0.1:{listener.getsockname()[1]}")


def check(found: dict[str, dict[str, Any]], listener: socket.socket) -> None:
    """Hold each outcome against the limits, and make sure that nobody called."""
    for name, row in found.items():
        assert row["outcome"] in ("read", "refused"), (name, row["message"])
        assert row["seconds"] < SECONDS, (name, row["seconds"])
        assert row["megabytes"] < MEGABYTES, (name, row["megabytes"])
        assert row["opened"] == [], (name, row["opened"])
        assert CANARY not in row["message"], name
        assert len(row["message"]) < 3000, name
        assert "Traceback" not in row["message"], name
    with pytest.raises(TimeoutError):
        listener.accept()


def test_read_route__hostile_files(corpus: dict[str, Path], listener: socket.socket) -> None:
    found = outcomes("route", list(corpus.values()))
    assert found.keys() == corpus.keys()
    check(found, listener)
    assert {name for name, row in found.items() if row["outcome"] == "read"} == READ


def test_read_survey__hostile_files(corpus: dict[str, Path], listener: socket.socket) -> None:
    endings = {".csv", ".geojson", ".gpkg", ".gpx"}
    paths = [path for path in corpus.values() if path.suffix in endings]
    found = outcomes("survey", paths)
    check(found, listener)
    assert not any(row["outcome"] == "read" for row in found.values())
