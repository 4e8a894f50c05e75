"""Loops written once: interpreted for one ordinary line, compiled for long lines and services.

Importing numba and fetching a kernel from its cache costs about half a second, more than a whole
ordinary study. So a kernel is a plain function over arrays; it is compiled when the work is large
enough to repay that, when :func:`prefer_compiled` was called, as a running service does, and
in a block of :func:`compiling`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import update_wrapper
from pathlib import Path
from types import FunctionType
from typing import Any, Generic, ParamSpec, TypeVar
from zlib import crc32

__all__ = ["Kernel", "compiling", "inner_kernel", "kernel", "prefer_compiled", "repays"]

P = ParamSpec("P")
R = TypeVar("R")

LARGE_WORK = 200_000
"""Loop steps from which compiling repays itself (an interpreted step takes about 1 microsecond)."""

_preference = {"compiled": False}
_compiling: ContextVar[bool] = ContextVar("leatline_compiling", default=False)


def prefer_compiled(value: bool = True) -> None:
    """Compile every kernel from now on, whatever the size of the work."""
    _preference["compiled"] = value


@contextmanager
def compiling() -> Iterator[None]:
    """Compile the kernels that the block uses, while others run them interpreted."""
    before = _compiling.set(True)
    try:
        yield
    finally:
        _compiling.reset(before)


class Kernel(Generic[P, R]):
    """A loop over arrays that can run interpreted or compiled, with the same results."""

    def __init__(self, function: Callable[P, R], *, inner: bool = False) -> None:
        self._function = function
        self._inner = inner
        self._plain = function
        self._python: Callable[P, R] | None = None
        self._native: Callable[P, R] | None = None
        update_wrapper(self, function)

    @property
    def python(self) -> Callable[P, R]:
        """Return the interpreted form, its calls of other kernels made plain calls."""
        if self._python is None:
            self._python = _linked(self._plain, "python")
        return self._python

    def plainly(self, function: Callable[P, R]) -> Callable[P, R]:
        """Take a function in array operations, equal to the last bit, for the interpreted form."""
        self._plain = function
        return function

    @property
    def native(self) -> Callable[P, R]:
        """Return the compiled form, made on first use and kept on disk."""
        if self._native is None:
            self._native = _compiled(_linked(self._function, "native"), inner=self._inner)
        return self._native

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        """Run as preferred: compiled in a service, interpreted otherwise."""
        return self.sized(0)(*args, **kwargs)

    def sized(self, work: int) -> Callable[P, R]:
        """Return the form that suits ``work`` loop steps."""
        return self.native if repays(work) else self.python


def repays(work: int) -> bool:
    """Return whether compiling repays itself over ``work`` loop steps, or is preferred here."""
    return _preference["compiled"] or work >= LARGE_WORK or _compiling.get()


def kernel(function: Callable[P, R]) -> Kernel[P, R]:
    """Make a plain loop over arrays a :class:`Kernel`.

    It may call numpy and other kernels, also those of other files.
    """
    return Kernel(function)


def inner_kernel(function: Callable[P, R]) -> Kernel[P, R]:
    """Make a :class:`Kernel` that compiled kernels take into their own text where they call it.

    For what is done at each step of a loop: there a call with tuples of arrays, each counted as in
    use, takes several times as long as the work itself.
    """
    return Kernel(function, inner=True)


def _compiled(function: Callable[P, R], *, inner: bool) -> Callable[P, R]:
    """Return a function compiled at its first call, from the disk where that can be written."""
    import numba

    how = {"nogil": True, "inline": "always" if inner else "never"}
    made: Callable[P, R]
    try:
        made = numba.njit(cache=True, **how)(function)
    except RuntimeError:  # no folder for what was compiled: neither beside the code nor the user's
        made = numba.njit(**how)(function)
    return made


def _linked(function: Callable[P, R], form: str) -> Callable[P, R]:
    """Return ``function`` with the kernels that it names replaced by one of their forms.

    The compiler's cache goes by the name of a function and watches its own file only, so that the
    name also tells the text of the other files that the function is compiled from.
    """
    calls = {name: getattr(called, form) for name, called in _called(function).items()}
    if not calls:
        return function
    linked = FunctionType(
        function.__code__,
        {**function.__globals__, **calls},
        function.__name__,
        function.__defaults__,
    )
    others = sorted(_files(function) - {function.__code__.co_filename})
    text = b"".join(Path(each).read_bytes() for each in others)
    linked.__qualname__ = function.__qualname__ + (f"_{crc32(text):08x}" if others else "")
    linked.__module__ = function.__module__
    return linked


def _called(function: Callable[..., Any]) -> dict[str, Kernel[..., Any]]:
    """Return the kernels that a function names."""
    scope = function.__globals__
    named = {name: scope.get(name) for name in function.__code__.co_names}
    return {name: each for name, each in named.items() if isinstance(each, Kernel)}


def _files(function: Callable[..., Any]) -> set[str]:
    """Return the file of a function, with those of all kernels that it calls."""
    called = (_files(each._function) for each in _called(function).values())
    return {function.__code__.co_filename}.union(*called)
