"""The planning page in a real browser that may speak to nobody but the service."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import httpx
import pytest
from long_lines import line_file, twelve_kilometres
from plan_page import (
    bring_line,
    centre,
    draw,
    from_terminal,
    pixel_of,
    plan_of,
    points_of,
    settled,
)

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
PHONE = (390, 844)


def test_journey__from_a_raster_to_head_vents_and_drains(
    open_page: Any, client: httpx.Client, tmp_path: Path
) -> None:
    with open_page() as page:
        page.set_input_files("#raster-file", str(SAMPLE.terrain))
        page.wait_for_function("() => leatline.state.mode === 'draw'")
        page.wait_for_selector(".relief-tile .leaflet-tile-loaded")
        draw(page)
        page.click("#tab-water")
        page.fill("[data-key=flow-design]", "22")
        page.press("[data-key=flow-design]", "Enter")
        page.click("text=Add a pipe")
        page.check("#catalogue-others")
        page.fill("#catalogue-query", "pe100 sdr11 200")
        page.click("#catalogue-list .hit >> text=SDR11")
        settled(page)
        page.click("#tab-fittings")
        figures = page.text_content("#figures")
        assert "Net head" in figures
        shown = page.locator(".fittings details").count()
        page.fill("#study-name", "First <b>line</b>")
        page.press("#study-name", "Enter")
        page.click("#save")
        page.wait_for_selector("#saved >> text=Saved, revision 1")
        plan = plan_of(page)
        model = page.evaluate("() => leatline.state.model.summary")
        study_id = page.url.partition("study=")[2]
        study = from_terminal(points_of(page), plan["lines"][0]["settings"], tmp_path)
        saved = client.get(f"/api/studies/{study_id}").json()
        assert saved["name"] == "First <b>line</b>"
        assert saved["summary"] == model == study["summary"]
        assert shown == study["summary"]["vent_count"] + study["summary"]["drain_count"]


def test_drag__in_order_and_at_last_what_the_terminal_says(
    open_page: Any, terrain: str, tmp_path: Path
) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.evaluate("() => leatline.trace.applied.length = 0")
        x, y = centre(page, ".handle-bend >> nth=4")
        page.mouse.move(x, y)
        page.mouse.down()
        path = [(x + 2.0 * k, y - 18.0 + 0.09 * (k - 14) ** 2) for k in range(30)]
        for k, at in enumerate(path):
            page.mouse.move(*at)
            if k % 10 == 9:  # a busy machine answers no sooner
                page.wait_for_function("() => leatline.live.idle")
        assert page.evaluate(DRAWN) == 4, "the legs that move stand apart from the others"
        page.mouse.up()
        settled(page)
        assert page.evaluate(DRAWN) == 2
        applied = page.evaluate("() => leatline.trace.applied")
        assert len(applied) >= 3
        assert applied == sorted(set(applied))
        moved = points_of(page)
        assert len(moved) == 44
        study = from_terminal(moved, {}, tmp_path)
        assert page.evaluate("() => leatline.state.model.summary") == study["summary"]
        page.keyboard.press("Control+z")
        assert points_of(page) != moved


DRAWN = """() => [...document.querySelectorAll(".leaflet-line-pane path")]
  .filter((path) => path.getAttribute("d").length > 6).length"""
TRENCH = """async () => {
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  const canvas = document.querySelector("#strip canvas");
  const { width, height } = canvas;
  const copy = new OffscreenCanvas(width, height).getContext("2d", { willReadFrequently: true });
  copy.drawImage(canvas, 0, 0);
  const { data } = copy.getImageData(0, 0, width, height);
  const [from, to] = [80, width - 200]; // past the axis, short of the limits' labels
  const columns = { ink: 0, fill: 0 };
  for (let x = from; x < to; x += 1) {
    const column = Array.from({ length: height }, (_, y) => 4 * (y * width + x))
      .map((at) => data.slice(at, at + 4));
    const lines = column.filter(([r, g, b, a]) => a > 120 && r + g + b < 330).length;
    columns.ink += lines >= 2;
    columns.fill += column.some(([r, g, b, a]) => a > 30 && r + g + b > 420 && r > b + 8);
  }
  return [columns.ink / (to - from), columns.fill / (to - from)];
}"""
"""Shares of the columns of pixels of the trench that show its lines, and what lies between."""
LONG_MS = 150_000
ALL_SIGNS = """() => leatline.live.idle && leatline.trace.painted === leatline.trace.asked
  && leatline.state.draft === null"""


def test_twelve_kilometres__are_dragged_read_and_signed(
    open_page: Any, terrain: str, tmp_path: Path
) -> None:
    path = line_file(tmp_path / "long.geojson", twelve_kilometres())
    with open_page(f"/?terrain={terrain}") as page:
        page.set_input_files("#line-file", str(path))
        page.wait_for_function("() => leatline.state.model !== null", timeout=LONG_MS)
        page.wait_for_function(ALL_SIGNS, timeout=LONG_MS)
        before = points_of(page)
        page.evaluate("() => leatline.trace.applied.length = 0")
        x, y = centre(page, ".handle-bend >> nth=4")
        page.mouse.move(x, y)
        page.mouse.down()
        for k in range(12):
            page.mouse.move(x + k, y - k)
        page.mouse.up()
        page.wait_for_function(ALL_SIGNS, timeout=LONG_MS)
        applied = page.evaluate("() => leatline.trace.applied")
        assert len(applied) >= 2
        assert applied == sorted(set(applied))
        after = points_of(page)
        assert sum(a != b for a, b in zip(before, after, strict=True)) == 1
        counts = page.evaluate(
            "() => { const { summary, vents, drains, n } = leatline.state.model;"
            " return [summary.plan_length_m, vents.length, drains.length, n]; }"
        )
        assert 12_000.0 < counts[0] < 13_000.0
        assert counts[3] > 2000
        assert page.locator(".sign-vent").count() == counts[1] == page_count(page, "Vents")
        assert page.locator(".sign-drain").count() == counts[2] == page_count(page, "Drains")
        whole = page.evaluate(TRENCH)
        page.evaluate("() => leatline.state.setView([3000, 3600])")
        near = page.evaluate(TRENCH)
        assert min(*whole, *near) > 0.95, "both lines and the fill between, column by column or not"
        page.focus("#profile")
        page.keyboard.press("End")
        assert "12" in page.get_attribute("#profile", "aria-valuetext")


def page_count(page: Any, name: str) -> int:
    """Return the count that a figure shows."""
    return int(page.locator(".figure", has_text=name).locator(".value").inner_text())


def test_undo__across_everything(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        page.wait_for_function("() => leatline.state.mode === 'draw'")
        plans = [plan_of(page)]

        def step(act: Any) -> None:
            act()
            assert plan_of(page) != plans[-1]
            plans.append(plan_of(page))

        def typed(key: str, text: str) -> None:
            page.fill(f"[data-key={key}]", text)
            page.press(f"[data-key={key}]", "Enter")

        step(lambda: bring_line(page, SAMPLE.line))
        step(lambda: typed("point-3", "-16.0684, 47.2977"))
        step(lambda: typed("intake-level", "310.4 m"))
        step(lambda: page.click("text=Turn round"))
        step(lambda: page.keyboard.press("Control+z"))
        plans.pop()
        plans.pop()
        assert plan_of(page) == plans[-1]
        page.click("#tab-trench")
        step(lambda: typed("trench-cover", "0.9"))
        step(lambda: page.click("text=Type stations"))
        page.click("#tab-water")
        step(lambda: typed("flow-design", "20 L/s"))
        step(lambda: page.press("#flow-slider", "ArrowRight"))
        step(lambda: page.select_option("#units", "us"))
        page.click("#tab-line")
        step(lambda: page.click("text=Copy this line"))
        step(lambda: page.click("[data-key=drop-0]"))
        page.click("#map", position={"x": 900, "y": 200})
        for plan in reversed(plans[:-1]):
            page.click("#undo")
            assert plan_of(page) == plan
        for plan in plans[1:]:
            page.click("#redo")
            assert plan_of(page) == plan
        assert page.is_disabled("#redo")


def save_with(page: Any, cover: str) -> None:
    page.click("#tab-trench")
    page.fill("[data-key=trench-cover]", cover)
    page.press("[data-key=trench-cover]", "Enter")
    settled(page)
    page.click("#save")


def test_two_pages__nobody_is_overwritten_unasked(
    open_page: Any, client: httpx.Client, terrain: str, sample_line: dict[str, Any]
) -> None:
    body = {"terrain": terrain, "route": sample_line, "settings": {}, "name": "Shared"}
    study = client.post("/api/studies", json=body).json()["id"]
    address = f"/?study={study}"
    with open_page(address, away=True) as first, open_page(address, away=True) as second:
        settled(first)
        settled(second)
        save_with(first, "0.8 m")
        first.wait_for_selector("#saved >> text=revision 2")
        save_with(second, "0.95 m")
        second.wait_for_selector("#conflict[open]")
        assert "Revision 2 was saved elsewhere" in second.text_content("#conflict-facts")
        assert second.text_content("#conflict-differs").endswith("has other settings.")
        newest = client.get(f"/api/studies/{study}").json()
        assert newest["settings"]["trench"] == {"cover": "0.8 m"}
        second.click("text=Keep both")
        second.wait_for_selector("#saved >> text=revision 1")
        copy = second.url.partition("study=")[2]
        assert copy != study
        assert client.get(f"/api/studies/{copy}").json()["settings"]["trench"]["cover"] == "0.95 m"
        assert client.get(f"/api/studies/{study}").json()["revision"] == 2


def test_conflict__mine_over_theirs_keeps_theirs_as_a_revision(
    open_page: Any, client: httpx.Client, terrain: str, sample_line: dict[str, Any]
) -> None:
    body = {"terrain": terrain, "route": sample_line, "settings": {}, "name": "Shared too"}
    made = client.post("/api/studies", json=body)
    study = made.json()["id"]
    with open_page(f"/?study={study}", away=True) as page:
        settled(page)
        theirs = {**body, "settings": {"trench": {"cover": "1.1 m"}}}
        done = client.put(
            f"/api/studies/{study}", json=theirs, headers={"if-match": made.headers["etag"]}
        )
        assert done.status_code == 200
        save_with(page, "0.7 m")
        page.wait_for_selector("#conflict[open]")
        page.click("text=Mine becomes revision 3")
        page.wait_for_selector("#saved >> text=revision 3")
        kept = client.get(f"/api/studies/{study}", params={"revision": 2}).json()
        assert kept["settings"]["trench"]["cover"] == "1.1 m"
        page.click(".menu summary")
        page.click("#history-open")
        page.wait_for_selector("#revision-list li >> nth=2")
        page.click("#revision-list li:has-text('Revision 2') button")
        page.wait_for_function("() => leatline.state.history.undoLabel.startsWith('Revision 2')")
        assert plan_of(page)["lines"][0]["settings"]["trench"]["cover"] == "1.1 m"


def test_reload__unsaved_work_is_there_again(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-trench")
        page.fill("[data-key=trench-max_depth]", "1.7")
        page.press("[data-key=trench-max_depth]", "Enter")
        before = plan_of(page)
        page.reload()
        page.wait_for_selector("#message >> text=Unsaved work")
        assert plan_of(page) == before


def test_limits__pulled_in_the_strip_make_vents_vanish(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        before = page.evaluate("() => leatline.state.model.vents.length")
        offers = page.evaluate("() => leatline.state.model.trench.offers")
        assert offers
        strip = page.locator("#strip .u-over").bounding_box()
        page.click("#tab-trench")
        pull_limit(page, strip, 1.9)
        settled(page)
        after = page.evaluate("() => leatline.state.model.vents.length")
        limit = page.evaluate("() => leatline.state.model.trench.max_depth_m")
        assert limit > 1.4
        assert after < before
        page.keyboard.press("Control+z")
        settled(page)
        assert page.evaluate("() => leatline.state.model.vents.length") == before
        page.click(".offers li >> nth=0 >> text=Allow")
        settled(page)
        trench = page.evaluate("() => leatline.state.model.trench")
        assert trench["limits"][0]["max_depth_m"] >= offers[0]["depth_m"]
        assert trench["limits"][0]["from_m"] == offers[0]["from_m"]
        assert trench["max_depth_m"] == 1.2
        assert page.evaluate("() => leatline.state.model.vents.length") < before


def pull_limit(page: Any, strip: dict[str, float], factor: float) -> None:
    """Take hold of the greatest depth in the strip and pull it down by the mouse."""
    scale = page.evaluate(
        "() => { const m = leatline.state.model.trench.max_depth_m; return m / (m * 1.45); }"
    )
    y = strip["y"] + strip["height"] * scale
    x = strip["x"] + strip["width"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for k in range(12):
        page.mouse.move(x, y + k * strip["height"] * (factor - 1) * scale / 11)
    page.mouse.up()


def test_nogo__a_line_through_it_is_a_fault(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        x, y = centre(page, ".handle-bend >> nth=9")
        page.click("[data-mode=nogo]")
        for dx, dy in ((-40, -40), (40, -40), (40, 40), (-40, 40)):
            page.mouse.click(x + dx, y + dy)
        page.mouse.dblclick(x - 60, y)
        page.click("#tab-fittings")
        page.wait_for_selector(".findings .fault >> text=no-go area 1")
        settled(page)
        page.click("#save")
        page.wait_for_selector("#saved >> text=Saved")
        page.reload()
        page.wait_for_function("() => leatline.state.plan.nogo.length === 1")


def test_where_from__every_number_answers(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.hover("#profile .u-over", position={"x": 300, "y": 40})
        keys = page.eval_on_selector_all(
            "[data-where]", "nodes => nodes.filter(n => n.offsetParent).map(n => n.dataset.where)"
        )
        assert len(keys) >= 11
        for key in keys:
            page.click(f"[data-where='{key}']")
            page.wait_for_selector("#where .formula")
            page.keyboard.press("Escape")


def test_compare__differences_are_named_and_priced(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("text=Copy this line")
        points = points_of(page)
        page.fill("[data-key=point-20]", f"{points[20][0] + 0.0002}, {points[20][1] + 0.0004}")
        page.press("[data-key=point-20]", "Enter")
        page.click("#tab-compare")
        page.wait_for_selector(".compare td.best")
        page.click("#tab-money")
        page.fill("text=Trench, per m³", "40")
        page.press("text=Trench, per m³", "Enter")
        page.click("#tab-compare")
        page.wait_for_selector(".compare >> text=Cost")
        words = page.text_content("#panel-compare .rows")
        assert "against “Skarn Beck”" in words
        assert "more" in words or "less" in words
        assert page.locator(".overlay canvas").count() == 1


def test_first_view__is_light_and_quick(open_page: Any, client: httpx.Client) -> None:
    sizes: list[int] = []
    with open_page(service_workers="block") as page:
        session = page.context.new_cdp_session(page)
        session.send("Network.enable")
        session.on(
            "Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"])
        )
        started = time.perf_counter()
        session.send("Network.setCacheDisabled", {"cacheDisabled": True})
        page.reload(wait_until="load")
        page.wait_for_function("window.leatline !== undefined")
        took = time.perf_counter() - started
    total = sum(sizes)
    assert 100_000 < total < 400_000
    assert took < 20.0  # a second on a quiet machine; tests share theirs


@pytest.mark.parametrize(
    ("button", "level", "place"), [("Powerhouse to it", 262.5, -1), ("Intake to it", 305.0, 0)]
)
def test_snap__an_end_moves_to_where_the_ground_has_a_level(
    open_page: Any, terrain: str, button: str, level: float, place: int
) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        before = page.evaluate("() => leatline.state.model.summary.plan_length_m")
        page.fill("[data-key=snap]", f"{level} m")
        page.click(f"text={button}")
        page.wait_for_function("() => leatline.state.history.undoLabel.includes('level')")
        settled(page)
        ground = page.evaluate("() => Array.from(leatline.state.model.col.ground_m)")
        assert ground[place] == pytest.approx(level, abs=0.05)
        assert page.evaluate("() => leatline.state.model.summary.plan_length_m") < before


def test_extend__a_line_grows_from_its_intake(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        before = points_of(page)
        x, y = centre(page, ".handle-intake")
        page.click("text=Extend above the intake")
        page.mouse.click(x - 40, y - 30)
        page.mouse.dblclick(x - 80, y - 20)
        page.wait_for_function("() => leatline.state.mode === 'edit'")
        settled(page)
        after = points_of(page)
        assert after[2:] == before
        assert len(after) == len(before) + 2


def test_bridge__picked_on_the_map_is_buried_no_more(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("[data-mode=span]")
        for index in (6, 12):
            page.mouse.click(*pixel_of(page, points_of(page)[index]))
        page.wait_for_function("() => leatline.state.mode === 'edit'")
        settled(page)
        spans = page.evaluate("() => leatline.state.model.trench.spans")
        assert len(spans) == 1
        assert 50 < spans[0]["to_m"] - spans[0]["from_m"] < 300
