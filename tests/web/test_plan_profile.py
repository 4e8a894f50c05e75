"""The profile as the workbench: its room, its heights, what is red on it, at every size."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from long_lines import line_file, twelve_kilometres
from plan_page import bring_line, set_settings, settled

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
LAPTOP = (1280, 800)
STARVED = {
    "intake": {"level": "291 m"},
    "flow": {"design": "45 L/s"},
    "pipe": [{"catalogue": "PE100-SDR11-200"}],
}
"""An intake 18 m below the ground of the sample's first point."""


def height(page: Any, name: str) -> float:
    return float(page.get_by_role("region", name=name, exact=True).bounding_box()["height"])


def times(page: Any) -> float:
    """Return the exaggeration that the page states."""
    region = page.get_by_role("region", name="Profile", exact=True)
    return float(region.locator("text=/x [0-9.]+/").inner_text().split("x ")[1])


DRAWN = """async () => {
  const { chart } = (await import('/js/main.js')).profile;
  const { x, y } = chart.scales;
  return chart.bbox.height / (y.max - y.min) / (chart.bbox.width / (x.max - x.min));
}"""


def test_divider__gives_room_by_pointer_and_keys_and_remembers(
    open_page: Any, terrain: str
) -> None:
    with open_page(f"/?terrain={terrain}", size=LAPTOP) as page:
        bring_line(page, SAMPLE.line)
        assert height(page, "Profile") >= LAPTOP[1] / 2
        handle = page.get_by_role("separator")
        box = handle.bounding_box()
        x, y = box["x"] + 200, box["y"] + box["height"] / 2
        before = height(page, "Profile")
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x, y + 90, steps=4)
        page.mouse.up()
        assert height(page, "Profile") == pytest.approx(before - 90, abs=2)
        handle.press("ArrowUp")
        assert height(page, "Profile") > before - 80
        handle.press("Home")
        least = height(page, "Profile")
        assert handle.get_attribute("aria-valuenow") == handle.get_attribute("aria-valuemin")
        handle.press("End")
        assert height(page, "Map") > 60
        handle.press("Home")
        page.reload()
        page.wait_for_function("window.leatline !== undefined")
        assert height(page, "Profile") == pytest.approx(least, abs=2)


def test_heights__follow_the_zoom_unless_held(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        whole = times(page)
        assert page.evaluate(DRAWN) == pytest.approx(whole, rel=0.02)
        page.evaluate("() => leatline.state.setView([330, 400])")
        near = times(page)
        assert near > whole
        assert page.evaluate(DRAWN) == pytest.approx(near, rel=0.02)
        page.click("#hold")
        page.click("#whole")
        assert times(page) == near
        assert page.evaluate(DRAWN) == pytest.approx(near, rel=0.02)
        page.click("#hold")
        assert times(page) == whole


def test_faults__are_red_pinned_and_strike_the_figures(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        assert page.locator(".pin").count() == 0
        set_settings(
            page, {**STARVED, "intake": {"level": "310.5 m"}, "flow": {"design": "22 L/s"}}
        )
        power = page.locator(".figure", has_text="Power")
        line = "node => getComputedStyle(node).textDecorationLine"
        assert power.locator(".value").evaluate(line) == "none"
        assert page.evaluate(REDS) == 0
        set_settings(page, STARVED)
        assert power.locator(".value").evaluate(line) == "line-through"
        assert power.locator(".note").inner_text() == "above intake"
        assert "rises above the intake" in power.get_attribute("title")
        assert page.evaluate(REDS) > 500
        pin = page.locator(".pin").first
        assert "Fault" in pin.get_attribute("aria-label") or "faults" in pin.get_attribute(
            "aria-label"
        )
        pin.click()
        assert page.evaluate("() => leatline.state.view[0]") == 0
        assert "above the intake by" in page.text_content("#here")
        assert "above the intake by" in page.get_attribute("#profile", "aria-valuetext")
        page.click("#tab-fittings")
        page.locator(".findings .fault .mend", has_text="Water at the intake").first.click()
        page.keyboard.press("Control+a")
        page.keyboard.type("310.5 m")
        page.keyboard.press("Enter")
        settled(page)
        assert power.locator(".value").evaluate(line) == "none"
        assert "above intake" not in page.inner_text("#figures")


def test_figures__of_a_pipe_over_its_rating_are_struck(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        line = "node => getComputedStyle(node).textDecorationLine"
        tiles = [page.locator(".figure", has_text=name) for name in ("Net head", "Power")]
        given = {"flow": {"design": "20 L/s"}, "pipe": [{"catalogue": "PE100-SDR41-200"}]}
        set_settings(page, given)
        for tile in tiles:
            assert tile.locator(".value").evaluate(line) == "line-through"
            assert tile.locator(".note").inner_text() == "over its rating"
            assert "holds in water of" in tile.get_attribute("title")
        page.select_option("#language", "es")
        page.wait_for_function(
            "() => document.getElementById('figures').innerText.includes('sobre su presión')"
        )
        assert page.evaluate(CLIPPED) == []
        page.select_option("#language", "en")
        answer = {"code": "over_rating", "reason": "tested by the maker", "name": "O. E."}
        set_settings(page, {**given, "waive": [answer]})
        assert tiles[1].locator(".value").evaluate(line) == "none", "somebody answers for it"
        set_settings(page, {**given, "pipe": [{"catalogue": "PE100-SDR17-200"}]})
        assert tiles[1].locator(".value").evaluate(line) == "none"


REDS = """() => {
  const canvas = document.querySelector('#profile canvas');
  const { width, height } = canvas;
  const pen = new OffscreenCanvas(width, height).getContext('2d', { willReadFrequently: true });
  pen.drawImage(canvas, 0, 0);
  const { data } = pen.getImageData(0, 0, width, height);
  const off = (i, j, want) => Math.abs(data[i + j] - want);
  let count = 0;
  for (let i = 0; i < data.length; i += 4)
    if (off(i, 0, 179) + off(i, 1, 38) + off(i, 2, 30) < 6) count += 1;
  return count;
}"""
"""How many pixels of the chart have the colour of what must be mended."""


CLIPPED = """() => [...document.querySelectorAll(
  '.figure span, .reading, .long-tools button, .tools button, .acts button, .tabs [role=tab]')]
  .filter(node => node.offsetParent !== null)
  .filter(node => { const box = node.getBoundingClientRect();
    return node.scrollWidth > node.clientWidth + 1 && getComputedStyle(node).display !== 'inline'
      || box.right > innerWidth + 0.5 || box.left < -0.5 || box.bottom > innerHeight + 0.5; })
  .map(node => node.textContent)"""


@pytest.mark.parametrize("size", [(1440, 900), (1024, 700), (768, 1024), (390, 844)])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_sizes__every_figure_is_whole_and_hints_keep_off_the_map(
    open_page: Any, terrain: str, size: tuple[int, int], units: str
) -> None:
    with open_page(f"/?terrain={terrain}", size=size) as page:
        bring_line(page, SAMPLE.line)
        set_settings(page, STARVED)
        page.evaluate(
            "units => leatline.state.change('Units', {...leatline.state.plan, units})", units
        )
        settled(page)
        page.evaluate("() => { leatline.state.setHover(540); leatline.state.say('A hint.'); }")
        assert page.evaluate("() => document.documentElement.scrollWidth") <= size[0]
        assert page.evaluate(CLIPPED) == []
        grounds = page.locator("#map").bounding_box()
        hint = page.locator("#message").bounding_box()
        assert hint["y"] >= grounds["y"] + grounds["height"] - 1
        assert grounds["height"] > 130
        assert page.locator(".figure").count() == 10


def test_pinch__zooms_about_the_fingers_and_back_to_the_whole(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        whole = page.evaluate("() => leatline.state.model.summary.plan_length_m")
        box = page.locator("#profile .u-over").bounding_box()
        fingers = Fingers(page, box["x"] + 0.25 * box["width"], box["y"] + box["height"] / 2)
        fingers.spread(60, 240)
        start, end = page.evaluate("() => leatline.state.view")
        assert end - start == pytest.approx(whole / 4, rel=0.02)
        assert start + 0.25 * (end - start) == pytest.approx(0.25 * whole, rel=0.05)
        fingers.spread(240, 40)
        assert page.evaluate("() => leatline.state.view") is None, "never beyond the whole line"


HUMP = """async () => {
  const { chart } = (await import('/js/main.js')).profile;
  const { station_m: at, pipe_m: pipe } = leatline.state.model.col;
  let found = null;
  for (let i = 1; i < at.length - 1; i += 1) {
    if (!(pipe[i] > 294 && pipe[i] >= pipe[i - 1] && pipe[i] > pipe[i + 1])) continue;
    let [a, b] = [i, i];
    while (a > 0 && pipe[a - 1] <= pipe[a]) a -= 1;
    while (b < at.length - 1 && pipe[b + 1] <= pipe[b]) b += 1;
    const rise = pipe[i] - Math.max(pipe[a], pipe[b]);
    if (Math.abs(rise - 0.3) < 0.08 && at[b] - at[a] < 120) found ??= { at: at[i], rise };
  }
  if (!found) return null;
  const pixels = chart.bbox.height / devicePixelRatio / (chart.scales.y.max - chart.scales.y.min);
  return { ...found, pixels: found.rise * pixels };
}"""
"""A hump of about 0.3 m in a pipe above the intake of 291 m, and how high it is drawn."""


def test_twelve_kilometres__are_read_closely_by_wheel_keys_and_fingers(
    open_page: Any, terrain: str, tmp_path: Path
) -> None:
    path = line_file(tmp_path / "long.geojson", twelve_kilometres())
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, path)
        set_settings(page, {"intake": {"level": "291 m"}})
        whole = page.evaluate("() => leatline.state.model.summary.plan_length_m")
        assert whole > 12_000.0
        hump = page.evaluate(HUMP)
        assert hump is not None
        assert hump["pixels"] < 3.0, "not to be seen where the whole line is"
        box = page.locator("#profile .u-over").bounding_box()
        x = box["x"] + box["width"] * hump["at"] / whole
        page.mouse.move(x, box["y"] + 40)
        view = "() => leatline.state.view"
        for _ in range(40):
            page.mouse.wheel(0, -300)
            page.wait_for_timeout(30)
            if (seen := page.evaluate(view)) and seen[1] - seen[0] < 60.0:
                break
        start, end = page.evaluate(view)
        assert start < hump["at"] < end
        assert page.evaluate(HUMP)["pixels"] > 12.0, "to be seen where it is looked at"
        assert page.evaluate(DRAWN) == pytest.approx(times(page), rel=0.02)
        assert page.evaluate(REDS) > 500, "what is to be mended is red from near too"
        page.click("#hold")
        page.mouse.move(x, box["y"] + 40)
        page.mouse.wheel(400, 0)
        page.wait_for_timeout(60)
        assert page.evaluate(view)[0] > start, "the wheel sideways goes along the line"
        held = times(page)
        page.focus("#profile")
        page.keyboard.press("-")
        wide = page.evaluate(view)
        assert wide[1] - wide[0] > end - start
        assert times(page) == held
        page.keyboard.press("Shift+ArrowLeft")
        for _ in range(12):
            page.keyboard.press("Shift+ArrowLeft")
        assert page.evaluate(view)[0] < wide[0]
        page.click("#hold")
        page.keyboard.press("Tab")
        before = page.evaluate(view)
        Fingers(page, box["x"] + box["width"] / 2, box["y"] + box["height"] / 2).spread(60, 120)
        near = page.evaluate(view)
        assert near[1] - near[0] == pytest.approx((before[1] - before[0]) / 2, rel=0.05)
        assert page.evaluate(DRAWN) == pytest.approx(times(page), rel=0.02)
        page.click("#whole")
        assert page.evaluate(view) is None


def test_keys__walk_along_the_profile_as_along_a_slider(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        length = page.evaluate("() => leatline.state.model.summary.plan_length_m")
        hover = "() => leatline.state.hover"
        page.focus("#profile")
        page.keyboard.press("Home")
        assert page.evaluate(hover) == 0
        for key, steps in (
            ("PageUp", 10),
            ("ArrowUp", 11),
            ("PageUp", 21),
            ("PageDown", 11),
            ("ArrowDown", 10),
        ):
            page.keyboard.press(key)
            assert page.evaluate(hover) == pytest.approx(steps * length / 200, abs=1e-6), key
        page.keyboard.press("End")
        assert page.evaluate(hover) == length
        page.keyboard.press("PageUp")
        assert page.evaluate(hover) == length
        page.keyboard.press("+")
        start, end = page.evaluate("() => leatline.state.view")
        page.keyboard.press("Home")
        view = page.evaluate("() => leatline.state.view")
        assert view == pytest.approx([0.0, end - start]), "the stretch in view goes along"
        page.keyboard.press("End")
        page.keyboard.press("PageDown")
        assert page.evaluate(hover) == pytest.approx(length - (end - start) / 20)
        assert page.get_attribute("#profile", "aria-valuenow") == f"{page.evaluate(hover):.1f}"


CURSORS = """() => ['profile', 'strip'].map(name => {
  const { left, width } = document.querySelector(`#${name} .u-over`).getBoundingClientRect();
  const [from, to] = leatline.state.view ?? [0, leatline.state.model.summary.plan_length_m];
  const at = document.querySelector(`#${name} .u-cursor-x`).getBoundingClientRect().left;
  return from + (at - left) / width * (to - from);
})"""
"""The stations at which profile and strip show the place in hand."""


def test_place__is_the_same_in_profile_and_strip_whatever_changes(
    open_page: Any, terrain: str
) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        box = page.locator("#profile .u-over").bounding_box()

        def shown(at: float, near: float) -> None:
            page.wait_for_timeout(100)
            assert page.evaluate(CURSORS) == pytest.approx([at, at], abs=near)

        page.mouse.move(box["x"] + 0.7 * box["width"], box["y"] + 40)
        at = page.evaluate("() => leatline.state.hover")
        shown(at, 2.0)
        page.focus("#profile")
        page.keyboard.press("+")
        page.keyboard.press("+")
        shown(at, 2.0)
        page.keyboard.press("0")
        page.click("#tab-line")
        page.evaluate("at => leatline.state.setHover(at)", at)
        page.evaluate(
            "async () => { const { withLine } = await import('/js/plan.js');"
            " const { state } = leatline; const line = state.plan.lines[0];"
            " state.change('Short', withLine(state.plan, { points: line.points.slice(0, -6) })); }"
        )
        settled(page)
        length = page.evaluate("() => leatline.state.model.summary.plan_length_m")
        shown(min(at, length), 2.0)


class Fingers:
    """Two fingers on either side of a place of the screen."""

    def __init__(self, page: Any, x: float, y: float) -> None:
        self._tell = page.context.new_cdp_session(page).send
        self._x, self._y = x, y

    def spread(self, apart: float, to: float, steps: int = 12) -> None:
        """Put them down so far apart, move them, and take them off [px]."""
        self._touch("touchStart", apart)
        for k in range(1, steps + 1):
            self._touch("touchMove", apart + (to - apart) * k / steps)
        self._touch("touchEnd")

    def _touch(self, kind: str, apart: float | None = None) -> None:
        sides = () if apart is None else (-1, 1)
        points = [
            {"id": side, "x": self._x + side * (apart or 0.0) / 2, "y": self._y} for side in sides
        ]
        self._tell("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
