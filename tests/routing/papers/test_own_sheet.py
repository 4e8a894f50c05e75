"""[sheet]: paper of one's own, logo, rows of one's own, and the template of an office."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import pypdf
import pytest
from drawn_sheets import bare, overlaps, page_texts
from made_study import made_document
from PIL import Image

from routing.errors import SettingsError
from routing.papers.sheet import sheet_pdf
from routing.papers.sheet.issue import sheet_set
from routing.papers.sheet.paper import PAPERS, paper_of
from routing.papers.typeset import cap_height
from routing.settings import read_settings, settings_from_mapping


def picture(kind: str = "PNG") -> bytes:
    made = io.BytesIO()
    Image.new("RGB", (30, 20), (10, 90, 160)).save(made, kind)
    return made.getvalue()


def address(kind: str = "PNG") -> str:
    data = base64.b64encode(picture(kind)).decode()
    return f"data:image/{kind.lower()};base64,{data}"


def written(folder: Path, text: str) -> Path:
    path = folder / "settings.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("told", "wanted"),
    [("914 x 610 mm", "914 x 610 mm"), ("36 x 24 in", "914.4 x 609.6 mm"), ("ANSI C", "ANSI C")],
)
def test_size__takes_known_paper_and_ones_own(told: str, wanted: str) -> None:
    # An inch is 25.4 mm by the international agreement of 1959.
    assert settings_from_mapping({"sheet": {"size": told}}).sheet.size == wanted


@pytest.mark.parametrize("told", ["A5", "100 x 80 mm", "300 x 900 mm", "9000 x 800 mm", "A 3 x 2"])
def test_size__refuses_paper_that_no_sheet_fits_on(told: str) -> None:
    with pytest.raises(SettingsError, match=r"sheet\.size"):
        settings_from_mapping({"sheet": {"size": told}})


@pytest.mark.parametrize("size", ["270 x 200 mm", "914.4 x 609.6 mm", "1500 x 420 mm"])
def test_sheet_set__holds_on_paper_of_ones_own(size: str) -> None:
    doc = made_document(count=200)
    doc["settings"] = {"sheet": {"size": size}}
    paper = paper_of(doc)
    assert f"{paper.width:g} x {paper.height:g} mm" == size
    assert paper.letter in {known.letter for known in PAPERS.values()}
    for sheet in sheet_set(doc, paper):
        assert list(overlaps(sheet.ink.labels)) == []
        for label in sheet.ink.labels:
            assert cap_height(label.size) >= 1.8 - 0.01
            assert -0.01 <= label.box.left
            assert label.box.right <= sheet.ink.width + 0.01
            assert label.box.bottom <= sheet.ink.height + 0.01


def test_template__holds_where_the_settings_are_silent(tmp_path: Path) -> None:
    office = tmp_path / "office"
    office.mkdir()
    (office / "logo.jpg").write_bytes(picture("JPEG"))
    (office / "office.toml").write_text(
        '[sheet]\nowner = "Hamlet"\ndrawn = "A. N."\nlogo = "logo.jpg"\n'
        '[[sheet.entry]]\nlabel = "job"\ntext = "OT-117"\n'
    )
    path = written(tmp_path, '[sheet]\ntemplate = "office/office.toml"\ndrawn = "O. E."\n')
    sheet = read_settings(path).sheet
    assert (sheet.owner, sheet.drawn) == ("Hamlet", "O. E.")
    assert sheet.logo == address("JPEG")
    assert [(each.label, each.text) for each in sheet.entry] == [("job", "OT-117")]
    assert sheet.template is None
    with pytest.raises(SettingsError, match="only a settings file may"):
        settings_from_mapping({"sheet": {"template": "office.toml"}})


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[sheet]\nlogo = "nothing.png"\n', "nothing.png cannot be read"),
        ('[sheet]\nlogo = "settings.toml"\n', "neither PNG nor JPEG"),
        ('[sheet]\ntemplate = "nothing.toml"\n', "nothing.toml cannot be read"),
        ('[sheet]\ntemplate = "settings.toml"\n[study]\nname = "x"\n', r"one \[sheet\] table"),
    ],
)
def test_files__that_cannot_be_used_are_named(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(SettingsError, match=message):
        read_settings(written(tmp_path, text))


def test_logo__is_a_small_picture_and_no_address_elsewhere() -> None:
    for told in ("https://example.org/logo.png", "data:image/svg+xml;base64,AAAA", "x", ""):
        with pytest.raises(SettingsError, match=r"sheet\.logo"):
            settings_from_mapping({"sheet": {"logo": told}})
    large = "data:image/png;base64," + "A" * 270_000
    with pytest.raises(SettingsError, match="200000 bytes"):
        settings_from_mapping({"sheet": {"logo": large}})


def test_sheet_pdf__shows_logo_and_rows_of_ones_own_on_every_sheet() -> None:
    doc = made_document(count=120)
    entry = [{"label": "client's reference", "text": "OT-117/3"}, {"label": "office", "text": "E"}]
    doc["settings"] = {"sheet": {"logo": address(), "entry": entry}}
    pdf = sheet_pdf(doc)
    for page, text in zip(pypdf.PdfReader(io.BytesIO(pdf)).pages, page_texts(pdf), strict=True):
        (shown,) = page.images
        assert shown.image.size == (30, 20)
        assert bare("client's reference: OT-117/3") in text
