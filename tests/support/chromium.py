"""One way to a headless Chromium for all browser tests."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
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


PATIENCE_MS = 150_000
"""How long a page is waited for [ms]: what a busy machine needs is no part of a test."""


def patient(make: Callable[..., Any]) -> Callable[..., Any]:
    """Let all that is made wait for long before it fails."""

    def made(**options: Any) -> Any:
        new = make(**options)
        new.set_default_timeout(PATIENCE_MS)
        return new

    return made


@contextmanager
def running_chromium() -> Iterator[Any]:
    """Run a headless Chromium for as long as the block lasts."""
    path = chromium_path()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=path, args=ARGUMENTS)
        for name in ("new_context", "new_page"):
            setattr(browser, name, patient(getattr(browser, name)))
        try:
            yield browser
        finally:
            browser.close()
