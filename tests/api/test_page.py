"""The list of terrains and studies in a real browser that may speak to nobody but the service."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

pytestmark = pytest.mark.browser


@pytest.fixture
def page(client: httpx.Client, browser: Any) -> Iterator[Any]:
    page = browser.new_page(viewport={"width": 1200, "height": 900})
    page.foreign = []
    page.on(
        "request",
        lambda request: (
            None
            if request.url.startswith((str(client.base_url), "data:"))
            else page.foreign.append(request.url)
        ),
    )
    page.on("pageerror", lambda error: page.foreign.append(str(error)))
    page.goto(str(client.base_url.join("/list")))
    yield page
    page.close()


def test_page__terrain_in_study_out(page: Any, hill: Path, line_file: Path) -> None:
    page.set_input_files("#terrain-form [name=file]", str(hill))
    page.click("#terrain-form button")
    page.wait_for_selector("#terrains li >> text=hill.tif")
    page.set_input_files("#study-form [name=route]", str(line_file))
    page.fill("[name=name]", "<b>Beck</b>")
    page.fill("[name='trench.cover']", "0.8")
    page.click("#study-form button")
    page.wait_for_selector("#message.problem >> text=has no unit")
    page.fill("[name='trench.cover']", "0.8 m")
    page.click("#study-form button")
    page.wait_for_selector("#studies li")
    assert page.text_content("#studies .name") == "<b>Beck</b>"
    page.on("dialog", lambda dialog: dialog.accept())
    page.click("#studies button >> text=Delete")
    page.wait_for_selector("#no-studies:visible")
    page.click("#trash button >> text=Bring back")
    page.wait_for_selector("#studies li")
    assert page.locator("#trash-section").is_hidden()
    page.goto(
        str(httpx.URL(page.url).join(page.get_attribute("#studies li a >> text=Map", "href")))
    )
    page.wait_for_selector("text=V1")
    assert page.foreign == []


@pytest.mark.parametrize("width", [390, 1200])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_page__fits_and_every_field_has_a_label(page: Any, width: int, scheme: str) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    page.emulate_media(color_scheme=scheme)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    bare = page.evaluate(
        "() => [...document.querySelectorAll('input, select')].filter(f => !f.labels.length).length"
    )
    assert bare == 0


def test_page__line_that_is_no_json(page: Any, hill: Path, tmp_path: Path) -> None:
    page.set_input_files("#terrain-form [name=file]", str(hill))
    page.click("#terrain-form button")
    page.wait_for_selector("#terrains li")
    broken = tmp_path / "line.geojson"
    broken.write_text(json.dumps({"type": "LineString"})[:-3])
    page.set_input_files("#study-form [name=route]", str(broken))
    page.click("#study-form button")
    page.wait_for_selector("#message.problem >> text=The line is not JSON")
