"""The field sheet as a file: whole, self-contained, safe, and true to the study."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import gpxpy
import numpy as np
import pytest

from routing.papers.document import column
from routing.papers.field import field_html, write_field
from routing.papers.field_cards import card_data
from routing.papers.things import things
from routing.survey import read_survey
from routing.trench import LEAST_BEND_DEG

Maker = Callable[..., dict[str, Any]]


def data_of(page: str) -> dict[str, Any]:
    match = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.DOTALL)
    assert match is not None
    found: dict[str, Any] = json.loads(match.group(1))
    return found


def test_field_html__everything_stands_inside(document: Maker, relief: Callable) -> None:
    doc = document()
    page = field_html(doc, relief(doc))
    assert not re.search(r'(?:src|href)="(?!data:)', page.split("<script>")[0])
    assert "url(" not in page.split("</style>")[0].replace("url(#", "")
    assert "{{" not in page.split('id="data"')[0]
    assert len(page) < 2_000_000


def test_field_html__runs_its_own_script_and_no_other(document: Maker) -> None:
    page = field_html(document(), None)
    script = page.rsplit("<script>", 1)[1].split("</script>")[0]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)
    assert policy is not None
    assert f"script-src 'sha256-{digest}'" in policy.group(1)
    assert "connect-src 'none'" in policy.group(1)
    served = field_html(document(), None, service="/api/studies/0123456789abcdef")
    assert "connect-src 'self'" in served
    assert '<link rel="manifest" href="0123456789abcdef/app.webmanifest">' in served


def test_field_html__a_card_for_every_fitting_with_its_facts(document: Maker) -> None:
    doc = document()
    page = field_html(doc, None)
    for item in (*doc["vents"], *doc["drains"]):
        assert page.count(f'<li class="card" data-id="{item["id"]}">') == 1
    bends = [bend for bend in doc["bends"] if bend["deflection_deg"] >= LEAST_BEND_DEG]
    found = things(doc)
    assert [place.id for place in found if place.kind == "bend"] == [bend["id"] for bend in bends]
    assert sum(place.kind == "pipe" for place in found) == len(doc["pipes"]) - 1
    stations = [place.station_m for place in found]
    assert stations == sorted(stations)
    assert (found[0].id, found[-1].id) == ("I1", "H1")
    # What is needed stands before what is advised, each by station.
    looks = {card_data(place)["id"]: place.look for place in found}
    order = re.findall(r'class="card" data-id="([^"]+)"', page)
    advised = [looks[name] != "solid" for name in order]
    assert set(order) == set(looks)
    assert advised == sorted(advised)
    assert {True, False} == set(advised)


def test_field_html__the_line_stays_within_a_centimetre(document: Maker) -> None:
    doc = document()
    line = data_of(field_html(doc, None))["line"]
    station = column(doc, "station_m")
    for name, key in (("ground_m", "ground"), ("depth_m", "depth")):
        drawn = np.interp(station, line["station"], line[key])
        assert np.abs(drawn - column(doc, name)).max() < 0.02
    assert len(line["station"]) < station.size


@pytest.mark.parametrize(
    "name", ["<img src=x onerror=alert(1)>", "</script><b>", '"{{data}}', "\u2028"]
)
def test_field_html__a_hostile_name_stays_text(document: Maker, name: str) -> None:
    page = field_html(document(name=name), None)
    assert "<img src=x" not in page
    assert page.count("<script") == 2
    assert data_of(page)["name"] == name.replace("\u2028", data_of(page)["name"])


def test_field_html__us_units(document: Maker) -> None:
    page = field_html(document(units="us"), None)
    assert data_of(page)["units"]["length"]["unit"] == "ft"
    assert "in" in page


def test_field_html__the_gpx_inside_is_gpx(document: Maker) -> None:
    doc = document()
    track = gpxpy.parse(data_of(field_html(doc, None))["gpx"])
    names = {point.name for point in track.waypoints}
    assert all(any(item["id"] in (name or "") for name in names) for item in doc["vents"])


def test_field_html__without_pipe_flow_or_relief(document: Maker) -> None:
    doc = document(flow=False)
    doc["pipes"] = []
    assert data_of(field_html(doc, None))["relief"] is None


def test_field_html__fresh_and_from_disk_are_the_same(document: Maker, from_disk: Callable) -> None:
    doc = document()
    assert field_html(doc, None) == field_html(from_disk(doc), None)


def test_field_html__what_was_recorded_is_in_it_again(document: Maker) -> None:
    record = {"kind": "tick", "of": "V1", "station_m": None, "done": True, "note": None,
              "photo": None, "gauge_kpa": None, "flow_m3_s": None, "invert_m": None,
              "time": "2026-06-01T09:30:00.000Z", "device": "tablet"}  # fmt: skip
    page = field_html({**document(), "records": [record]}, None)
    assert data_of(page)["records"] == [record]
    # The card itself says nothing of it that could grow stale: its script does.
    assert "2026-06-01" not in page.split('<ol id="cards">')[1].split("</ol>")[0]


def test_field_html__a_deep_trench_has_its_caution_where_the_depth_is_shown(
    document: Maker,
) -> None:
    shoring = data_of(field_html(document(), None))["shoring"]
    assert shoring["depth_m"] == 1.2  # British Columbia, OHS Regulation 20.81
    assert "1.20 m" in shoring["text"]


def test_write_field__whole_or_not_at_all(document: Maker, tmp_path: Path) -> None:
    write_field(document(), None, tmp_path / "field.html")
    assert [path.name for path in tmp_path.iterdir()] == ["field.html"]


def test_field_html__a_level_has_a_box_for_its_reading(document: Maker) -> None:
    doc = document()
    (level,) = doc["levels_to_shoot"]
    page = field_html(doc, None)
    card = page.split(f'data-id="L{round(10 * level["station_m"])}"')[1].split("</li>")[0]
    assert 'data-unit="m"' in card
    assert "<textarea" not in card
    assert "in the heights of this study" in card
    assert 'data-unit="ft"' in field_html(document(units="us"), None)


@pytest.mark.browser
def test_field__readings_go_home_as_surveyed_points(
    document: Maker, browser: Any, tmp_path: Path
) -> None:
    doc = document()
    (level,) = doc["levels_to_shoot"]
    write_field(doc, None, tmp_path / "field.html")
    page = browser.new_context(offline=True, accept_downloads=True).new_page()
    page.goto((tmp_path / "field.html").as_uri())
    page.click("nav [data-part=list]")
    page.click('[data-show="level"]')
    card = f'.card[data-id="L{round(10 * level["station_m"])}"]'
    page.click(f"{card} summary")
    page.fill(f"{card} .note input", "mud")
    page.press(f"{card} .note input", "Tab")
    page.wait_for_selector("#sync >> text=That is no level")
    page.fill(f"{card} .note input", "300,25")
    page.press(f"{card} .note input", "Tab")
    page.click("nav [data-part=more]")
    with page.expect_download() as download:
        page.click("#readings")
    download.value.save_as(tmp_path / "levels.csv")
    (point,) = read_survey(tmp_path / "levels.csv")
    assert (point.name, point.elevation_m) == ("L1", 300.25)
    assert point.station_m == pytest.approx(level["station_m"], abs=5e-4)
