"""A sign of life on a terminal, for work that takes more than a second."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["shown_after_a_second"]

PATIENCE_SECONDS = 1.0


@contextmanager
def shown_after_a_second(what: str) -> Iterator[None]:
    """Show ``what`` with a moving bar on standard error while the block runs on."""
    over = threading.Event()
    thread = threading.Thread(target=_show, args=(what, over), daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _show(what: str, over: threading.Event) -> None:
    if over.wait(PATIENCE_SECONDS):
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = TextColumn("{task.description}"), BarColumn(pulse_style="cyan"), TimeElapsedColumn()
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        progress.add_task(what, total=None)
        over.wait()
