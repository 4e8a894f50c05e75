"""Words and figures of the page are whole at every width, and what has no room is said."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from plan_page import bring_line, set_settings, settled

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
SIZES = [(1440, 900), (1024, 700), (768, 1024), (390, 844)]
NAME = "Skarn Beck above Otterfell, lower"
PANELS = ("line", "trench", "water", "fittings", "money", "compare", "settings")
CUT = """() => {
  const pen = document.createElement('canvas').getContext('2d');
  const found = [];
  for (const node of document.querySelectorAll('input:not([type=checkbox], [type=range], [type=radio])')) {
    if (!node.checkVisibility() || !node.clientWidth) continue;
    const { fontSize, fontFamily, paddingLeft, paddingRight } = getComputedStyle(node);
    pen.font = `${fontSize} ${fontFamily}`;
    const room = node.clientWidth - parseFloat(paddingLeft) - parseFloat(paddingRight);
    const text = node.value || node.placeholder;
    if (pen.measureText(text).width > room + 1) found.push(text);
  }
  for (const node of document.querySelectorAll('.figure *, .reading, #saved, .tabs button, .bar button')) {
    if (!node.checkVisibility() || getComputedStyle(node).clipPath !== 'none') continue;
    if (node.scrollWidth > node.clientWidth + 1 && node.clientWidth) found.push(node.textContent);
  }
  return found;
}"""  # noqa: E501


@pytest.mark.parametrize("size", SIZES)
def test_words__are_whole_in_every_field_and_figure(
    open_page: Any, terrain: str, size: tuple[int, int]
) -> None:
    with open_page(f"/?terrain={terrain}", size=size) as page:
        bring_line(page, SAMPLE.line)
        page.fill("#study-name", NAME)
        page.press("#study-name", "Enter")
        page.click("body", position={"x": 2, "y": 2})
        for name in PANELS:
            if page.get_attribute(f"#tab-{name}", "aria-selected") != "true":
                page.click(f"#tab-{name}")
            page.evaluate(
                "name => document.querySelectorAll(`#panel-${name} details`)"
                ".forEach(fold => { fold.open = true; })",
                name,
            )
            for _ in range(40):  # a field says below what it has no room for once it is laid out
                if not (cut := page.evaluate(CUT)):
                    break
                page.wait_for_timeout(100)
            assert cut == [], name
        if size[0] == 768:
            return  # there the ledger is as wide as the window
        whole = page.locator("#panel-settings .field .hint:visible", has_text="that of 6 m")
        assert whole.count() == 1, "what the field has no room for stands below it"


def test_signs__that_are_dots_on_the_profile_are_told(
    open_page: Any, terrain: str, tmp_path: Path
) -> None:
    with open_page(f"/?terrain={terrain}", size=(390, 844)) as page:
        bring_line(page, SAMPLE.line)
        told = page.locator("#dots")
        page.evaluate("() => leatline.state.setView([0, 1100])")
        page.evaluate("() => leatline.state.setView(null)")
        found = re.search(r"(\d+) on the profile", told.inner_text())
        assert found, told.inner_text()
        signs = page.evaluate(
            "() => leatline.state.model.vents.length + leatline.state.model.drains.length"
        )
        assert 0 < int(found[1]) < signs
        page.evaluate("() => leatline.state.setView([300, 330])")
        page.wait_for_function(
            "() => !document.getElementById('dots').textContent.includes('profile')"
        )


def test_findings__powers_are_raised(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.click("#tab-fittings")
        settled(page)
        page.click("#panel-fittings summary >> nth=0")
        text = page.inner_text("#panel-fittings")
        assert "m/s²" in text
        assert "°C" in text
        assert not re.findall(r"\d[ \u00a0]?m[23]\b|/s2\b|degC", text)


BRIDGE = """() => {
  const bands = document.getElementById('bands');
  const pen = bands.getContext('2d');
  const scale = devicePixelRatio;
  const { model } = leatline.state;
  const [span] = model.trench.spans;
  const wide = bands.width / scale;
  const x = m => 68 + m / model.summary.plan_length_m * (wide - 24 - 68);
  const row = bands.height / scale - 7;
  return [...pen.getImageData(x((span.from_m + span.to_m) / 2) * scale, row * scale, 1, 1).data];
}"""


def test_bands__a_bridge_is_drawn_open_as_in_the_profile(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        set_settings(page, {"trench": {"span": [{"from": "500 m", "to": "530 m"}]}})
        page.wait_for_timeout(200)
        assert min(page.evaluate(BRIDGE)[:3]) > 200, "black hides that there is air below a bridge"
