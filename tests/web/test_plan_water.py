"""The streams of the raster and the catchment of the intake on the planning page."""

from __future__ import annotations

from typing import Any

import pytest
from plan_page import bring_line

import sample_dem

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()


def test_streams__are_drawn_and_the_catchment_is_told(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, SAMPLE.line)
        page.get_by_role("tab", name="Pipe").click()
        panel = page.locator("#panel-water")
        drawn = page.locator("#map .leaflet-areas-pane path, #map .leaflet-pane path")
        before = drawn.count()
        toggle = panel.get_by_role("button", name="Streams on the map")
        toggle.click()
        page.wait_for_function(
            "() => document.querySelector('#water-told').textContent.includes('km²')"
        )
        assert toggle.get_attribute("aria-pressed") == "true"
        assert drawn.count() > before + 5
        panel.get_by_role("button", name="Catchment of the intake").click()
        page.wait_for_function(
            "() => /drain to the intake/.test(document.querySelector('#water-told').textContent)"
        )
        said = page.locator("#water-told").inner_text()
        assert said.startswith("At least 2.3")
        toggle.click()
        assert toggle.get_attribute("aria-pressed") == "false"
        assert drawn.count() <= before
