"""Coroutines run where no other loop runs: a browser that a test opened keeps one in its thread."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

Given = TypeVar("Given")


def run_alone(work: Coroutine[Any, Any, Given]) -> Given:
    """Return what a coroutine returns, run to its end in a thread of its own."""
    with ThreadPoolExecutor(1) as one:
        return one.submit(asyncio.run, work).result()
