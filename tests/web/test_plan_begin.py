"""How a newcomer begins: the start card, the sample, the language, the first keys, a quick save."""

from __future__ import annotations

import re
from typing import Any

import httpx
import pytest
from plan_page import bring_line, plan_of, settled

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()


@pytest.mark.parametrize("size", [(1440, 900), (1024, 700), (390, 844)])
def test_sample__opens_from_the_start_card(open_page: Any, size: tuple[int, int]) -> None:
    with open_page(size=size) as page:
        button = page.locator("#start").get_by_role("button", name=re.compile("sample"))
        box = button.bounding_box()
        assert box["y"] + box["height"] < size[1]
        button.click()
        page.wait_for_function("() => leatline.state.model !== null")
        settled(page)
        plan = plan_of(page)
        assert plan["name"] == "Skarn Beck above Otterfell"
        assert plan["lines"][0]["settings"]["trench"]["cover"] == "0.8 m"
        assert page.locator(".figure", has_text="Power").locator(".value").inner_text() != "–"
        assert page.evaluate("() => document.documentElement.scrollWidth") <= size[0]


def test_page__has_the_names_that_scripts_rely_on(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        for name in ("Map", "Figures", "Profile"):
            assert page.get_by_role("region", name=name, exact=True).count() == 1
        assert page.get_by_role("separator").count() == 1
        profile = page.get_by_role("region", name="Profile", exact=True)
        assert re.search(r"\bx [0-9.]+", profile.inner_text())
        language = page.get_by_label("Language")
        assert language.input_value() == "en"
        assert page.evaluate("() => document.documentElement.lang") == "en"


def test_keys__first_tab_leads_past_the_bar(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        page.keyboard.press("Tab")
        assert page.evaluate("() => document.activeElement.className") == "skip"
        page.keyboard.press("Enter")
        page.wait_for_function("() => document.activeElement.id === 'map'")


def test_save__takes_the_name_that_is_being_typed(
    open_page: Any, terrain: str, client: httpx.Client
) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        page.wait_for_function("() => leatline.state.mode === 'draw'")
        page.keyboard.press("Control+s")
        page.wait_for_selector("#message >> text=Nothing to save yet")
        bring_line(page, SAMPLE.line)
        page.click("#study-name")
        page.keyboard.type("Rowan Gill")
        page.keyboard.press("Control+s")
        page.wait_for_selector("#saved >> text=Saved, revision 1")
        saved = page.evaluate("() => leatline.state.saved.id")
        assert client.get(f"/api/studies/{saved}").json()["name"] == "Rowan Gill"
        assert page.evaluate("() => document.activeElement.id") == "study-name"
        page.reload()
        page.wait_for_function("() => window.leatline?.state.model")
        settled(page)
        shown = page.locator("[data-key=intake-level]").get_attribute("placeholder")
        assert re.fullmatch(r"\d+\.\d\d m", shown), "a field is blank until the first change"
        page.goto(str(client.base_url.join("/list")))
        card = page.locator("#studies li", has_text="Rowan Gill")
        sheet = card.get_by_role("link", name="Field sheet")
        assert sheet.get_attribute("href") == f"/field/{saved}"
        names = card.get_by_role("link").all_inner_texts()
        assert {"Permit package", "Stake-out list", "Workbook", "Shapefile"} <= set(names)


def test_raster__twice_is_one_terrain(open_page: Any, client: httpx.Client) -> None:
    with open_page() as page:
        page.set_input_files("#raster-file", str(SAMPLE.terrain))
        page.wait_for_function("() => leatline.state.plan.terrain.length === 1")
        count = len(client.get("/api/terrains").json())
        page.set_input_files("#raster-file", str(SAMPLE.terrain))
        page.wait_for_selector("#message >> text=here already")
        assert len(client.get("/api/terrains").json()) == count


def test_warming__is_said_while_the_first_line_waits(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        page.route("**/api/health", lambda route: route.fulfill(json={"warming": True}))
        held: list[Any] = []
        page.route("**/api/preview*", lambda route: held.append(route))
        page.set_input_files("#line-file", str(SAMPLE.line))
        page.wait_for_selector("#warming >> text=preparing its calculations")
        page.unroute("**/api/preview*")
        for route in held:
            route.continue_()
        settled(page)
        assert page.is_hidden("#warming")
