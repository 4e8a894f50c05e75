"""Readers of lines and surveys on damaged files: an answer or one of our errors, nothing else."""

from __future__ import annotations

import os
import random
import time
from pathlib import Path

import pytest
from hostile_lines import line_samples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from routing.errors import InputError
from routing.line import Route, read_route
from routing.survey import SurveyPoint, read_survey

SLOW_SECONDS = float(os.environ.get("LEATLINE_FUZZ_SECONDS", "600"))
NAMES = [
    "a.geojson",
    "a.gpx",
    "a.kml",
    "a.kmz",
    "a.csv",
    "a.wkt",
    "a.gpkg",
    "a.shp",
    "a.zip",
    "b.geojson",
    "b.csv",
]
SNIPPETS = [
    b"\x00",
    b"\xff\xff\xff\xff",
    b"\x7f\xff\xff\xff",
    b"\x00\x00\x00\x80",
    b"1e999",
    b"NaN",
    b"-0",
    b"[",
    b"]",
    b"{",
    b'"',
    b",",
    b"<",
    b">",
    b"&amp;",
    b"(",
    b")",
    b"\xef\xbb\xbf",
    b"null",
    b"EMPTY",
    b"SRID=4326;",
    b"\r\n",
    b"99999999999999999999",
]


@pytest.fixture(scope="module")
def samples(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    found = line_samples(tmp_path_factory.mktemp("samples"))
    found["b.geojson"] = (
        b'{"type": "FeatureCollection", "crs": {"properties": {"name": "EPSG:32632"}}, '
        b'"features": ['
        b'{"type": "Feature", "properties": {"name": "peg", "elevation": "412.6 m"}, "geometry":'
        b' {"type": "Point", "coordinates": [500000, 5130000, 412.6]}}]}'
    )
    found["b.csv"] = b"name;station (ft);elevation_ft;accuracy\npeg;310,5;1353,7;0,05\n"
    return found


def mutated(data: bytes, chance: random.Random) -> bytes:
    """Return data with a few bytes changed, cut, doubled or put in."""
    broken = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(broken) + 1)
        span = chance.choice([1, 1, 2, 4, 16, 64])
        kind = chance.randrange(5)
        if kind == 0 and broken:
            broken[min(at, len(broken) - 1)] = chance.randrange(256)
        elif kind == 1:
            del broken[at : at + span]
        elif kind == 2:
            broken[at:at] = broken[at : at + span]
        elif kind == 3:
            broken[at:at] = chance.choice(SNIPPETS)
        else:
            snippet = chance.choice(SNIPPETS)
            broken[at : at + len(snippet)] = snippet
    return bytes(broken)


def put(folder: Path, name: str, data: bytes, samples: dict[str, bytes]) -> Path:
    path = folder / name
    path.write_bytes(data)
    if name == "a.shp":
        from hostile_lines import shapefile

        path.with_suffix(".shx").write_bytes(shapefile(folder)[".shx"])
    return path


def attempt(path: Path) -> None:
    """Read a file as a line and as a survey; any other error than ours comes through."""
    found: list[object] = []
    for reader in (read_route, read_survey):
        try:
            found.append(reader(path))
        except InputError as error:
            found.append(bool(str(error) and error.remedy))
    route, points = found
    assert route is True or isinstance(route, Route)
    assert points is True or all(isinstance(point, SurveyPoint) for point in points)  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", NAMES)
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 2**32))
def test_readers__damaged_files(
    name: str, seed: int, tmp_path: Path, samples: dict[str, bytes]
) -> None:
    data = mutated(samples[name], random.Random(seed))
    attempt(put(tmp_path, name, data, samples))


@pytest.mark.parametrize("name", NAMES)
@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.binary(max_size=300))
def test_readers__any_bytes(
    name: str, data: bytes, tmp_path: Path, samples: dict[str, bytes]
) -> None:
    attempt(put(tmp_path, name, samples[name][:12] + data, samples))


@pytest.mark.slow
def test_readers__damaged_files_for_a_long_time(tmp_path: Path, samples: dict[str, bytes]) -> None:
    # The seed of the file that fails stands in the error; the file stays in the folder.
    end = time.monotonic() + SLOW_SECONDS
    begin = random.SystemRandom().randrange(2**32)
    rounds = 0
    while time.monotonic() < end:
        name = NAMES[rounds % len(NAMES)]
        data = mutated(samples[name], random.Random(begin + rounds))
        path = put(tmp_path, name, data, samples)
        try:
            attempt(path)
        except Exception as error:
            raise AssertionError(f"{name}, seed {begin + rounds}: {data!r}") from error
        rounds += 1
    assert rounds > 1000
