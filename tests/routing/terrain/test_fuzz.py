"""Damaged bytes of every format: an answer or one of our errors, never anything else."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from raster_seeds import LINE, PRJ, seeds

from routing.errors import LeatlineError, UnreadableRaster
from routing.line import Route, ground_profile
from routing.terrain import describe_terrain, open_terrain

SLOW_SECONDS = float(os.environ.get("LEATLINE_FUZZ_SECONDS", "600"))

change = st.one_of(
    st.tuples(st.just("set"), st.integers(0, 2**16), st.binary(min_size=1, max_size=8)),
    st.tuples(st.just("cut"), st.integers(0, 2**16), st.just(b"")),
    st.tuples(st.just("insert"), st.integers(0, 2**16), st.binary(min_size=1, max_size=64)),
    st.tuples(st.just("drop"), st.integers(0, 2**16), st.binary(min_size=1, max_size=64)),
)
damage = st.tuples(st.sampled_from(sorted(seeds())), st.lists(change, min_size=1, max_size=6))


def damaged(data: bytes, changes: list[tuple[str, int, bytes]]) -> bytes:
    """Return the bytes with the changes made, most of them near the front where headers are."""
    for kind, at, text in changes:
        # Half of all places fall into the first 256 bytes.
        place = at % 256 if at % 2 else at
        place %= max(1, len(data))
        if kind == "cut":
            data = data[:place]
        elif kind == "set":
            data = data[:place] + text + data[place + len(text) :]
        elif kind == "insert":
            data = data[:place] + text + data[place:]
        else:
            data = data[:place] + data[place + len(text) :]
    return data


def read_it_all(path: Path) -> None:
    """Open, describe and profile; our own errors are answers."""
    begin = time.process_time()
    route = Route(name="r", lon=LINE[0], lat=LINE[1])
    said = "read"
    try:
        terrain = open_terrain([path], crs=PRJ if path.suffix == ".asc" else None)
        describe_terrain(terrain)
        ground_profile(terrain, route, bridge_m=30.0)
    except LeatlineError as exc:
        said = str(exc)
    assert 0 < len(said) < 2000, said
    assert time.process_time() - begin < 20.0


def run_one(folder: Path, name: str, changes: list[tuple[str, int, bytes]]) -> None:
    data = damaged(seeds()[name], changes)
    assume(data)
    path = folder / name
    path.write_bytes(data)
    read_it_all(path)


@settings(
    deadline=None, max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(case=damage)
def test_open_terrain__damaged_bytes(
    tmp_path: Path, case: tuple[str, list[tuple[str, int, bytes]]]
) -> None:
    run_one(tmp_path, *case)


@pytest.mark.slow
def test_open_terrain__damaged_bytes_for_ten_minutes(tmp_path: Path) -> None:
    end = time.monotonic() + SLOW_SECONDS

    @settings(
        deadline=None, max_examples=500, database=None, derandomize=False,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(case=damage)
    def some(case: tuple[str, list[tuple[str, int, bytes]]]) -> None:
        run_one(tmp_path, *case)

    while time.monotonic() < end:
        some()


@pytest.mark.parametrize("name", sorted(seeds()))
def test_open_terrain__the_seeds_are_sound(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(seeds()[name])
    terrain = open_terrain([path], crs=PRJ if name == "c.asc" else None)
    profile = ground_profile(terrain, Route(name="r", lon=LINE[0], lat=LINE[1]))
    assert 500.0 <= profile.ground_m.min() < profile.ground_m.max() <= 557.0


def packed(name: bytes, header: bytes | None = None) -> bytes:
    """Return an archive whose directory, and first header, give these names to its one member."""
    data = seeds()["d.zip"]
    old = b"in/tiles.tif"
    at = data.rindex(old)
    data = data[:at] + name + data[at + len(old) :]
    if header is not None:
        data = data.replace(old, header, 1)
    return data


@pytest.mark.parametrize(
    "data",
    [
        packed(b"in/til\xff\xfe.tif").replace(b"PK\x01\x02\x14\x03\x14\x00\x00\x00",
                                             b"PK\x01\x02\x14\x03\x14\x00\x00\x08"),
        packed(b"in/tiles.tif", b"in/titles.ti"),
        seeds()["d.zip"].replace(b"PK\x05\x06", b"PK\x05\x07"),
    ],
    ids=["name no text", "two names", "no directory"],
)  # fmt: skip
def test_open_terrain__archives_that_fuzzing_found(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "x.zip"
    path.write_bytes(data)
    with pytest.raises(UnreadableRaster) as caught:
        open_terrain([path])
    assert len(str(caught.value)) < 800
