"""A study that was changed or cut is refused by the member that is wrong, not by a traceback."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import orjson
import pytest

from routing.document import damage_named, first_fault
from routing.errors import LeatlineError, StudyFileError
from routing.line import read_route
from routing.papers import export_bytes
from routing.record import study_document, to_json
from routing.settings import read_settings
from routing.study import open_study_terrain, run_study
from sample_dem import sample_paths

WRONG: tuple[Any, ...] = (None, 5, "x", [], {}, [1], {"a": 1}, [{}])
FORMS = ("csv", "geojson", "gpx", "kml")


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    sample = sample_paths()
    settings = read_settings(sample.settings)
    terrain = open_study_terrain([sample.terrain], settings)
    made = study_document(run_study(terrain, read_route(sample.line), settings))
    loaded: dict[str, Any] = orjson.loads(to_json(made))
    return loaded


def damaged(document: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield the document with each of its members wrong, or gone."""
    for key, value in document.items():
        for wrong in WRONG:
            if wrong != value:
                yield {**document, key: wrong}
        yield {name: held for name, held in document.items() if name != key}


def test_first_fault__of_a_sound_study_is_none(document: dict[str, Any]) -> None:
    assert first_fault(document) is None


def test_first_fault__of_a_study_that_was_in_no_file_yet_is_none() -> None:
    sample = sample_paths()
    settings = read_settings(sample.settings)
    terrain = open_study_terrain([sample.terrain], settings)
    assert (
        first_fault(study_document(run_study(terrain, read_route(sample.line), settings))) is None
    )


def test_export__of_a_damaged_study_is_refused_or_made(document: dict[str, Any]) -> None:
    refused = 0
    for number, each in enumerate(damaged(document)):
        try:
            export_bytes(each, FORMS[number % len(FORMS)])
        except LeatlineError as exc:
            refused += isinstance(exc, StudyFileError)
    assert refused > 20


@pytest.mark.parametrize(
    ("path", "wrong", "named"),
    [
        (("summary", "gross_head_m"), "high", "summary.gross_head_m"),
        (("summary", "gross_head_m"), True, "summary.gross_head_m"),
        (("vents", 0, "station_m"), None, "vents[0].station_m"),
        (("vents", 0, "need"), "perhaps", "vents[0].need"),
        (("schema",), 2, "schema"),
        (("stations", "pipe_m"), [1.0], "stations.pipe_m"),
        (("stations", "lon"), 5, "stations.lon"),
        (("vents",), {}, "vents"),
    ],
    ids=str,
)
def test_first_fault__names_the_member(
    document: dict[str, Any], path: tuple[Any, ...], wrong: object, named: str
) -> None:
    changed = copy.deepcopy(document)
    inner: Any = changed
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = wrong
    assert str(first_fault(changed)).startswith(named)


def test_damage_named__leaves_faults_of_ours_alone(document: dict[str, Any]) -> None:
    with pytest.raises(KeyError), damage_named(document):
        raise KeyError("ours")
    with (
        pytest.raises(StudyFileError, match="summary is missing"),
        damage_named({key: value for key, value in document.items() if key != "summary"}),
    ):
        raise KeyError("theirs")


def test_command__says_what_is_damaged(document: dict[str, Any], tmp_path: Path) -> None:
    from leatline_command import clean, leatline

    (tmp_path / "study.json").write_bytes(to_json({**document, "summary": 5}))
    command = ("export", "study.json", "--format", "kml", "--out", "x.kml")
    assert "summary is no object" in clean(leatline(*command, cwd=tmp_path), 2)
    assert not (tmp_path / "x.kml").exists()
