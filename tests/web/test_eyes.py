"""Pages for eyes of every kind: the reader's own colours, and 200 % zoom in a small window."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from plan_page import bring_line

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
ZOOMED = {"1280 x 800": (640, 400), "1024 x 700": (512, 350)}
"""What a window leaves at 200 %: CSS pixels are twice as large (WCAG 2.2, 1.4.4 and 1.4.10)."""
COVERED = """async () => {
  const found = [];
  const controls = 'button, summary, a[href], input:not([type=file]), select, textarea';
  const apart = '.skip, .leaflet-control-layers, #map .leaflet-pane, :disabled';
  for (const node of document.querySelectorAll(controls)) {
    if (!node.checkVisibility() || node.closest(apart)) continue;
    const own = node.labels?.[0] ?? node;
    node.scrollIntoView({ block: 'center', inline: 'center', behavior: 'instant' });
    // of a link that runs over two lines its first line
    const box = (/checkbox|radio/.test(node.type) ? own : node).getClientRects()[0];
    const [x, y] = [box.x + box.width / 2, box.y + Math.min(box.height / 2, 12)];
    const at = document.elementFromPoint(x, y);
    if (!at || !(node.contains(at) || own.contains(at) || at.contains(node)))
      found.push(`${node.outerHTML.slice(0, 70)} under ${at?.outerHTML.slice(0, 70)}`);
  }
  scrollTo(0, 0);
  return found;
}"""
FOCUS = """() => {
  const style = getComputedStyle(document.activeElement);
  return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
}"""
LOOK = """(node) => {
  const { backgroundColor, color, borderColor, outlineStyle } = getComputedStyle(node);
  return [backgroundColor, color, borderColor, outlineStyle].join();
}"""


@pytest.fixture(scope="module")
def study(client: httpx.Client, terrain: str, sample_line: dict[str, Any]) -> str:
    body = {"terrain": terrain, "route": sample_line, "settings": {"trench": {"cover": "0.8 m"}}}
    return str(client.post("/api/studies", json=body).json()["id"])


@pytest.fixture(scope="module")
def others(study: str) -> dict[str, str]:
    return {
        "map": f"/api/studies/{study}/map",
        "field sheet": f"/field/{study}",
        "guide": "/guide/first-line.md",
        "list": "/list",
    }


@pytest.fixture
def small(browser: Any, request: Any) -> Iterator[Any]:
    wide, tall = ZOOMED[request.param]
    context = browser.new_context(viewport={"width": wide, "height": tall}, device_scale_factor=2)
    yield context.new_page()
    context.close()


def parts_of(page: Any) -> Iterator[str]:
    """Go through the parts of a page that stand behind a press, and name each."""
    yield "as opened"
    for node in page.locator("[role=tab], nav [data-part]").all():
        node.click()
        yield node.inner_text()


def no_wider(page: Any) -> bool:
    return bool(page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"))


@pytest.mark.parametrize("small", ZOOMED, indirect=True)
def test_zoomed__nothing_is_covered_or_runs_out_of_the_page(
    small: Any, client: httpx.Client, terrain: str, others: dict[str, str]
) -> None:
    for name, path in {"plan": f"/?terrain={terrain}", **others}.items():
        small.goto(str(client.base_url) + path)
        if name == "plan":
            bring_line(small, SAMPLE.line)
        for part in parts_of(small):
            assert no_wider(small), (name, part)
            assert small.evaluate(COVERED) == [], (name, part)


@pytest.mark.parametrize("small", ["1024 x 700"], indirect=True)
def test_zoomed__map_and_profile_keep_their_room(
    small: Any, client: httpx.Client, terrain: str
) -> None:
    small.goto(f"{client.base_url}/?terrain={terrain}")
    bring_line(small, SAMPLE.line)
    for name, least in {"#map": 200, "#profile": 100}.items():
        assert small.locator(name).bounding_box()["height"] >= least, name


def chosen_and_not(page: Any) -> Iterator[tuple[str, str]]:
    """Yield how a chosen control looks and one beside it that is not."""
    for mark in ("aria-pressed", "aria-selected"):
        for on in page.locator(f"[{mark}=true]:visible").all():
            off = on.locator(f"xpath=../*[@{mark}='false']").first
            if off.count():
                yield on.evaluate(LOOK), off.evaluate(LOOK)


def test_own_colours__what_is_chosen_is_seen_and_drawings_keep_their_inks(
    open_page: Any, terrain: str
) -> None:
    with open_page(f"/?terrain={terrain}", forced_colors="active") as page:
        bring_line(page, SAMPLE.line)
        looks = list(chosen_and_not(page))
        assert len(looks) >= 2
        assert all(on != off for on, off in looks)
        inks = page.evaluate(
            "async () => { const { css } = await import('/js/chart.js');"
            " return ['--earth-fill', '--pipe', '--water', '--rating', '--chart-paper'].map(css); }"
        )
        assert len(set(inks)) == len(inks)
        page.keyboard.press("Tab")
        assert page.evaluate(FOCUS)


def test_own_colours__on_the_other_pages(
    browser: Any, client: httpx.Client, others: dict[str, str]
) -> None:
    context = browser.new_context(forced_colors="active")
    page = context.new_page()
    for name, path in others.items():
        page.goto(str(client.base_url) + path)
        page.keyboard.press("Tab")
        assert page.evaluate(FOCUS), name
        for part in parts_of(page):
            assert all(on != off for on, off in chosen_and_not(page)), (name, part)
    page.goto(str(client.base_url) + others["field sheet"])
    assert len(list(chosen_and_not(page))) >= 1
    context.close()


CONTRAST = """([node, name]) => {
  const light = text => {
    const [r, g, b] = text.match(/[\\d.]+/g).slice(0, 3).map(Number).map(each => {
      const share = each / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const style = getComputedStyle(node);
  let under = node;
  while (/, 0\\)$/.test(getComputedStyle(under).backgroundColor)) under = under.parentElement;
  const found = [style[name], getComputedStyle(under).backgroundColor].map(light);
  return (Math.max(...found) + 0.05) / (Math.min(...found) + 0.05);
}"""
"""Contrast of two colours (WCAG 2.2, 1.4.11 asks for 3)."""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_own_colours__north_and_layers_of_the_exported_map_are_seen(
    browser: Any, client: httpx.Client, others: dict[str, str], scheme: str
) -> None:
    context = browser.new_context(forced_colors="active", color_scheme=scheme)
    page = context.new_page()
    page.goto(str(client.base_url) + others["map"])
    for where, ink in {
        ".north path": "fill",
        ".north text": "fill",
        ".readout b": "color",
        ".leaflet-control-scale-line": "color",
        ".leaflet-control-zoom-in": "color",
    }.items():
        node = page.locator(where).first.element_handle()
        assert page.evaluate(CONTRAST, [node, ink]) >= 3, where
    button = page.locator(".leaflet-control-layers-toggle, .leaflet-control-layers-list").first
    under = button.evaluate("node => getComputedStyle(node.parentElement).backgroundColor")
    assert under == "rgb(255, 255, 255)", "the button's picture is dark"
    context.close()
