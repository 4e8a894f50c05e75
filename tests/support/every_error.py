"""Every kind of error of ours."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator

import api
import routing
from routing.errors import LeatlineError

__all__ = ["every_error"]


def every_error() -> list[type[LeatlineError]]:
    """Return every error class of ours, wherever it is."""
    for package in (routing, api):
        for info in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
            importlib.import_module(info.name)

    def below(kind: type[LeatlineError]) -> Iterator[type[LeatlineError]]:
        yield kind
        for child in kind.__subclasses__():
            yield from below(child)

    ours = (routing.__name__, api.__name__)
    return [kind for kind in below(LeatlineError) if kind.__module__.split(".")[0] in ours]
