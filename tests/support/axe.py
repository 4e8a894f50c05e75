"""axe-core, the checker of accessibility: where it lies, and what it holds against a page."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from chromium import needed

import web

AXE = Path(web.__file__).parent / "node_modules" / "axe-core" / "axe.min.js"


def axe_source() -> str:
    """Return the checker's script: of ``npm ci`` in web/, or the file that LEATLINE_AXE names."""
    path = Path(os.environ.get("LEATLINE_AXE", AXE))
    needed(str(path) if path.is_file() else None, "axe-core (npm ci in web/)")
    return path.read_text(encoding="utf-8")


def violations(page: Any) -> list[str]:
    """Return what axe-core holds against the page as it is now.

    The script is evaluated by the tester, whom the page's policy does not bind.
    """
    source = axe_source()
    if not page.evaluate("() => Boolean(window.axe)"):
        page.evaluate(source)
    result = page.evaluate("() => axe.run({ resultTypes: ['violations'] })")
    return [
        f"{broken['id']}: {node['target']} {node['failureSummary'][:160]}"
        for broken in result["violations"]
        for node in broken["nodes"]
    ]
