"""Which pipe and what it costs: tried by the full study, ranked, priced, paid back."""

from __future__ import annotations

from typing import Any

import httpx
import pytest
from plan_page import bring_line, pixel_of, plan_of, settled

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
SLOW_MS = 60_000


def open_sample(page: Any) -> None:
    page.click("#sample")
    page.wait_for_function("() => leatline.state.model !== null")
    settled(page)


def typed(page: Any, key: str, text: str) -> None:
    page.fill(f"[data-key='{key}']", text)
    page.press(f"[data-key='{key}']", "Enter")


def test_pipe__the_best_is_taken_and_holds(open_page: Any, client: httpx.Client) -> None:
    with open_page() as page:
        open_sample(page)
        page.click("#tab-water")
        page.wait_for_selector(".tried li", timeout=SLOW_MS)
        plan = plan_of(page)
        body = page.evaluate(
            "() => import('/js/plan.js').then(({ previewBody }) => "
            "previewBody(leatline.state.plan, leatline.state.plan.lines[0]))"
        )
        choice = client.post("/api/pipes?sizes=false", json=body, timeout=300).json()
        best = [row["label"] for row in choice["sweep"] if row["fits"]][:5]
        assert page.locator(".tried button").all_inner_texts() == best
        page.click(".tried button >> nth=0")
        settled(page)
        assert plan_of(page) != plan
        assert page.evaluate("() => leatline.state.model.verdict.faults") == 0
        assert page.evaluate("() => leatline.state.model.pipes.length") == 1
        page.click("[data-key=several-sizes]")
        page.wait_for_selector("[data-sequence=diameters]", timeout=SLOW_MS)
        page.click("[data-sequence=diameters] >> text=Take these")
        settled(page)
        assert len(plan_of(page)["lines"][0]["settings"]["pipe"]) > 1


@pytest.mark.parametrize("size", [(1440, 900), (1024, 700), (390, 844)])
def test_nothing_is_wider_than_its_page_once_depths_have_prices(
    open_page: Any, size: tuple[int, int]
) -> None:
    with open_page(size=size) as page:
        open_sample(page)
        page.click("#tab-money")
        for key, text in (("price-Currency", "EUR"), ("price-Trench, per m³", "1400")):
            typed(page, key, text)
        settled(page)
        wide = {}
        for tab in page.get_by_role("tab").all():
            tab.click()
            wide[tab.get_attribute("id")] = page.evaluate(
                "() => Math.max(...[...document.querySelectorAll('.ledger, .tabs, .pages')]"
                ".map((part) => Math.max(part.scrollWidth - part.clientWidth,"
                " part.getBoundingClientRect().right - innerWidth)))"
            )
        assert page.locator(".compare.depths tbody tr").count() > 1
        assert max(wide.values()) <= 0.5, wide
        zoom = page.locator(".leaflet-control-zoom").bounding_box()
        for tool in page.locator(".tools button").all():
            box = tool.bounding_box()
            beside = box["x"] + box["width"] <= zoom["x"]
            assert beside or box["y"] + box["height"] <= zoom["y"] or not tool.is_visible()


def test_journey__from_an_empty_page_to_a_saved_study_with_pipe_and_price(
    open_page: Any, client: httpx.Client, sample_line: dict[str, Any]
) -> None:
    line = sample_line["features"][0]["geometry"]["coordinates"]
    with open_page() as page:
        page.set_input_files("#raster-file", str(SAMPLE.terrain))
        page.wait_for_function("() => leatline.state.mode === 'draw'")
        for place in line[:-1:3]:
            page.mouse.click(*pixel_of(page, place))
        page.mouse.dblclick(*pixel_of(page, line[-1]))
        page.wait_for_function("() => leatline.state.mode === 'edit'")
        settled(page)
        page.click("#tab-water")
        typed(page, "flow-design", "20 L/s")
        page.wait_for_selector(".tried li", timeout=SLOW_MS)
        page.click(".tried button >> nth=0")
        settled(page)
        page.click("#tab-money")
        typed(page, "price-Currency", "crowns")
        typed(page, "price-Trench, per m³", "30")
        settled(page)
        page.click("#study-name")
        page.keyboard.type("Five minutes")
        page.keyboard.press("Control+s")
        page.wait_for_selector("#saved >> text=Saved, revision 1")
        study = client.get(f"/api/studies/{page.url.partition('study=')[2]}").json()
        assert study["name"] == "Five minutes"
        assert study["summary"]["power_kw"] > 0
        assert study["cost"]["total"] > 0
        assert study["cost"]["not_priced"]
        assert study["verdict"]["faults"] == 0


def test_picker__hides_what_cannot_hold_the_line(open_page: Any) -> None:
    with open_page() as page:
        open_sample(page)
        page.click("#tab-water")
        page.wait_for_selector(".tried li", timeout=SLOW_MS)
        page.click("[data-key=all-pipes]")
        hits = page.locator("#catalogue-list .hit")
        assert hits.count() > 5
        assert page.locator("#catalogue-list .unfit").count() == 0
        fitting = hits.count()
        page.check("#catalogue-others")
        assert hits.count() > fitting
        assert page.locator("#catalogue-list .unfit").count() > 0


def test_picker__without_a_flow_goes_by_the_water_at_rest(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-water")
        page.click("text=Add a pipe")
        page.wait_for_selector("#catalogue-list .hit")
        assert "flow" in page.inner_text("#catalogue-told")
        page.fill("#catalogue-query", "PE100-SDR41")
        page.wait_for_selector("#catalogue-list .empty")


def test_money__account_follows_and_the_book_is_kept(open_page: Any) -> None:
    with open_page(away=True) as page:
        open_sample(page)
        page.click(".figure >> text=Cost")
        assert page.is_visible("#panel-money")
        typed(page, "price-Currency", "crowns")
        typed(page, "price-Trench, per m³", "30")
        typed(page, "price-Other pipe of PE100, per kg", "3,5")
        settled(page)
        cost = page.evaluate("() => leatline.state.model.cost")
        assert f"{round(cost['total']):,}\u00a0crowns" in page.inner_text(".account")
        assert "vents" in page.inner_text("#panel-money .lacking")
        assert plan_of(page)["prices"]["date"]
        page.click("[data-key=keep-prices]")
        page.click("#tab-settings")
        page.click("[data-table=energy] summary")
        for share, flow in (("5 %", "90 L/s"), ("95 %", "25 L/s")):
            page.click("[data-key='add-energy.curve']")
            row = page.locator("[data-table=energy] .setting-rows > li").last
            row.locator("input").nth(0).fill(share)
            row.locator("input").nth(0).press("Enter")
            row.locator("input").nth(1).fill(flow)
            row.locator("input").nth(1).press("Enter")
        page.click("#tab-money")
        typed(page, "intake-residual", "3 L/s")
        typed(page, "energy-price_per_kwh", "0.12")
        typed(page, "energy-interest", "6 %")
        typed(page, "energy-years", "20")
        settled(page)
        energy = page.evaluate("() => leatline.state.model.energy")
        account = page.inner_text(".account")
        assert f"{round(energy['energy_kwh']):,} kWh" in account
        cost = page.evaluate("() => leatline.state.model.cost")
        assert f"{cost['total'] / energy['worth_per_year']:.1f} years" in account
        assert "–" not in account
        page.evaluate("() => leatline.state.restart({...leatline.state.plan, prices: {}})")
        settled(page)
        page.click("[data-key=take-prices]")
        assert plan_of(page)["prices"]["trench_per_m3"] == 30
