"""A browser that may speak to nobody but the service, and a service over the sample hill."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import running, upload
from chromium import node_path

import sample_dem
import web

JS = Path(web.__file__).parent / "js"
Open = Callable[..., AbstractContextManager[Any]]


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    with running(tmp_path_factory.mktemp("data")) as client:
        yield client


@pytest.fixture(scope="module")
def terrain(client: httpx.Client) -> str:
    response = upload(client, sample_dem.sample_paths().terrain)
    assert response.status_code == 201, response.text
    return str(response.json()["id"])


@pytest.fixture(scope="session")
def sample_line() -> dict[str, Any]:
    line: dict[str, Any] = json.loads(sample_dem.sample_paths().line.read_text(encoding="utf-8"))
    return line


@pytest.fixture
def open_page(browser: Any, client: httpx.Client) -> Open:
    """Open pages of the service; what they should not have done ends the test."""

    @contextmanager
    def opened(
        path: str = "/",
        *,
        size: tuple[int, int] = (1440, 900),
        base: str = "",
        away: bool = False,
        **options: Any,
    ) -> Iterator[Any]:
        home = base or str(client.base_url)
        context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **options)
        page = context.new_page()
        wrong: list[str] = []

        def watch(request: Any) -> None:
            if not request.url.startswith((home.rstrip("/"), "data:", "blob:")):
                wrong.append(f"foreign request {request.url}")

        def heard(message: Any) -> None:
            if "registration blocked by Playwright" in message.text:
                return
            lost = "Failed to load resource" in message.text or "ERR_" in message.text
            if message.type in ("error", "warning") and not (away and lost):
                wrong.append(f"console: {message.text}")

        context.on("request", watch)
        page.on("console", heard)
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.goto(home.rstrip("/") + path)
        page.wait_for_function("window.leatline !== undefined")
        yield page
        context.close()
        assert wrong == []

    return opened


@pytest.fixture
def page_module() -> Callable[..., Any]:
    """Call a function of one of the page's pure modules in node."""

    def call(module: str, name: str, *arguments: Any) -> Any:
        script = (
            f"import {{ {name} }} from {json.dumps((JS / module).as_uri())};"
            "let text = ''; for await (const part of process.stdin) text += part;"
            f"console.log(JSON.stringify({name}(...JSON.parse(text))));"
        )
        command = [node_path(), "--input-type=module", "-e", script]
        done = subprocess.run(
            command, input=json.dumps(arguments), capture_output=True, text=True, check=True
        )
        return json.loads(done.stdout)

    return call
