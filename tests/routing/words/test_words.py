"""Sentences in other languages: looked up without their numbers, told where they are not known."""

from __future__ import annotations

import io
import json
import re
import subprocess
from pathlib import Path

import pytest
from babel.messages.pofile import read_po
from chromium import node_path
from hypothesis import given
from hypothesis import strategies as st

from routing.errors import InputError
from routing.pipe import load_catalogue
from routing.words import (
    Translator,
    catalogue,
    language,
    languages,
    normal_form,
    terms,
    translate,
)
from routing.words.catalogue import CATALOGUES, read_catalogue
from routing.words.form import VARIES, filled

ROOT = Path(__file__).resolve().parents[3]
SENTENCES = {
    "From {1} the trench is {2} deep.": "Desde {1} la zanja tiene {2} de profundidad.",
    "{1} of {2} done": "{2}: {1} hechos",
    "vent": "ventosa",
    "See {1} of {2}.": "Vea {1} de {2}.",
    "ground": "terreno",
    "Where?": "¿Dónde?",
}
CASES = {
    "From V3 the trench is 1.30 m deep.": "Desde V3 la zanja tiene 1,30 m de profundidad.",
    "3 of 12 done": "12: 3 hechos",
    "Vent": "Ventosa",
    "Ground: 311.25 m": "Terreno: 311,25 m",
    "From V3 the trench is 1.30 m deep. Vent: V3.": (
        "Desde V3 la zanja tiene 1,30 m de profundidad. Ventosa: V3."
    ),
    "12.5 kPa": "12,5 kPa",
    # ISO 80000-1, 7.3.1: groups of three part with a small space, never a comma or a point.
    "85,971 EUR": "85\u00a0971 EUR",
    "Ground: 1,234,567.50 m": "Terreno: 1\u00a0234\u00a0567,50 m",
    "Vent: 253,837 kg": "Ventosa: 253\u00a0837 kg",
    "Ground, EUR": "Terreno, EUR",
    "1,5 m": "1,5 m",
    # The order of day, month and year is the language's; the time of day stays.
    "2026-11-25": "25/11/2026",
    "Ground: 2026-11-25 14:05": "Terreno: 25/11/2026 14:05",
    "leatline 0.1.0": "leatline 0.1.0",
    "Ground: 311.25\u00a0m": "Terreno: 311,25\u00a0m",
    "Vent (ground)": "Ventosa (terreno)",
    "Something else at 3 m": "Something else at 3 m",
    "Where?": "¿Dónde?",
    "See “Vent” of “Lower 1.5”.": "Vea “Ventosa” de “Lower 1.5”.",
    "  ": "  ",
}


def spanish() -> Translator:
    return Translator(language("es"), SENTENCES)


@pytest.mark.parametrize(("english", "said"), CASES.items())
def test_a_sentence_is_put_into_the_language(english: str, said: str) -> None:
    assert spanish()(english) == said


def test_the_pages_say_the_same_as_the_papers() -> None:
    words = {"code": "es", "direction": "ltr", "decimal_mark": ",", "date_form": "{d}/{m}/{y}"}
    script = (
        f"import {{ translated }} from {json.dumps((ROOT / 'web/js/words.js').as_uri())};"
        f"const words = {json.dumps({**words, 'sentences': SENTENCES})};"
        f"const cases = {json.dumps(list(CASES))};"
        "console.log(JSON.stringify(cases.map((text) => translated(words, text))));"
    )
    done = subprocess.run(
        [node_path(), "--input-type=module", "-e", script],
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(done.stdout) == list(CASES.values())


LEFTWARD = {
    "See 1:500 of EPSG:32628.": "انظر \u20661:500\u2069 من \u2066EPSG:32628\u2069.",
    "See 0+300.0 of 2 x 3 m.": "انظر \u20660+300.0\u2069 من \u20662 x 3 m\u2069.",
    "See WGS 84 of 5 m: 3.": "انظر \u2066WGS 84\u2069 من \u20665 m\u2069: \u20663\u2069.",
}
"""What is read from left to right stays so where the language runs to the left (UAX 9, X5c)."""
LEFTWARD_SENTENCES = {
    "See {1}:{2} of EPSG:{3}.": "انظر {1}:{2} من EPSG:{3}.",
    "See {1}+{2} of {3} x {4}.": "انظر {1}+{2} من {3} x {4}.",
    "See WGS {1} of {2}: {3}.": "انظر WGS {1} من {2}: {3}.",
}


@pytest.mark.parametrize(("english", "said"), LEFTWARD.items())
def test_a_scale_or_a_chainage_is_not_turned_round(english: str, said: str) -> None:
    assert Translator(language("ar"), LEFTWARD_SENTENCES)(english) == said


def test_the_pages_turn_nothing_round_either() -> None:
    words = {"code": "ar", "direction": "rtl", "decimal_mark": ".", "sentences": LEFTWARD_SENTENCES}
    script = (
        f"import {{ translated }} from {json.dumps((ROOT / 'web/js/words.js').as_uri())};"
        f"const cases = {json.dumps(list(LEFTWARD))}, words = {json.dumps(words)};"
        "console.log(JSON.stringify(cases.map((text) => translated(words, text))));"
    )
    command = [node_path(), "--input-type=module", "-e", script]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == list(LEFTWARD.values())


def test_what_is_not_known_is_told() -> None:
    to = spanish()
    to("Something else at 3 m. Vent.")
    assert list(to.missing) == ["Something else at {1}."]


def test_a_caution_keeps_its_english_until_a_speaker_has_confirmed_it() -> None:
    assert language("es").status == "draft"
    assert spanish().caution("Vent") == "Ventosa [Vent]"
    assert spanish().caution("Keep off.") == "Keep off."


def test_every_pipe_of_the_catalogue_is_taken_out_of_a_sentence() -> None:
    for label in (pipe.label for pipe in load_catalogue()):
        assert VARIES.fullmatch(label), label
        assert normal_form(f"In {label} at 3 m.").key == "In {1} at {2}."


def test_the_name_of_a_pipe_keeps_its_points() -> None:
    """ASME B36.10M is the name of a standard, however numbers are written."""
    form = normal_form("STEEL Sch STD 4 in, ASME B36.10M holds 1.5 m")
    assert filled(form.key, form.parts, ",") == "STEEL Sch STD 4 in, ASME B36.10M holds 1,5 m"


@given(
    st.lists(st.sampled_from(["V3", "1.30 m", "18 L/s", "dig", "to", "“x 3”", "7", "2 in", "."]))
)
def test_taking_out_and_putting_back_changes_nothing(words: list[str]) -> None:
    text = " ".join(words)
    form = normal_form(text)
    assert filled(form.key, form.parts, ".") == text


def test_an_unknown_language_is_named_with_those_that_are_known() -> None:
    with pytest.raises(InputError, match=r"language = 'xx' .* en, es"):
        translate("Vent", "xx")
    assert language("es-PE").code == "es"


@pytest.mark.parametrize("code", [code for code in languages() if code != "en"])
def test_a_catalogue_is_read_as_a_gettext_library_reads_it(code: str) -> None:
    """Babel, a reference implementation of the format."""
    with (CATALOGUES / f"{code}.po").open("rb") as file:
        known = {str(e.id): str(e.string) for e in read_po(file) if e.id and e.string}
    assert catalogue(code) == known


def test_a_catalogue_of_a_translators_program_is_read_too() -> None:
    text = (
        '# Spanish\n#, fuzzy\nmsgid ""\nmsgstr "Language: es\\n"\n\n#: map.js:3\nmsgid ""\n'
        '"Stand "\n"clear."\nmsgstr "Apártese."\n\nmsgid "vent"\nmsgstr ""\n\n'
        '#~ msgid "gone"\n#~ msgstr "ido"\n\nmsgid "tab\\tand \\"quote\\""\nmsgstr "\\"c\\""\n'
    )
    found = {"Stand clear.": "Apártese.", 'tab\tand "quote"': '"c"'}
    assert read_catalogue(text) == found
    assert {m.id: m.string for m in read_po(io.StringIO(text)) if m.id and m.string} == found


@pytest.mark.parametrize("code", [code for code in languages() if code != "en"])
def test_a_catalogue_keeps_the_numbers_of_each_sentence(code: str) -> None:
    for english, said in catalogue(code).items():
        wanted = sorted(re.findall(r"\{\w+\}", english))
        assert sorted(re.findall(r"\{\w+\}", said)) == wanted, english


def test_the_words_of_the_trade_are_those_of_the_catalogues() -> None:
    """A term that stands alone somewhere is said as its table has it, but for an article."""
    wrong = []
    for english, told in terms().items():
        for code, term in told.items():
            said = catalogue(code)
            for key in {english, english[:1].upper() + english[1:]} & said.keys():
                shown, known = without_article(said[key]), without_article(term).split("; ")
                if not any(each in shown or shown in each for each in known):
                    wrong.append((code, key, said[key], term))
    assert wrong == []


def without_article(text: str) -> str:
    return re.sub(r"\bال|[ًٍ]", "", text).casefold()
