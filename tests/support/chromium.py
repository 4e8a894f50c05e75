"""One way to a headless Chromium for all browser tests."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from missing import missing

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # Names of the reserved domain that stand for foreign web sites in tests (RFC 2606).
    "--host-resolver-rules=MAP *.foreign.example 127.0.0.1",
]


def needed(path: str | None, what: str) -> str:
    """Return a program's path; without one skip and say so, but fail in continuous integration."""
    if path is not None:
        return path
    missing(what)


def chromium_path() -> str:
    """Return the path of Chromium, or skip (fail in continuous integration)."""
    return needed(shutil.which("chromium") or shutil.which("chromium-browser"), "Chromium")


def node_path() -> str:
    """Return the path of node, or skip (fail in continuous integration)."""
    return needed(shutil.which("node"), "node")


@contextmanager
def running_chromium() -> Iterator[Any]:
    """Run a headless Chromium for as long as the block lasts."""
    path = chromium_path()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=path, args=ARGUMENTS)
        try:
            yield browser
        finally:
            browser.close()
