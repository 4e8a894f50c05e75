"""The list of all that people read: ``python -m api.word_list`` brings the catalogues up to it.

Sentences of the pages stand in their modules and HTML, those of the trade in tables; what the rooms
put together from numbers is read out of studies of the sample. Each catalogue keeps the sentences
it has, gets the new ones empty, and marks those as gone that nothing says any more.
"""

from __future__ import annotations

import csv
import re
from collections import deque
from collections.abc import Iterator
from html.parser import HTMLParser
from io import StringIO
from pathlib import Path
from typing import Any

import routing
import web
from api import doctor
from api.error_words import error_kinds, error_sentences, told_errors, told_returns
from api.help_words import OF_HELP, help_sentences
from api.pipes_table import CLASS_AND_VACUUM
from api.routes.sign_in import REFUSED as SIGN_IN_REFUSED
from api.start_folder import IN_ENGLISH as START_IN_ENGLISH
from api.start_folder import STEPS
from api.summary import PAPERS_IN_ENGLISH, TERRAIN_FACTS
from routing.finding import FINDING_CODES
from routing.papers.given import code_words
from routing.strength.trade_data import hydrotest_rules
from routing.verdict import OUT_OF_REACH
from routing.words import IN_ENGLISH, Translator, language, languages, normal_form, speaking
from routing.words.catalogue import CATALOGUES
from routing.words.form import UNITS
from routing.words.translate import SENTENCES

__all__ = [
    "page_sentences",
    "paper_sentences",
    "script_sentences",
    "study_sentences",
    "table_sentences",
    "word_list",
]

WEB, ROUTING = (Path(module.__file__ or "").resolve().parent for module in (web, routing))
SCRIPTS = tuple(
    path
    for path in (*sorted((WEB / "js").glob("*.js")), *sorted(ROUTING.glob("papers/data/**/*.js")))
    if path.name != "words.js"  # it speaks of no hillside
)
PAGES = (
    *(WEB / f"{name}.html" for name in ("index", "list", "sign-in", "shared")),
    ROUTING / "papers/data/field/sheet.html",
)
TABLES = {
    "papers/data/cautions.csv": ("text",),
    "papers/data/card_cautions.csv": ("text",),
}
REQUIREMENTS = ("subject", "limit", "rule")
LITERALS = (re.compile(r'"((?:[^"\\\n]|\\.)*)"'), re.compile(r"`((?:[^`\\]|\\.)*)`"))
VALUE = re.compile(r"\$\{(?:[^{}]|\{[^{}]*\})*\}")
EITHER = re.compile(r'\? "([^"]*)" : "([^"]*)"\}$')
COMMENT = re.compile(r"/\*.*?\*/|^\s*//.*?$", re.DOTALL | re.MULTILINE)
CODE = re.compile(
    r"[<>=#]|;$|^[a-z0-9_./:-]+$|^[MLAHVZ] ?\d|^\W*$|^\.|^[A-Z]+$|px\b|\$\{"
    r"|^(crew-\w+|ink|tag|rows?|sign|handle|font|nav|dialog|hit|link|line-row|board|use) "
    r"|^\((prefers|forced)-\S* "
    r"|^[A-Z][a-z]+[A-Z]|^[a-z-]+( [a-z]+-[a-z-]+)+$|[\\{}|]|\bzoomend\b|\bsign-dot"
    r"|\[href\]|^Tab$"
)
"""Literals that are no words: selectors, names of classes and events, paths of drawings."""
BESIDE = (SIGN_IN_REFUSED, "Leatline: sign in",
          "years", "nothing", "yes", "no", "Trench, per m³", "Trench, per yd³", "Bench, per m³",
          "Bench, per yd³", "Concrete, per m³", "Concrete, per yd³", "Pipe bridge, per m",
          "Pipe bridge, per ft", "left", "right",
          "Take back", "Do again", "per m", "per ft", "{1} from place to place",
          "GeoJSON, GPX, KML, GeoPackage or shapefile", "Bridge {1}, from", "Bridge {1}, to",
          "Bridge {1}, supports every", "Bridge {1}, at most", "Take bridge {1} out",
          "{1} × {2} cells of {3}, EPSG:{4}")  # fmt: skip
"""Words that a script puts together with others, or that look like a key where they stand."""
OF_SEARCH = (
    "starting", "waiting for its turn", "reading the ground", "seeking the line of least cost",
    "comparing line {1}", "studying line {1} of {2}", "Cheapest", "Shortest",
    "Fewest vents and drains", "Fewest crossings", "Least digging", "Most power",
    "Another way {1}", "{1} of trench", "choosing the ends", "improving lines",
    "following the water", "placing intakes along the streams",
    "screening, {1} of the pairs, {2} left", "ranking", "checking the ranking, study {1} of {2}",
    "a line for candidate {1}", "straight", "along the stream",
)  # fmt: skip
"""How far a search is, and what a proposal is best at."""
OF_SHEETS = (
    "page &P of &N", "for what is not foreseen, {1}", "Prices asked on {1}.", "Not in the sum",
    "No prices were given: fill in the column of prices.", "trench in {1}",
    "stream", "boundary", "parcel", "no-go area", "protected area", "road", "service",
    "right of way", "surveyed point, with its level", "reference point, with its level",
    "changed since the revision before, with its mark", "continued",
    "{1} cannot be sized: soil not named.", "block cannot be sized: soil not named",
    "block is too wide for one block: a foundation of its own, by an engineer",
    "{1}, which holds the end, cannot be sized: soil not named.", "contours every {1}",
    "Blocks and anchors", "{1} at {2}", "not tested: this pipe is too light for its water",
    "but only what this pipe bears",
)  # fmt: skip
"""What a legend, detail or plan says of that which is not there when the sample is listened to."""
OF_ALTERNATIVES = (
    "Alternatives", "Lines compared by the same checks", "Bold where the lines differ.",
    "A dash: not known.", "cannot be computed", "Consents lacking", "Without a price",
    "North is up.",
    "The study holds this one line, and so nothing to compare it with.",
    "Circles: intakes; squares: ends.", "The first line is the one of the other papers.",
    "intake, machine, tax and all else",
)  # fmt: skip
"""What the paper of several lines says beside its figures."""
OF_TERMINAL = (
    "Raster, line and settings lie beside them. Change them and run", "Wrote {1}",
    "Wrote {1}; open index.html first.", "Files are in {1}; open {2} first.",
    "Left alone, as Leatline did not write it: {1}.", PAPERS_IN_ENGLISH,
    "{1} pairs in {2} ({3} a second).",
    "{1} over {2} with {3} of head: {4} of {5} pipes fit, by mass.",
    "{1} over {2} with {3} of head: {4} of {5} pipes fit, by price.",
    "{1} over {2} with {3} of head: {4} of {5} pipes fit, by yearly cost.",
    "pipe", "bore", "velocity", "loss", "power", "surge", "class", "vacuum", "mass", "price",
    "a year", "in the study", "by the bound", CLASS_AND_VACUUM, "Classes of this size",
    "Several sizes", "line", "cost", "head", "flow", "vents", "drains", "faults", "score",
    "fall", "No line can cost less than {1} of the first.",
    "Ranked by worth; {1} of {2} pairs keep to the limits.",
    "Ranked by power per cost; {1} of {2} pairs keep to the limits.",
    "Ranked by head per length; {1} of {2} pairs keep to the limits.",
    "Rank correlation with studies: {1}.", "Rank correlation with studies: not known.",
    *OF_HELP,
    "Survey the line, and shoot levels along the trench, before ordering pipe.",  # saved before
)  # fmt: skip
"""What commands say beside figures and findings."""
OF_TERRAIN = (
    *(normal_form(name).key for name in TERRAIN_FACTS.values()), "metre", "foot",
    "US survey foot", "band unit tag", "compound CRS", "setting", "format", "assumed",
    "not stated", "file",
    "this raster or its settings", "studies",
    "source seen", "common practice, no source", "none",
)  # fmt: skip
"""What is said of a raster."""
OF_FIELDS = (
    "the file's own", "the ground at the start of the line", "never assumed", "by kind",
    "only the sudden blockage is judged", "not known", "choose", "as given", "pelton", "turgo",
    "crossflow", "francis", "bridge", "no line yet", "worth", "power per cost", "head per length",
)  # fmt: skip
"""What a field says where nothing was told: a first piece of its row; choices of one word."""
DEAF = "ne"
"""A language with the decimal point: papers that are listened to are made in it, without words."""
WITH_UNIT = re.compile(rf", (?:{UNITS}|%|°|m³|yd³)$")
"""What ends the head of a column."""
READ = ("aria-label", "title", "placeholder", "alt")


def _human(text: str, *, beside: bool) -> bool:
    """Return whether a literal is for people: words, and no address, selector or key.

    One that begins or ends with a blank stands ``beside`` others in a sentence.
    """
    words = re.sub(r"\{\d+\}", " ", text)
    if CODE.search(words) or not re.search(r"[^\W\d_]{2}", words):
        return False
    if 2 * sum("_" in word for word in words.split()) >= len(words.split()):
        return False  # a list of codes
    return beside or " " in text.strip() or text[:1].isupper()


def script_sentences(source: str) -> Iterator[str]:
    """Yield the sentences that stand in a module of a page, ``{1}`` where a value is put in.

    >>> list(script_sentences('say(`Saved as ${name}.`); element("li", {class: "off"})'))
    ['Saved as {1}.']
    """
    plain = COMMENT.sub("", source)
    for match in (match for literal in LITERALS for match in literal.finditer(plain)):
        for shown in _readings(match[1].replace('\\"', '"').replace("\\n", "\n")):
            key = normal_form(_joined(shown)).key
            if _human(key, beside=shown != shown.strip()):
                yield key


def _readings(text: str) -> Iterator[str]:
    """Yield a literal with a number for each value put in, and each of two words to choose from.

    >>> list(_readings('${n} vent${n === 1 ? "" : "s"}'))
    ['7 vent', '7 vents']
    """
    found = VALUE.search(text)
    if found is None:
        yield text
        return
    words = EITHER.search(found[0])
    for word in words.groups() if words else ("7",):
        yield from _readings(text[: found.start()] + word + text[found.end() :])


def _joined(key: str) -> str:
    return " ".join(key.split())


class _Read(HTMLParser):
    """What is read of a page: its text and the labels of its parts."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.inside: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in ("meta", "link", "input", "br", "img", "path", "circle", "line"):
            spared = tag in ("script", "style") or ("translate", "no") in attrs
            self.inside.append("spared" if spared else tag)
        self.found += [value for name, value in attrs if name in READ and value]

    def handle_endtag(self, tag: str) -> None:
        if self.inside:
            self.inside.pop()

    def handle_data(self, data: str) -> None:
        text = _joined(data)
        if text and "spared" not in self.inside and "{{" not in text:
            self.found.append(text)


def _sentences(text: str) -> Iterator[str]:
    """Yield the sentences of a text one by one: what is put together differs from line to line."""
    for sentence in SENTENCES.split(_joined(text)):
        key = normal_form(sentence).key
        if re.search(r"[^\W\d_]{2}", re.sub(r"\{\d+\}", "", key)):
            yield key


def page_sentences(html: str) -> Iterator[str]:
    """Yield the sentences of an HTML page.

    >>> list(page_sentences('<p title="Two">One <b>3 m</b></p>'))
    ['Two', 'One']
    """
    read = _Read()
    read.feed(html)
    for text in read.found:
        yield from _sentences(text)


def table_sentences() -> Iterator[str]:
    """Yield the sentences of the trade's tables: cautions, requirements, fields of the page."""
    for code in FINDING_CODES:
        yield from _sentences(code_words(code))
    for why in OUT_OF_REACH.values():
        yield from (*_sentences(why), *_sentences(f"7 m, out of reach: {why}"))
    for rule in hydrotest_rules().values():
        yield from _sentences(rule.standard)
        yield from _sentences(f"How, {rule.standard}")
    wanted: dict[Path, tuple[str, ...]] = {ROUTING / name: TABLES[name] for name in TABLES}
    wanted |= dict.fromkeys(sorted(ROUTING.glob("**/data/requirements.csv")), REQUIREMENTS)
    for path, columns in wanted.items():
        with path.open(newline="", encoding="utf-8") as file:
            for row in csv.DictReader(file):
                for name in columns:
                    # What is put into a row's braces later is a number.
                    yield from _sentences(re.sub(r"\{\w+\}", "7", row.get(name) or ""))


def study_sentences(document: dict[str, Any]) -> Iterator[str]:
    """Yield what a study says of itself in its findings, fittings and papers of one page."""
    from routing.papers.field import field_html
    from routing.papers.map import map_html

    told = [found["message"] for found in document["warnings"]]
    told += [item["reason"] for kind in ("vents", "drains") for item in document[kind]]
    told += document["assumptions"]
    told += (document["cost"] or {}).get("not_priced", ())
    told += [choice["name"] for choice in document["trench"]["grade_choices"] if choice.get("name")]
    for text in told:
        yield from _sentences(str(text))
    yield from page_sentences(map_html(document, None))
    yield from page_sentences(field_html(document, None))


def paper_sentences(document: dict[str, Any]) -> Iterator[str]:
    """Yield what sheets, works plan and terminal say of a study, by listening while they speak."""
    from api.summary import print_summary, print_warnings
    from routing.papers.quantities import bill_of_document
    from routing.papers.sheet.issue import sheet_set
    from routing.papers.sheet.paper import paper_of
    from routing.papers.workbook import told_subjects
    from routing.papers.works import works_page

    with speaking(Translator(language(DEAF), {})) as heard:
        sheet_set(document, paper_of(document))
        works_page(document)
        bill_of_document(document)
        deque(told_subjects(document), maxlen=0)
        print_summary(document, StringIO())
        print_warnings(document, StringIO())
    yield from (WITH_UNIT.sub("", key) for key in heard.missing)


def doctor_sentences() -> Iterator[str]:
    """Yield what is said of the parts that the tool stands on."""
    source = Path(doctor.__file__).read_text(encoding="utf-8")
    yield from ("works", "FAILS", *doctor.PARTS)
    yield from told_returns(source)
    yield from told_errors([source], frozenset({"ValueError", "ImportError", "OSError",
                                                "FileNotFoundError"}))  # fmt: skip


def start_sentences() -> Iterator[str]:
    """Yield what stands in a folder to start from, beside commands and settings."""
    for text in (*(text for step in STEPS for text in step), START_IN_ENGLISH):
        yield normal_form(text).key


def _help_sentences() -> Iterator[str]:
    from typer.main import get_command

    from api.cli import app

    for text in help_sentences(get_command(app)):
        yield from _sentences(text)


def word_list() -> dict[str, None]:
    """Return every sentence, in the order of the places where they stand."""
    from api.word_studies import OF_LINES, OF_RASTERS, sample_documents

    found: dict[str, None] = dict.fromkeys(
        (
            *OF_RASTERS,
            *OF_LINES,
            *BESIDE,
            *OF_SEARCH,
            *OF_SHEETS,
            *OF_ALTERNATIVES,
            *OF_TERMINAL,
            *OF_FIELDS,
        )
    )
    for page in PAGES:
        found |= dict.fromkeys(page_sentences(page.read_text(encoding="utf-8")))
    for script in SCRIPTS:
        found |= dict.fromkeys(script_sentences(script.read_text(encoding="utf-8")))
    found |= dict.fromkeys(table_sentences())
    found |= dict.fromkeys((IN_ENGLISH, *error_kinds().values()))
    found |= dict.fromkeys(error_sentences())
    found |= dict.fromkeys((*OF_TERRAIN, *doctor_sentences(), *start_sentences()))
    found |= dict.fromkeys(_help_sentences())
    for document in sample_documents():
        found |= dict.fromkeys(study_sentences(document))
        found |= dict.fromkeys(paper_sentences(document))
    return {text: None for text in found if text.strip() and len(text) < 900}


def write_catalogues(sentences: dict[str, None]) -> dict[str, int]:
    """Bring every catalogue up to the list; return how many sentences each still lacks."""
    from babel.messages import Catalog
    from babel.messages.pofile import read_po, write_po

    lacking = {}
    for code, one in languages().items():
        if code == "en":
            continue
        path = CATALOGUES / f"{code}.po"
        kept: dict[str, str] = {}
        if path.exists():
            with path.open("rb") as file:
                kept = {str(m.id): str(m.string) for m in read_po(file) if m.id and m.string}
        made = Catalog(project="Leatline", header_comment=f"# {one.name} ({one.status}).")
        made.fuzzy = False
        for text in sentences:
            made.add(text, kept.get(text, ""))
        with path.open("wb") as file:
            write_po(file, made, width=0, omit_header=True, no_location=True)
        lacking[code] = sum(not kept.get(text) for text in sentences)
    return lacking


if __name__ == "__main__":
    for code, missing in write_catalogues(word_list()).items():
        print(f"{code}: {missing} sentences to translate")  # noqa: T201
