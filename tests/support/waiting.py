"""One way to wait for what another thread, process or page does."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

__all__ = ["PATIENCE_SECONDS", "answers", "gone", "until", "written"]

T = TypeVar("T")
PATIENCE_SECONDS = 240.0
"""How long a test waits before it fails [s]: far beyond what a busy machine needs."""


def until(
    ask: Callable[[], T], what: str, *, seconds: float = PATIENCE_SECONDS, pause_s: float = 0.02
) -> T:
    """Ask until the answer is true, and return it; fail by name where none comes.

    What is asked for must be the very thing that the test looks at next: that something came says
    nothing of what comes after it.
    """
    end = time.monotonic() + seconds
    while not (found := ask()):
        if time.monotonic() > end:
            raise AssertionError(f"Waited {seconds:.0f} s for {what}; at last: {found!r}")
        time.sleep(pause_s)
    return found


def answers(service: str) -> bool:
    """Return whether a service answers at an address."""
    import httpx

    try:
        return httpx.get(f"{service}/api/health", timeout=10.0).is_success
    except httpx.TransportError:
        return False


def written(path: Path) -> str:
    """Wait for a file with something in it, and return that."""
    return until(lambda: path.exists() and path.read_text(encoding="utf-8"), f"{path}") or ""


def gone(process: int) -> None:
    """Wait until a process has ended."""
    import psutil

    def ended() -> bool:
        try:
            return bool(psutil.Process(process).status() == psutil.STATUS_ZOMBIE)
        except psutil.NoSuchProcess:
            return True

    until(ended, f"process {process} to end")
