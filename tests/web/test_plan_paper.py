"""What the page's own print hands over: as few pages as it takes, and no figures but the plan's."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from long_lines import line_file, twelve_kilometres
from plan_page import bring_line, plan_of

import sample_dem

pytestmark = pytest.mark.browser

OLD = "These figures are older than the plan as it stands."


def squeezed(text: str) -> str:
    """Return the letters alone: how they are spaced on a page is the reader's guess."""
    return "".join(text.split())


def before_print(page: Any) -> str:
    """Return what stands at the head of the paper, were it printed now."""
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    head = str(page.text_content("#paper-head"))
    page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
    return head


def test_print__a_line_of_twelve_kilometres_takes_three_pages(
    open_page: Any, terrain: str, tmp_path: Path
) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        bring_line(page, line_file(tmp_path / "long.geojson", twelve_kilometres()))
        page.fill("#study-name", 'A "long" one \\ two')
        page.press("#study-name", "Enter")
        printed = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
        texts = [squeezed(sheet.get_textpage().get_text_range()) for sheet in printed]
        model = page.evaluate("() => leatline.state.model")
        name = plan_of(page)["name"]
        page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
    assert len(texts) == 3
    for i, text in enumerate(texts):
        assert f"{i + 1}/3" in text
        assert squeezed(name) in text, "each page tells whose it is"
    assert squeezed("What to look at") in texts[0], "what is found comes before the lists"
    assert squeezed("Before anyone digs") in texts[2]
    for item in (*model["vents"], *model["drains"]):
        row = f"{item['id']}{item['station_m']:.1f}{item['ground_m']:.2f}"
        assert sum(row in text for text in texts) == 1, item["id"]
    for text in texts[1:]:
        assert text.count("Stationm") == 2, "each column of the list has its head"


def test_print__says_that_figures_are_old(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}", away=True) as page:
        bring_line(page, sample_dem.sample_paths().line)
        assert OLD not in before_print(page)
        page.route("**/api/preview*", lambda route: route.abort())
        page.click("#tab-water")
        page.fill("[data-key=flow-design]", "20 L/s")
        page.press("[data-key=flow-design]", "Enter")
        page.wait_for_selector("#away:visible")
        assert f"{OLD} The service does not answer." in before_print(page)
        page.unroute("**/api/preview*")
        page.wait_for_selector("#away", state="hidden")
        page.wait_for_function("() => leatline.live.idle")
        assert OLD not in before_print(page)
