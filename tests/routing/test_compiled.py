"""Loops in two forms, with kernels of other files."""

import sys
from importlib import invalidate_caches
from importlib.util import module_from_spec, spec_from_file_location

import pytest

from routing.compiled import kernel

OUTER = """
from routing.compiled import kernel
from inner_of_test import step

@kernel
def middle(x):
    return 10.0 * step(x)

@kernel
def outer(x):
    return middle(x)
"""
INNER = """
from routing.compiled import {kind}

@{kind}
def step(x):
    return x + {added}
"""


def loaded(name, path):
    spec = spec_from_file_location(name, path)
    module = module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("kind", ["kernel", "inner_kernel"])
@pytest.mark.parametrize("form", ["python", "native"])
def test_kernel__follows_a_changed_kernel_of_another_file(tmp_path, monkeypatch, form, kind):
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    (tmp_path / "outer.py").write_text(OUTER)
    found = []
    for added in (1.0, 2.0, 1.0):
        (tmp_path / "inner.py").write_text(INNER.format(added=added, kind=kind))
        invalidate_caches()
        monkeypatch.setitem(sys.modules, "inner_of_test", None)
        loaded("inner_of_test", tmp_path / "inner.py")
        monkeypatch.setitem(sys.modules, "outer_of_test", None)
        module = loaded("outer_of_test", tmp_path / "outer.py")
        found.append(getattr(module.outer, form)(1.0))
    assert found == [20.0, 30.0, 20.0]


def test_kernel__compiles_where_nothing_can_be_kept(monkeypatch):
    import numba
    from numba.core import caching

    monkeypatch.setattr(caching.FunctionCache, "_impl_class", caching.CompileResultCacheImpl)
    monkeypatch.setattr(caching.CompileResultCacheImpl, "_locator_classes", [])
    with pytest.raises(RuntimeError, match="cannot cache"):
        numba.njit(cache=True)(_thrice)
    assert kernel(_thrice).native(2.0) == 6.0


def _thrice(x):
    return 3.0 * x
