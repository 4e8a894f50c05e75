"""What a foreign web site can do to the service through a real browser: nothing."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, upload
from waiting import until

from api.access.store import AccessFile

pytestmark = pytest.mark.browser

ATTACK = """
<!doctype html><title>foreign</title>
<iframe src="{service}/"></iframe>
<iframe src="{service}/sign-in"></iframe>
<form method="post" enctype="text/plain" action="{service}/api/studies" target="sent">
  <input name='{{"terrain": "{terrain}", "x": "' value='"}}'>
</form>
<iframe name="sent"></iframe>
"""


@contextmanager
def foreign_site(page: str) -> Iterator[str]:
    """Serve one page as a web site of its own."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.end_headers()
            self.wfile.write(page.encode())

        def log_message(self, format: str, *arguments: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://site.foreign.example:{server.server_address[1]}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


@pytest.fixture
def house(
    serve: Serve, tmp_path: Path, hill: Path, line: dict[str, Any]
) -> Iterator[tuple[httpx.Client, str, str, AccessFile]]:
    """A service that keeps access, with one study; its client, token, study and access file."""
    access = AccessFile(tmp_path / "access", make=True)
    token = access.add("Ann", "planner")
    with serve(tmp_path / "data", access=access) as client:
        client.headers["authorization"] = f"Bearer {token}"
        terrain = upload(client, hill).json()["id"]
        study = client.post("/api/studies", json={"terrain": terrain, "route": line}).json()["id"]
        yield client, token, study, access


def signed_in(context: Any, service: str, token: str) -> Any:
    page = context.new_page()
    page.goto(f"{service}/list")
    assert page.url.startswith(f"{service}/sign-in")
    page.fill("[name=token]", token)
    page.click("button[type=submit]")
    page.wait_for_url(f"{service}/list")
    return page


def test_sign_in__then_nothing_through_a_foreign_page(
    house: tuple[httpx.Client, str, str, AccessFile], browser: Any
) -> None:
    client, token, study, access = house
    service = str(client.base_url).rstrip("/")
    context = browser.new_context()
    try:
        page = signed_in(context, service, token)
        page.wait_for_selector("#studies li")
        cookie = context.cookies()[0]
        assert cookie["httpOnly"]
        assert cookie["sameSite"] == "Lax"
        assert page.evaluate("() => document.cookie") == ""
        text = ATTACK.format(service=service, terrain="0" * 16)
        with foreign_site(text) as site:
            page.goto(site)
            page.evaluate("() => document.forms[0].submit()")
            for method, path in (("POST", "/api/studies"), ("GET", "/api/studies")):
                page.evaluate(
                    "([url, method]) => fetch(url, { method, mode: 'no-cors', "
                    "credentials: 'include', body: method === 'POST' ? '{}' : undefined })"
                    ".catch(() => null)",
                    [service + path, method],
                )
            read = page.evaluate(
                "(url) => fetch(url, { credentials: 'include' }).then((r) => r.text(), () => 'no')",
                f"{service}/api/studies",
            )
            assert read == "no"
            deleted = page.evaluate(
                "(url) => fetch(url, { method: 'DELETE', credentials: 'include' })"
                ".then((r) => r.status, () => 'no')",
                f"{service}/api/studies/{study}",
            )
            assert deleted == "no"
            page.wait_for_timeout(300)
            for frame in page.frames[1:3]:  # neither the page nor the sign-in can be overlaid
                assert "Leatline" not in frame.content()
        assert [row["id"] for row in client.get("/api/studies").json()] == [study]
        want = [("/api/terrains", 201), ("/api/studies", 201)]

        def changed() -> list[tuple[str, int]]:
            rows = (row for row in access.logged() if row.name == "Ann" and row.method != "GET")
            return [(row.path, row.status) for row in rows]

        until(lambda: len(changed()) >= len(want), f"rows {want} in the log")
        assert changed() == want
    finally:
        context.close()


def test_rebinding__a_page_whose_name_comes_to_point_here_reads_nothing(
    client: httpx.Client, terrain: str, line: dict[str, Any], browser: Any
) -> None:
    study = client.post("/api/studies", json={"terrain": terrain, "route": line}).json()["id"]
    page = browser.new_page()
    try:
        page.goto(f"http://site.foreign.example:{client.base_url.port}/")  # resolves to loopback
        ask = "([path, method]) => fetch(path, { method }).then((r) => r.status)"
        assert page.evaluate(ask, ["/api/studies", "GET"]) == 421
        assert page.evaluate(ask, [f"/api/studies/{study}", "GET"]) == 421
        assert page.evaluate(ask, [f"/api/studies/{study}", "DELETE"]) == 421
        assert client.get(f"/api/studies/{study}").status_code == 200
    finally:
        page.close()


def test_root__the_planning_page_works_below_a_path(
    serve: Serve, tmp_path: Path, hill: Path, browser: Any
) -> None:
    with serve(tmp_path, root_path="/plans") as client:
        terrain = upload(client, hill).json()["id"]
        page = browser.new_page()
        wrong: list[str] = []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on(
            "response",
            lambda answer: (
                wrong.append(answer.url)
                if answer.status >= 400
                or not ("/plans/" in answer.url or answer.url.startswith(("blob:", "data:")))
                else None
            ),
        )
        try:
            page.goto(f"{client.base_url}/plans/?terrain={terrain}")
            page.wait_for_function("() => leatline.state.mode === 'draw'")
            page.wait_for_timeout(500)
            assert wrong == []
        finally:
            page.close()
