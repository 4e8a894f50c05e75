"""What the planner chooses by its price: straight grades, depth against vents, levels to take."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest
from plan_page import bring_line, plan_of, settled

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
GPX = "{http://www.topografix.com/GPX/1/1}"


def test_grades__a_choice_is_laid_and_can_be_taken_back(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-trench")
        choices = page.evaluate("() => leatline.state.model.trench.grade_choices")
        assert page.locator(".grade-choices label").count() == 3
        assert page.is_checked("text=balanced")
        assert page.locator(".front tbody tr").count() == len(choices)
        page.check("text=fewest grades")
        settled(page)
        fewest = next(each for each in choices if each["name"] == "fewest grades")
        trench = page.evaluate("() => leatline.state.model.trench")
        assert trench["break_price_m3"] == fewest["break_price_m3"]
        assert trench["volume_m3"] == pytest.approx(fewest["volume_m3"], rel=0.005)
        assert page.is_checked("text=fewest grades")
        page.keyboard.press("Control+z")
        settled(page)
        assert plan_of(page)["lines"][0]["settings"] == {}


def test_depths__say_what_they_save_and_dig(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        depths = page.evaluate("() => leatline.state.model.doubt.depths")
        page.click("#tab-trench")
        rows = page.locator(".depths tbody tr")
        assert rows.count() == len(depths) > 3
        _, _, saves, digs = rows.last.locator("td").all_text_contents()
        saved = int(re.match(r"\d+", saves)[0])  # type: ignore[index]
        assert saved == depths[0]["summits"] - depths[-1]["summits"] > 0
        assert float(digs.split()[0]) == pytest.approx(depths[-1]["extra_volume_m3"], abs=0.06)
        rows.last.locator("button").click()
        settled(page)
        limit = page.evaluate("() => leatline.state.model.trench.max_depth_m")
        assert limit == depths[-1]["max_depth_m"]


def test_levels__are_listed_marked_and_handed_out(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        assert page.locator(".level-mark").count() == 0
        page.fill("[data-key=terrain-rmse]", "0.5 m")
        page.press("[data-key=terrain-rmse]", "Enter")
        settled(page)
        page.click("#tab-fittings")
        levels = page.evaluate("() => leatline.state.model.levels_to_shoot")
        assert len(levels) > 3
        assert page.locator(".level-mark").count() == len(levels)
        assert page.locator(".levels li").count() == len(levels)
        with page.expect_download() as waiting:
            page.click("text=GPX file")
        points = ET.parse(Path(waiting.value.path())).getroot().findall(f"{GPX}wpt")
        assert [float(p.attrib["lat"]) for p in points] == [each["lat"] for each in levels]
        page.click(".levels button >> nth=0")
        hover = page.evaluate("() => leatline.state.hover")
        assert hover == pytest.approx(levels[0]["station_m"], abs=0.01)
