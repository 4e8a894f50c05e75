"""Every setting has its place on the page; settings files go in and out; assumptions are told."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from plan_page import bring_line, plan_of, settled

import sample_dem
from api.settings_page import field_rows, table_rows
from routing.settings import read_settings

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()


def test_settings__every_row_has_one_field(open_page: Any, terrain: str) -> None:
    several = {path for path, told in table_rows().items() if told["several"]}
    with open_page(f"/?terrain={terrain}", away=True) as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-settings")
        for fold in page.locator("#panel-settings details").all():
            fold.locator("summary").first.click()
        for path in several:
            page.click(f"[data-key='add-{path}']")
        for path in field_rows():
            place = path.split(".")
            for at in range(1, len(place)):
                if ".".join(place[:at]) in several:
                    place[at:at] = ["0"]
                    break
            key = "-".join(place)
            where = f"[data-key='all-{key}'], [data-file='{path}'], [data-key='new-{key}']"
            assert page.locator(where).count() == 1, path


def test_settings__are_found_set_checked_and_taken_back(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-settings")
        page.fill("[data-key=find-setting]", "closing time of its valve")
        field = page.locator("[data-key=all-turbine-closure_time]")
        field.wait_for()
        assert page.locator(".setting:visible").count() == 1
        field.fill("-3 s")
        field.press("Enter")
        assert field.get_attribute("aria-invalid") == "true"
        assert plan_of(page)["lines"][0]["settings"] == {}
        field.fill("12")
        field.press("Enter")
        assert plan_of(page)["lines"][0]["settings"] == {"turbine": {"closure_time": "12 s"}}
        page.keyboard.press("Control+z")
        assert plan_of(page)["lines"][0]["settings"] == {}
        page.fill("[data-key=find-setting]", "may freeze")
        page.select_option("[data-key=all-site-vents_may_freeze]", "no")
        assert plan_of(page)["lines"][0]["settings"] == {"site": {"vents_may_freeze": False}}


def test_settings_file__comes_in_and_goes_out_the_same(
    open_page: Any, terrain: str, tmp_path: Path
) -> None:
    levels = tmp_path / "levels.csv"
    levels.write_text("station,elevation\n310,293.1\n")
    given = tmp_path / "own.toml"
    text = SAMPLE.settings.read_text(encoding="utf-8")
    given.write_text(f'{text}\n[survey]\npoints = "levels.csv"\n[prices]\nvent = 120\n')
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-settings")
        page.set_input_files("#settings-file", [str(given), str(levels)])
        page.wait_for_function("() => leatline.state.plan.name === 'Skarn Beck above Otterfell'")
        settled(page)
        with page.expect_download() as waiting:
            page.click("text=Write it out")
        out = tmp_path / "out.toml"
        out.write_bytes(Path(waiting.value.path()).read_bytes())
        assert dict(read_settings(out).given) == dict(read_settings(given).given)


def test_settings_file__that_is_wrong_changes_nothing(
    open_page: Any, terrain: str, tmp_path: Path
) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("[flow]\ndesin = '18 L/s'\n")
    with open_page(f"/?terrain={terrain}", away=True) as page:
        bring_line(page, SAMPLE.line)
        before = plan_of(page)
        page.click("#tab-settings")
        page.set_input_files("#settings-file", str(wrong))
        page.wait_for_selector("#message >> text=design")
        assert plan_of(page) == before


def test_assumptions__stand_above_the_findings(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-fittings")
        page.click("#panel-fittings summary >> nth=0")
        taken = page.evaluate("() => leatline.state.model.assumptions")
        assert len(taken) > 3
        words = "texts => import('/js/setting-words.js').then((own) => texts.map(own.settingWords))"
        shown = page.locator(".assumed li").all_inner_texts()
        told = page.evaluate(words, taken)
        assert [each.replace("\u00a0", " ") for each in shown] == told


def test_toml__a_file_with_all_kinds_of_values_reads_back(page_module: Any) -> None:
    tables = {
        "study": {"name": 'A "quoted" name\nin two lines\u007f\u00e9', "units": "us"},
        "trench": {"cover": "0.9 m", "span": [{"from": "1 m", "to": "2 m"}], "min_grade": 0.002},
        "prices": {"per_metre": {"PE100-SDR17-200": 31.5, "odd key": 2}, "vent": 120},
        "layer": [{"kind": "no-go", "features": {"type": "FeatureCollection", "features": []}}],
        "site": {"vents_may_freeze": False},
    }
    assert tomllib.loads(page_module("toml.js", "toToml", tables)) == tables
