"""Lines proposed on the page: sought as a job, shown on the map, taken into the plan, refused."""

from __future__ import annotations

import re
from typing import Any

import pytest
from plan_page import HILLSIDE, plan_of, set_settings, settled

pytestmark = pytest.mark.browser

ENDS = [list(HILLSIDE[0]), list(HILLSIDE[-1])]
ASKED = {"flow": {"design": "10 L/s"}, "search": {"alternatives": 2}}
LONG_MS = 120_000
PUT_ENDS = """async ends => { const { withPoints } = await import('/js/plan.js');
  leatline.state.change('Ends', withPoints(leatline.state.plan, ends)); }"""
FENCE = """ring => leatline.state.change('Fence',
  {...leatline.state.plan, nogo: [ring], active: 0})"""


def test_propose__seeks_shows_takes_and_says_why_not(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        propose = page.locator("[data-key=propose]")
        assert propose.is_disabled()
        assert "two points are enough" in page.inner_text("#propose-told")
        page.evaluate(PUT_ENDS, ENDS)
        pipe = page.locator("[data-key=propose-pipe] option").first
        assert pipe.inner_text() == "by flow and head"
        set_settings(page, {**ASKED, "pipe": [{"catalogue": "PE100-SDR17-200"}]})
        assert pipe.inner_text() == "as given"
        set_settings(page, ASKED)
        propose.click()
        page.get_by_label("How far the search is").wait_for()
        page.click("[data-key=propose-stop]")
        page.wait_for_selector("#propose-told >> text=cancelled", timeout=LONG_MS)
        propose.click()
        page.wait_for_selector(".proposals li", timeout=LONG_MS)
        drawn = page.locator("#map .leaflet-line-pane path[stroke-width='6']")
        assert drawn.count() == 0
        first = page.locator(".proposals li").first
        first.hover()
        assert drawn.count() == 1
        facts = first.inner_text()
        for what in (r"[\d,]+ m³ of trench", r"\d+ vents?", r"\d+ drains?", r"\d+ crossings?"):
            assert re.search(what, facts), what
        assert re.search(r"less than \d+ % of the first", page.inner_text("#panel-line"))
        first.get_by_role("button").click()
        settled(page)
        plan = plan_of(page)
        assert [len(plan["lines"]), plan["active"]] == [2, 1]
        assert plan["lines"][0]["points"] == ENDS
        taken = plan["lines"][1]
        assert [taken["points"][0], taken["points"][-1]] == ENDS
        assert taken["settings"]["pipe"]
        page.click("[data-key=drop-proposals]")
        middle = (ENDS[0][0] + ENDS[1][0]) / 2
        ring = [[middle - d, lat] for d, lat in ((2e-4, 47.28), (2e-4, 47.31))]
        ring += [[middle + d, lat] for d, lat in ((2e-4, 47.31), (2e-4, 47.28))]
        page.evaluate(FENCE, ring)
        settled(page)
        propose.click()
        page.wait_for_selector("#propose-told >> text=No line leads", timeout=LONG_MS)
        assert "no-go land" in page.inner_text("#propose-told")
        page.click("[data-key=propose-where]")
        page.get_by_role("button", name="Reach").click()
        assert page.evaluate("() => document.activeElement.dataset.key") == "all-search-reach"
