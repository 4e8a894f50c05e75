"""Tools of the page besides drawing: tape, own levels, signs that stand clear, paper, Compare."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pyproj
import pytest
from long_lines import line_file, twelve_kilometres
from plan_page import HILLSIDE, bring_line, pixel_of, plan_of, settled
from waiting import until

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
GPX = "{http://www.topografix.com/GPX/1/1}"
CLEAR = """() => {
  const boxes = (selector) => [...document.querySelectorAll(selector)]
    .map((node) => node.getBoundingClientRect());
  const meet = (a, b) => a.left < b.right && b.left < a.right
    && a.top < b.bottom && b.top < a.bottom;
  const signs = boxes(".leaflet-marker-icon.sign");
  const handles = boxes(".handle:not(.handle-middle)");
  const over = signs.filter((sign) => handles.some((handle) => meet(sign, handle))).length;
  const each = signs.filter((sign, i) => signs.some((other, k) => k > i && meet(sign, other)));
  return { signs: signs.length, over, each: each.length, dots: boxes(".sign-dot").length };
}"""


def test_measure__gives_distance_fall_and_heights(open_page: Any, terrain: str) -> None:
    geod = pyproj.Geod(ellps="WGS84")
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        before = plan_of(page)
        page.click("[data-mode=measure]")
        for place in HILLSIDE[:2]:
            page.mouse.click(*pixel_of(page, place))
        page.wait_for_selector("#message >> text=on the plan")
        text = page.inner_text("#message")
        metres = float(re.match(r"([\d.]+) m", text)[1])  # type: ignore[index]
        _, _, expected = geod.inv(*HILLSIDE[0], *HILLSIDE[1])
        pixel = page.evaluate(
            "([a, b]) => Math.hypot(leatline.pixel(a).x - leatline.pixel(b).x, "
            "leatline.pixel(a).y - leatline.pixel(b).y)",
            [list(HILLSIDE[0]), list(HILLSIDE[1])],
        )
        assert metres == pytest.approx(expected, abs=3 * expected / pixel)
        assert "falls" in text
        assert "ground" in text
        page.keyboard.press("Escape")
        assert plan_of(page) == before


def test_signs__stand_clear_of_points_and_of_each_other(open_page: Any) -> None:
    with open_page() as page:
        page.click("#sample")
        page.wait_for_function("() => leatline.state.model !== null")
        settled(page)
        page.wait_for_function(
            f"() => {{ const found = ({CLEAR})(); return found.signs >= 14 && found.over === 0; }}"
        )
        found = page.evaluate(CLEAR)
        assert found["signs"] >= 14
        assert found["over"] == found["each"] == found["dots"] == 0


def test_levels__of_the_planner_go_out_with_the_others(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-fittings")
        page.evaluate("() => leatline.state.setHover(310)")
        page.click("[data-key=shoot-here]")
        assert page.locator(".shots li").count() == 1
        with page.expect_download() as waiting:
            page.click("text=GPX file")
        points = ET.parse(Path(waiting.value.path())).getroot().findall(f"{GPX}wpt")
        assert points[-1].findtext(f"{GPX}name") == "P1"
        shot = plan_of(page)["shots"][0]
        assert float(points[-1].attrib["lat"]) == pytest.approx(shot["lat"], abs=1e-9)
        assert shot["station_m"] == 310


LIES = """(wanted) => [...document.querySelectorAll(`.leaflet-marker-icon${wanted}`)]
  .map((node) => Number(node.style.zIndex))"""
"""How high the signs of a kind lie on the map."""


def test_signs__lie_over_the_dots_of_places_without_one(
    open_page: Any, terrain: str, tmp_path: Path
) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, line_file(tmp_path / "long.geojson", twelve_kilometres()))
        dots, signs, handles = (
            page.evaluate(LIES, kind) for kind in (".sign-dot", ".sign", ".handle")
        )
        assert len(dots) > 50
        assert max(dots) < min([*signs, *handles]), "a dot hides the letters of a sign"


INK = "() => import('/js/chart.js').then(({ css }) => css('--chart-ink'))"


def test_paper__has_map_profile_figures_vents_and_cautions(open_page: Any) -> None:
    with open_page() as page:
        page.click("#sample")
        page.wait_for_function("() => leatline.state.model !== null")
        settled(page)
        light = page.evaluate(INK)
        page.emulate_media(color_scheme="dark")
        until(lambda: page.evaluate(INK) != light, "the night's ink")  # comes when the page is idle
        dark = page.evaluate(INK)
        page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
        assert page.evaluate(INK) == light, "the chart keeps the colours of the night on paper"
        page.emulate_media(media="print", color_scheme="dark")
        model = page.evaluate("() => leatline.state.model")
        paper = page.inner_text("#paper")
        assert page.inner_text("#paper-head h1") == "Skarn Beck above Otterfell"
        for item in (*model["vents"], *model["drains"]):
            assert item["id"] in paper
        assert all(caution["text"] in paper for caution in model["cautions"])
        for shown in ("#map", "#profile canvas", "#figures", "#paper table"):
            assert page.is_visible(shown)
        for gone in (".ledger", ".tools", "#save", "#divider"):
            assert not page.is_visible(gone)
        page.emulate_media(media="screen", color_scheme="dark")
        page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
        assert page.evaluate(INK) == dark
        assert not page.is_visible("#paper")
        assert page.is_visible(".ledger")


LINE_IN_VIEW = """() => {
  const { plan } = leatline.state;
  const { clientWidth, clientHeight } = document.getElementById('map');
  return document.body.classList.contains('wide') && plan.lines[plan.active].points.every(
    point => { const { x, y } = leatline.pixel(point);
      return x >= 0 && y >= 0 && x <= clientWidth && y <= clientHeight; });
}"""
"""Whether a map that has become narrower shows the whole line."""


def test_compare__marks_how_each_line_differs_from_the_first(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("text=Copy this line")
        points = plan_of(page)["lines"][1]["points"]
        page.fill("[data-key=point-20]", f"{points[20][0] + 0.0002}, {points[20][1] + 0.0004}")
        page.press("[data-key=point-20]", "Enter")
        settled(page)
        page.click("#tab-compare")
        page.wait_for_function(LINE_IN_VIEW)
        page.wait_for_selector(".compare .gap")
        row = page.locator(".compare tr", has_text="Length in plan")
        first, second = (
            float(text.split()[0])
            for text in row.locator("td").evaluate_all(
                "cells => cells.map((cell) => cell.firstChild.textContent)"
            )
        )
        for label, figure in (("Trench volume", "Trench"), ("Vents", "Vents")):
            told = page.locator(".compare tr", has_text=label).locator("td").last
            shown = page.locator(".figure", has_text=figure).locator(".value").first.inner_text()
            assert told.evaluate("cell => cell.firstChild.textContent") == shown
        gap = row.locator(".gap").inner_text()
        assert float(gap.split()[0].replace("−", "-")) == pytest.approx(second - first, abs=0.11)
