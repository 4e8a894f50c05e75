"""Rasters from strangers: one answer in seconds, in bounded memory, and of nothing but themselves.

Each case goes through the command line in a child of its own that may not have more memory or
time; see ``hostile_rasters`` for what is wrong with each.
"""

from __future__ import annotations

import socket
import struct
import threading
from collections.abc import Iterator
from pathlib import Path

import hostile_rasters as hostile
import pytest
from forked_commands import Ended, forked_commands

from routing.errors import RasterTooLarge
from routing.terrain import open_terrain

MOST_MB, MOST_SECONDS = 500, 30.0
"""Most memory [MB] and processor time [s] of an answer."""


def run(*arguments: str) -> Ended:
    """Run a command with limits on its memory and time."""
    return forked_commands()(*arguments, limited=True)


@pytest.fixture(scope="module")
def listener() -> Iterator[tuple[int, list[str]]]:
    """Listen at a local port and note every connection."""
    server, calls = socket.create_server(("127.0.0.1", 0)), []

    def listen() -> None:
        while True:
            try:
                connection, place = server.accept()
            except OSError:
                return
            calls.append(str(place))
            connection.close()

    thread = threading.Thread(target=listen)
    thread.start()
    yield server.getsockname()[1], calls
    server.shutdown(socket.SHUT_RDWR)
    server.close()
    thread.join()


def check(answer: Ended, codes: tuple[int, ...]) -> None:
    """Assert what every answer must be like."""
    out, err = answer.out.decode("utf-8", "replace"), answer.err.decode("utf-8", "replace")
    text = out + err
    assert answer.code in codes, text[-800:]
    assert answer.peak_mb < MOST_MB
    assert answer.seconds < MOST_SECONDS
    unsaid = ("Traceback", "UserWarning", "RuntimeWarning", hostile.SECRET)
    for word in (*unsaid, f"{hostile.SECRET_HEIGHT}"):
        assert word not in text
    if answer.code == 2:
        assert err.startswith("leatline: ")
        assert err.count("\n") == 1
        assert len(err) < 1500
        assert out == ""


@pytest.mark.parametrize(
    ("maker", "codes"),
    [
        *((maker, (2,)) for maker in hostile.REFUSED),
        *((maker, (0,)) for maker in hostile.READ),
        *((maker, (0, 2)) for maker in hostile.EITHER),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_leatline__hostile_raster(
    listener: tuple[int, list[str]],
    tmp_path: Path,
    maker: hostile.Maker,
    codes: tuple[int, ...],
) -> None:
    port, calls = listener
    raster = maker(tmp_path, port)
    line, out = hostile.write_line(tmp_path / "line.geojson"), tmp_path / "out"
    check(run("terrain", str(raster)), codes)
    answer = run("study", str(line), "--terrain", str(raster), "--out", str(out))
    check(answer, codes)
    assert out.exists() == (answer.code == 0)
    for written in out.rglob("*"):
        if written.is_file():
            data = written.read_bytes()
            assert hostile.SECRET.encode() not in data
            assert b"4242.25" not in data
    assert calls == []


def test_leatline__neighbour_of_the_raster_changes_nothing(tmp_path: Path) -> None:
    # The same raster with and without pointing companions gives the same study to the last byte.
    line = hostile.write_line(tmp_path / "line.geojson")
    studies = []
    for name, maker in (("with", hostile.sidecars), ("without", hostile.alone)):
        folder = tmp_path / name
        folder.mkdir()
        raster = maker(folder, 0)
        raster = raster.rename(raster.with_name("same.tif"))
        out = folder / "out"
        assert run("study", str(line), "--terrain", str(raster), "--out", str(out)).code == 0
        studies.append((out / "study.json").read_bytes())
    assert studies[0] == studies[1]


def test_leatline__zeros_are_called_damage(tmp_path: Path) -> None:
    line = hostile.write_line(tmp_path / "line.geojson")
    raster = hostile.zero_part(tmp_path, 0)
    answer = run("study", str(line), "--terrain", str(raster), "--out", str(tmp_path / "out"))
    assert b"Zeros in the raster" in answer.err


@pytest.mark.parametrize("long_form", [False, True])
def test_archive__endless_directory_is_refused_unread(tmp_path: Path, long_form: bool) -> None:
    # The records stand where APPNOTE.TXT (ZIP), 4.3.14 to 4.3.16 puts them.
    size = 10**9
    end = b"PK\x05\x06" + struct.pack("<4H2LH", 0, 0, 1, 1, 0 if long_form else size, 4, 0)
    if long_form:
        record = b"PK\x06\x06" + struct.pack("<Q2H2L4Q", 44, 45, 45, 0, 0, 1, 1, size, 4)
        end = record + b"PK\x06\x07" + struct.pack("<LQL", 0, 4, 1) + end
    path = tmp_path / "tiles.zip"
    path.write_bytes(b"PK\x03\x04" + bytes(100) + end)
    with pytest.raises(RasterTooLarge, match="more than 10000 files"):
        open_terrain([path])
