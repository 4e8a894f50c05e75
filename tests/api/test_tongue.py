"""The terminal speaks the language that is asked for, or the machine's, where it can be shown."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Iterator
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import typer
from babel.messages.pofile import read_po
from every_error import every_error
from leatline_command import leatline
from typer.testing import CliRunner

import sample_dem
from api.cli import _report, app
from api.error_words import error_kinds
from api.folder import OutputFolder
from api.help_words import OF_HELP, help_sentences, speak_help
from api.summary import PAPERS_IN_ENGLISH, print_summary, print_terrain, print_warnings
from api.terminal import Answer
from api.tongue import machine_language, requested_language, shown_in
from api.word_studies import sample_documents
from routing.errors import InputError, LeatlineError
from routing.finding import FINDING_CODES
from routing.line import Route, read_route
from routing.papers.given import code_words
from routing.settings import settings_from_mapping
from routing.terrain import describe_terrain, open_terrain
from routing.words import (
    IN_ENGLISH,
    Translator,
    catalogue,
    language,
    languages,
    normal_form,
    said,
    said_message,
    speaking,
    translate,
)
from routing.words.catalogue import CATALOGUES
from routing.words.form import filled

ERRORS = every_error()
OTHERS = [code for code in languages() if code != "en"]


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return next(sample_documents())


@pytest.mark.parametrize(
    ("variables", "code"),
    [
        ({}, "en"),
        ({"LANG": "es_PE.UTF-8"}, "es"),
        ({"LANG": "fr_FR.UTF-8", "LC_MESSAGES": "de_AT"}, "de"),
        ({"LANG": "fr", "LC_MESSAGES": "de", "LC_ALL": "C.UTF-8"}, "en"),
        ({"LANG": "tlh"}, "en"),
    ],
)
def test_the_machine_s_language(variables: dict[str, str], code: str) -> None:
    """POSIX.1-2017, 8.2: LC_ALL before LC_MESSAGES before LANG, the first that is not empty."""
    assert machine_language(variables) == code


def test_letters_that_a_terminal_lacks_leave_it_english() -> None:
    narrow = io.TextIOWrapper(io.BytesIO(), encoding="cp437")
    assert [shown_in(code, narrow) for code in ("es", "de", "ne", "ar")] == ["es", "de", "en", "en"]
    with pytest.raises(InputError, match="language = 'xx'"):
        shown_in("xx", narrow)


def printed(document: dict[str, Any]) -> str:
    stream = io.StringIO()
    print_summary(document, stream)
    print_warnings(document, stream)
    return stream.getvalue()


@pytest.mark.parametrize("code", OTHERS)
def test_all_that_is_printed_is_in_the_catalogue(document: dict[str, Any], code: str) -> None:
    with speaking(code) as to:
        told = printed(document)
    assert list(to.missing) == []
    for caution in document["cautions"][:1]:  # a first draft never stands alone
        assert caution["text"][:40] in " ".join(told.split())
    assert f"9{languages()[code].decimal_mark}77 m" in told  # ground at the intake, 309.77 m


def test_in_english_nothing_is_changed(document: dict[str, Any]) -> None:
    with speaking("en"):
        assert printed(document) == printed(document)


@pytest.mark.parametrize("code", OTHERS)
def test_every_code_of_a_message_is_said_or_falls_back_to_english(code: str) -> None:
    with (CATALOGUES / f"{code}.po").open("rb") as file:
        known = {each.id for each in read_po(file)}
    for each in FINDING_CODES:
        form = normal_form(code_words(each))
        assert form.key in known, "run: python -m api.word_list"
        said = catalogue(code).get(form.key, form.key)
        ltr = languages()[code].direction == "ltr"
        assert translate(code_words(each), code) == filled(said, form.parts, ".", rightward=ltr)


@pytest.mark.parametrize("code", OTHERS)
def test_every_code_has_words_and_a_message_falls_back_where_it_can_be_seen(code: str) -> None:
    """What kind of message it is is known in every language; English stands behind it, named so."""
    to = Translator(language(code), catalogue(code))
    kinds = {**error_kinds(), **{each: code_words(each) for each in FINDING_CODES}}
    assert {kind.code for kind in ERRORS} <= kinds.keys()
    for each, kind in kinds.items():
        problem, remedy = to.message(kind, "Qwerty 1.5 m uiop.", "Asdf ghjk.")
        assert not to.missing, each
        stop = "" if to(kind).endswith((".", "!", "?", "।", "؟")) else "।" if code == "ne" else "."
        assert problem.startswith(f"{to(kind)}{stop} {to('In English')}: "), each
        assert kind not in problem, each
        assert "Qwerty 1.5 m uiop." in problem, each
        assert "Asdf ghjk." in remedy, each


def test_english_behind_a_kind_begins_a_sentence_of_its_own() -> None:
    to = Translator(language("es"), {"bend is sharp": "curva cerrada", "In English": "En inglés"})
    assert to.message("bend is sharp", "Qwerty.")[0] == "curva cerrada. En inglés: Qwerty."
    assert to.message("", "Qwerty.")[0].strip() == "En inglés: Qwerty."


@pytest.mark.parametrize("code", OTHERS)
def test_what_papers_are_in_english_and_what_plans_and_works_say_is_known(code: str) -> None:
    told = (PAPERS_IN_ENGLISH, "1:1000; contours every 2.0 m", "Blocks and anchors", "S1 at 9.0 m")
    assert not [each for each in told if translate(each, code) == each]


def test_a_study_says_which_papers_are_not_in_its_language(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("api.summary.print_summary", lambda *_: None)
    monkeypatch.setattr("api.summary.print_warnings", lambda *_: None)
    folder, said = OutputFolder(tmp_path), translate(PAPERS_IN_ENGLISH, "de")
    for language_of_study, papers, told in (
        ("de", True, True),
        ("de", False, False),
        ("en", True, False),
    ):
        _report({"language": language_of_study}, folder, Answer.text, "de", papers=papers)
        assert (said in capsys.readouterr().err) is told


def test_a_message_is_known_with_any_words_in_its_braces() -> None:
    sentences = {
        "{1} = {2} is not a length.": "{1}: {2} no es una longitud.",
        "{1} is not a length.": "wrong",
        "Write it as {1}.": "Escriba {1}.",
    }
    to = Translator(language("es"), sentences)
    told = to.message("", "trench.cover = 'x y' is not a length.", 'Write it as "3 m".')
    assert told == ("trench.cover: 'x y' no es una longitud.", 'Escriba "3 m".')
    assert "In English" in to.message("Kind.", " = a length.", "Write it as 3.")[0]


def test_a_command_ends_in_the_language_of_the_terminal(tmp_path: Path) -> None:
    given = ("study", "none.geojson", "--terrain", "none.tif")
    told = {
        code: leatline(*given, cwd=tmp_path, LC_ALL=code, PYTHONUTF8="1").stderr.decode()
        for code in ("C.UTF-8", "es_PE.UTF-8")
    }
    for line in told.values():
        assert line.startswith("leatline: ")
        assert "none.geojson" in line
    assert "In English" not in told["C.UTF-8"]
    assert told["es_PE.UTF-8"] != told["C.UTF-8"]
    usage = leatline("study", "--nonsense", "--language", "de", cwd=tmp_path)
    assert usage.returncode == 2
    said = translate("The command cannot be understood as it is written.", "de")
    assert usage.stderr.decode().startswith(f"leatline: {said}\n")
    assert "--nonsense" in usage.stderr.decode()


@pytest.mark.parametrize(
    ("asked", "code"),
    [("", "en"), ("es-PE,es;q=0.9", "es"), ("xx, en;q=0.2, NE;q=0.7", "ne"), ("de;q=0", "en"),
     ("*", "en"), ("de;q=0.5, fr;q=x", "fr"), ("," * 10_000, "en")],
)  # fmt: skip
def test_the_language_of_a_request(asked: str, code: str) -> None:
    """RFC 9110, 12.5.4: the greatest weight, 1 where none is given, 0 for not at all."""
    assert requested_language(asked) == code


@pytest.mark.parametrize("code", OTHERS)
def test_help_is_in_the_catalogue_with_the_words_of_its_library(code: str) -> None:
    told = list(help_sentences(typer.main.get_command(app)))
    assert len(told) > 100
    command = typer.main.get_command(app)
    speak_help(command, code)
    with speaking(code) as to:
        spoken = [said(text) for text in told]
        assert list(to.missing) == []
        assert list(help_sentences(command)) == spoken
    shown, english = (
        " ".join(_help_of(each).split()) for each in (command, typer.main.get_command(app))
    )
    for word in OF_HELP:
        known = translate(word.replace("{1}", "8765"), code)
        assert known != word.replace("{1}", "8765") or word in ("Options", "Arguments"), word
        if word in ("Usage:", "Show this message and exit.", "required"):
            assert word in english, word
            assert word not in shown, word
            assert known in shown, word


def _help_of(command: Any) -> str:
    told = io.StringIO()
    with redirect_stdout(told):
        command.main(["export", "--help"], prog_name="leatline", standalone_mode=False)
    return told.getvalue()


def test_a_command_helps_in_the_language_asked_for(tmp_path: Path) -> None:
    told = leatline("study", "--help", "--language", "es", cwd=tmp_path, PYTHONUTF8="1")
    assert "Tiende el tubo" in told.stdout.decode()
    assert "Lay the pipe" in leatline("study", "--help", cwd=tmp_path).stdout.decode()


@pytest.mark.parametrize("code", OTHERS)
def test_what_is_understood_of_a_raster_is_in_the_catalogue(code: str) -> None:
    facts = describe_terrain(open_terrain([sample_dem.sample_paths().terrain]))
    stated = describe_terrain(open_terrain([sample_dem.sample_paths().terrain], source="srtm"))
    stream = io.StringIO()
    with speaking(code) as to:
        print_terrain({**facts, "other_grids": [facts]}, stream)
        print_terrain(stated, stream)
    assert list(to.missing) == []
    assert "side of a cell" not in stream.getvalue()
    assert "EPSG:32628" in stream.getvalue()


def refused(make: Callable[[], object]) -> LeatlineError:
    with pytest.raises(LeatlineError) as caught:
        make()
    return caught.value


def written(place: Path, data: bytes) -> Path:
    place.write_bytes(data)
    return place


def locked(place: Path) -> Path:
    """Write an archive whose one member says that it is encrypted (APPNOTE.TXT, 4.4.4, bit 0)."""
    with zipfile.ZipFile(place, "w") as archive:
        archive.writestr("a.tif", b"II*")
    data = bytearray(place.read_bytes())
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.find(mark) + at] |= 1
    place.write_bytes(data)
    return place


LINELESS = b'{"type": "FeatureCollection", "features": []}'
REFUSED: dict[str, Callable[[Path], object]] = {
    "page": lambda at: open_terrain([written(at / "q.tif", b"<!doctype html><html>")]),
    "void": lambda at: open_terrain([written(at / "q.tif", b"")]),
    "gone": lambda at: open_terrain([at / "q.tif"]),
    "lock": lambda at: open_terrain([locked(at / "q.zip")]),
    "view": lambda at: open_terrain([written(at / "q.tif", b"\x89PNG1234")]),
    "line": lambda at: read_route(written(at / "q.geojson", LINELESS)),
    "swap": lambda at: Route(name="q", lon=np.array([47.0, 47.1]), lat=np.array([160.0, 160.1])),
    "key": lambda at: settings_from_mapping({"trench": {"qqq": 1}}),
    "table": lambda at: settings_from_mapping({"qqq": {}}),
    "unit": lambda at: settings_from_mapping({"trench": {"cover": "3 qqq"}}),
    "gas": lambda at: settings_from_mapping({"works": {"medium": "qqq"}}),
}


@pytest.mark.parametrize("case", REFUSED)
def test_no_translated_message_takes_in_english_words(case: str, tmp_path: Path) -> None:
    error = refused(lambda: REFUSED[case](tmp_path))
    names = re.compile(r"[“'\"\[({<][^”'\"\])}>]*[”'\"\])}>]|\S*[/._]\S*")
    for code in ("de", "ne", "ar"):
        with speaking(code) as to:
            told = said_message(error.kind(), error.problem, error.remedy)
            assert IN_ENGLISH not in " ".join(told), told
            assert to(IN_ENGLISH) not in " ".join(told), told
        for english, spoken in zip((error.problem, error.remedy), told, strict=True):
            ours = set(re.findall(r"\b[a-z]{3,}\b", names.sub(" ", english)))
            left = ours & set(re.findall(r"\b[a-z]{3,}\b", names.sub(" ", spoken)))
            assert left <= {"lon", "lat", "water", "works", "trench", "qqq"}, (code, spoken)


def helps(command: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    yield path
    for name, under in getattr(command, "commands", {}).items():
        yield from helps(under, (*path, name))


def test_help_names_things_and_no_types() -> None:
    for path in helps(typer.main.get_command(app)):
        told = CliRunner().invoke(app, [*path, "--help"]).output
        assert "Usage" in told
        assert "list[" not in told, path
        assert "<path>" not in told.partition("Options:")[0], path


def test_completion_is_offered_for_the_usual_shells() -> None:
    for shell in ("bash", "zsh", "fish"):
        done = CliRunner().invoke(app, [], env={"_LEATLINE_COMPLETE": f"source_{shell}"},
                                  prog_name="leatline")  # fmt: skip
        assert "leatline" in done.output.lower(), shell
