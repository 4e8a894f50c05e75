"""What the command of one study does without, so that it starts sooner."""

from __future__ import annotations

import gc
import sys
from importlib.util import find_spec, module_from_spec
from typing import Any

__all__ = ["start_lean"]

ABSENT = ("pandas", "geopandas")
"""What the libraries of maps and GIS files take along where it is there; a study has no tables."""
IN_PARTS = ("folium",)
"""Packages that read all their parts at once, of which a map needs few."""
BETWEEN_COLLECTIONS = 100_000
"""Objects made between two searches for rings of garbage [-]; a study leaves next to none."""


def start_lean() -> None:
    """Make the libraries of this process read less; for a process that runs one command and ends.

    Whoever asks such a package itself for a name gets all of it.
    """
    gc.set_threshold(BETWEEN_COLLECTIONS)
    for name in ABSENT:
        sys.modules.setdefault(name, None)  # type: ignore[arg-type]
    for name in IN_PARTS:
        if name not in sys.modules:
            _read_in_parts(name)


def _read_in_parts(name: str) -> None:
    """Let parts of a package be imported without the package's own list of imports."""
    spec = find_spec(name)
    if spec is None or spec.loader is None:
        return
    loader, package = spec.loader, module_from_spec(spec)

    def asked(wanted: str) -> Any:
        if wanted.startswith("__"):
            raise AttributeError(f"module {name!r} has no attribute {wanted!r}")
        vars(package).pop("__getattr__", None)
        loader.exec_module(package)
        return getattr(package, wanted)

    vars(package)["__getattr__"] = asked
    sys.modules[name] = package
