"""The planning page for every hand and in every weather: keys, touch, readers, no service."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import running, upload
from axe import violations
from plan_page import bring_line, centre, plan_of, points_of, settled
from waiting import answers, until

import sample_dem
from api.access.store import AccessFile

pytestmark = pytest.mark.browser

SAMPLE = sample_dem.sample_paths()
PHONE = (390, 844)


def test_keyboard__draws_moves_reads_and_saves(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}") as page:
        page.wait_for_function("() => leatline.state.mode === 'draw'")
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")  # past the bar, to the map
        page.wait_for_function("() => document.activeElement.id === 'map'")
        page.keyboard.press("Enter")
        page.keyboard.press("+")
        page.wait_for_timeout(350)
        for _ in range(3):
            page.keyboard.press("ArrowRight")
            page.wait_for_timeout(350)
            page.keyboard.press("Enter")
        page.keyboard.press("Escape")
        settled(page)
        assert len(points_of(page)) == 4
        tab_to(page, "document.activeElement.dataset.index === '2'")
        page.keyboard.press("ArrowDown")
        page.keyboard.press("ArrowDown")
        after = points_of(page)
        assert page.evaluate("() => document.activeElement.dataset.index") == "2"
        page.keyboard.press("i")
        assert len(points_of(page)) == 5
        page.keyboard.press("Delete")
        assert points_of(page) == after
        tab_to(page, "document.activeElement.id === 'profile'")
        page.keyboard.press("End")
        page.keyboard.press("ArrowLeft")
        page.keyboard.press("+")
        assert "Ground" in page.get_attribute("#profile", "aria-valuetext")
        assert page.evaluate("() => leatline.state.view !== null")
        tab_to(page, "document.activeElement.id === 'tab-line'")
        page.keyboard.press("ArrowRight")
        assert page.is_visible("#panel-trench")
        settled(page)
        page.keyboard.press("Control+s")
        page.wait_for_selector("#saved >> text=Saved, revision 1")


def tab_to(page: Any, there: str) -> None:
    """Press Tab until the focus is where it is wanted; the pointer takes no part."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate(f"() => {there}"):
            return
    pytest.fail(f"Tab never led to: {there}")


def test_touch__draws_and_drags_on_a_phone(open_page: Any, terrain: str) -> None:
    phone = {"size": PHONE, "has_touch": True, "is_mobile": True}
    with open_page(f"/?terrain={terrain}", **phone) as page:
        page.wait_for_function("() => leatline.state.mode === 'draw'")
        box = page.locator("#map").bounding_box()
        for x, y in ((120, 120), (170, 150), (215, 190), (216, 191)):
            page.touchscreen.tap(box["x"] + x, box["y"] + y)
            page.wait_for_timeout(420)  # two taps close in time are a double tap
        page.wait_for_function("() => leatline.state.mode === 'edit'")
        settled(page)
        assert len(points_of(page)) == 3
        before = points_of(page)
        x, y = centre(page, ".handle[data-index='1']")
        finger(page, [(x + 2 * k, y - 2 * k) for k in range(12)])
        settled(page)
        assert points_of(page)[1] != before[1]
        page.tap("#tab-water")
        assert page.is_visible("#flow-slider")
        page.tap("#tab-water")
        assert page.is_visible("#profile")
        assert page.evaluate("() => document.documentElement.scrollWidth") <= PHONE[0]


def finger(page: Any, path: list[tuple[float, float]]) -> None:
    """Drag one finger along a path."""
    session = page.context.new_cdp_session(page)
    kinds = ["touchStart", *["touchMove"] * (len(path) - 1)]
    for kind, (x, y) in zip(kinds, path, strict=True):
        points = [{"x": x, "y": y}]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


@pytest.mark.parametrize(
    ("size", "scheme"), [((1440, 900), "light"), ((1440, 900), "dark"), (PHONE, "light")]
)
def test_axe__finds_nothing(open_page: Any, terrain: str, size: Any, scheme: str) -> None:
    with open_page(size=size, color_scheme=scheme, bypass_csp=True) as page:
        page.wait_for_selector("#start-terrains li")
        found = violations(page)
        page.click("#start-terrains button >> nth=0")
        bring_line(page, SAMPLE.line)
        for name in ("line", "trench", "water", "fittings", "money", "compare", "settings"):
            page.click(f"#tab-{name}")
            page.wait_for_timeout(400 if name == "compare" else 50)
            found += violations(page)
        for fold in page.locator("#panel-settings details").all():
            fold.evaluate("fold => { fold.open = true; }")
        found += violations(page)
        page.click(".menu summary")
        found += violations(page)
        page.keyboard.press("Escape")
        page.click(".figure >> nth=1")
        page.wait_for_selector("#where .formula")
        found += violations(page)
        assert found == []


def test_axe__finds_nothing_on_the_other_pages(
    browser: Any, client: httpx.Client, terrain: str, sample_line: dict[str, Any]
) -> None:
    body = {"terrain": terrain, "route": sample_line, "settings": {}}
    study = client.post("/api/studies", json=body).json()["id"]
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    for path in (f"/api/studies/{study}/map", f"/field/{study}", "/guide/methods.md", "/list"):
        page.goto(str(client.base_url) + path)
        page.wait_for_load_state("load")
        assert violations(page) == [], path
    context.close()


@pytest.mark.parametrize("size", [(1440, 900), PHONE])
def test_axe__finds_nothing_on_a_shared_study(
    browser: Any, tmp_path: Path, sample_line: dict[str, Any], size: tuple[int, int]
) -> None:
    access = AccessFile(tmp_path / "access", make=True)
    key = {"authorization": f"Bearer {access.add('a planner', 'planner')}"}
    with running(tmp_path / "data", access=access) as client:
        client.headers.update(key)
        hill = upload(client, SAMPLE.terrain).json()["id"]
        body = {"terrain": hill, "route": sample_line, "settings": {}, "name": "Skarn Beck"}
        study = client.post("/api/studies", json=body).json()["id"]
        made = client.post(f"/api/studies/{study}/links", json={"role": "client"}).json()
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, bypass_csp=True
        )
        page = context.new_page()
        home = str(client.base_url)
        page.goto(f"{home}/shared/{made['url'].rpartition('/')[2]}")
        assert page.inner_text("h1") == "Skarn Beck"
        assert violations(page) == []
        assert page.evaluate("() => document.documentElement.scrollWidth") <= size[0]
        for name in ("Map", "Profile"):
            page.get_by_role("link", name=name, exact=True).click()
            page.wait_for_load_state("load")
            assert violations(page) == [], name
            page.go_back()
        asked = context.request.get(f"{home}/favicon.ico")
        assert asked.status == 204, "a browser asks for it beside every paper that is no page"
        for path in ("/", f"/api/studies/{study}"):
            assert context.request.get(f"{home}{path}").status == 401, "its papers, and no more"
        context.close()


def test_flight_mode__the_last_state_opens(open_page: Any, terrain: str) -> None:
    with open_page(f"/?terrain={terrain}", away=True) as page:
        page.wait_for_function("() => navigator.serviceWorker.controller !== null")
        page.reload()
        bring_line(page, SAMPLE.line)
        page.wait_for_timeout(500)
        before = plan_of(page)
        page.context.set_offline(True)
        page.reload()
        page.wait_for_function("() => leatline.state.plan.lines[0].points.length === 44")
        assert plan_of(page) == before
        page.wait_for_selector("#away:not([hidden])")
        page.wait_for_selector(".relief-tile .leaflet-tile-loaded")
        page.context.set_offline(False)
        settled(page)
        assert page.is_hidden("#away")


def test_service_away__what_nobody_waits_for_is_said(open_page: Any) -> None:
    with open_page("/", away=True) as page:
        page.wait_for_selector("#start:not([hidden])")
        page.wait_for_load_state("networkidle")  # a question on its way would hold up its like
        # Not set_offline: the page's worker, where it is there by then, answers from what it keeps.
        page.evaluate("() => { window.fetch = () => Promise.reject(new TypeError('away')); }")
        page.evaluate("() => document.getElementById('terrain-open').click()")
        page.wait_for_function(
            "() => leatline.state.message?.problem && "
            "leatline.state.message.text.startsWith('The service does not answer.')"
        )
        assert "The service does not answer" in page.inner_text("body")


def test_flight_mode__below_a_path_of_the_host(open_page: Any, tmp_path: Path) -> None:
    with running(tmp_path, root_path="/plans") as client:
        home = str(client.base_url)
        with open_page("/plans/", base=home, away=True) as page:
            page.wait_for_function("() => navigator.serviceWorker.controller !== null")
            page.reload()
            page.wait_for_function("() => window.leatline?.state")
            page.context.set_offline(True)
            page.reload()
            page.wait_for_function("() => window.leatline?.state")
            page.context.set_offline(False)


@contextmanager
def served(data: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    """Run the service in a process of its own, which can be killed."""
    arguments = ["serve", "--host", "127.0.0.1", "--port", str(port), "--data", str(data)]
    process = subprocess.Popen(
        [sys.executable, "-m", "api.cli", *arguments],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        until(lambda: answers(f"http://127.0.0.1:{port}"), "the service to answer")
        yield process
    finally:
        process.kill()
        process.wait()


def test_restart__mid_drag_nothing_is_lost(open_page: Any, tmp_path: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    base = f"http://127.0.0.1:{port}"
    with served(tmp_path, port) as service:
        with httpx.Client(base_url=base, timeout=300) as client:
            terrain = upload(client, SAMPLE.terrain).json()["id"]
        with open_page(f"/?terrain={terrain}", base=base, away=True) as page:
            bring_line(page, SAMPLE.line)
            x, y = centre(page, ".handle-bend >> nth=4")
            page.mouse.move(x, y)
            page.mouse.down()
            page.mouse.move(x + 8, y - 6)
            os.kill(service.pid, signal.SIGKILL)
            service.wait()
            for k in range(6):
                page.mouse.move(x + 10 + k, y - 8 - k)
            page.wait_for_selector("#away:not([hidden])")
            with served(tmp_path, port):
                page.mouse.move(x + 20, y - 18)
                page.mouse.up()
                settled(page)
                assert page.is_hidden("#away")
                applied = page.evaluate("() => leatline.trace.applied")
                assert applied == sorted(set(applied))
                shown = page.evaluate("() => leatline.state.model.summary")
                body = page.evaluate(
                    "async () => (await import('/js/plan.js')).previewBody(leatline.state.plan, "
                    "leatline.state.plan.lines[0])"
                )
                again = httpx.post(f"{base}/api/preview", json=body, timeout=300).json()
                assert again["summary"] == shown
