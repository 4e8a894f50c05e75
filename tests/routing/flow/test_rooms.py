"""The rooms of pipe and flow as a whole: exports and lightness."""

from __future__ import annotations

from printed import printed

import routing.flow
import routing.pipe


def _order(name: str) -> tuple[int, str]:
    """Return the rank of a name: constants, classes, functions, each by the alphabet."""
    return (0 if name.isupper() else 1 if name[0].isupper() else 2), name


def test_exports__are_sorted_and_there() -> None:
    for room in (routing.pipe, routing.flow):
        names = room.__all__
        assert len(names) == len(set(names))
        assert sorted(names, key=_order) == list(names)
        for name in names:
            assert getattr(room, name) is not None


def test_import__brings_nothing_heavy() -> None:
    code = (
        "import sys, routing.flow, routing.pipe\n"
        "routing.pipe.load_catalogue().find('PE100-SDR17-200')\n"
        "heavy = {'scipy', 'numba', 'pint', 'pandas', 'rasterio', 'fastapi', 'difflib'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    assert printed(code) == "[]"
