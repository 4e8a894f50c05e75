"""Frozen values: the standard library's dataclass, made in a third of its time.

A study has some three hundred of them. Before Python 3.13 the library compiles six methods for
each, one by one, which takes as long as importing numpy. Here the constructor alone is compiled;
the other methods are written once for all values and do the same.
"""

from __future__ import annotations

import dataclasses
import sys
from operator import attrgetter
from typing import TYPE_CHECKING, Any

__all__ = ["dataclass"]

if TYPE_CHECKING or sys.version_info >= (3, 13):
    from dataclasses import dataclass
else:

    def dataclass(cls=None, *, eq=True, **kind):
        """Return what :func:`dataclasses.dataclass` does; frozen slotted values sooner."""
        if cls is not None or kind != {"frozen": True, "slots": True, "kw_only": True}:
            return dataclasses.dataclass(cls, eq=eq, **kind)
        return lambda cls: _made(cls, eq)


def _made(cls: type, eq: bool) -> Any:
    """Return the class of frozen, slotted, keyword-only values that the library would make."""
    kind = dataclasses.dataclass(init=False, repr=False, eq=False, slots=True, kw_only=True)
    made: Any = kind(cls)
    methods = {"__init__": _constructor(made), "__setattr__": _set, "__delattr__": _delete}
    methods |= {"__getstate__": _state, "__setstate__": _restore, "__repr__": _text}
    if eq:
        compared = [each.name for each in dataclasses.fields(made) if each.compare]
        getter = attrgetter(*compared, "__class__")  # of two names or more, so that it is a tuple
        methods |= {"__eq__": _same, "__hash__": _hash, "_compared": staticmethod(getter)}
    for name, method in methods.items():
        if name not in vars(cls):
            setattr(made, name, method)
    return made


def _constructor(cls: type) -> Any:
    """Return ``__init__``: keyword-only fields, defaults, then ``__post_init__``."""
    scope: dict[str, Any] = {"_set": object.__setattr__, "_new": object()}
    given, lines = ["self"], []
    for each in dataclasses.fields(cls):
        name, value, default = each.name, each.name, ""
        if each.default is not dataclasses.MISSING:
            scope[f"_{name}"], default = each.default, f"_{name}"
            value = name if each.init else default
        elif each.default_factory is not dataclasses.MISSING:
            scope[f"_{name}"], default = each.default_factory, "_new"
            value = f"_{name}() if {name} is _new else {name}" if each.init else f"_{name}()"
        if each.init:
            given += ["*"] if len(given) == 1 else []
            given.append(f"{name}={default}" if default else name)
        if each.init or default:
            lines.append(f"_set(self, {name!r}, {value})")
    lines.append("self.__post_init__()" if hasattr(cls, "__post_init__") else "pass")
    text = f"def make({', '.join(scope)}):\n def __init__({', '.join(given)}):\n  "
    found: dict[str, Any] = {}
    text += "\n  ".join(lines) + "\n return __init__"
    exec(text, vars(sys.modules[cls.__module__]), found)
    function = found["make"](**scope)
    function.__qualname__ = f"{cls.__qualname__}.__init__"
    function.__annotations__ = {each.name: each.type for each in dataclasses.fields(cls)}
    return function


def _same(self: Any, other: Any) -> Any:
    if type(other) is not type(self):
        return NotImplemented
    return self._compared(self) == self._compared(other)


def _hash(self: Any) -> int:
    return hash(self._compared(self))


def _text(self: Any) -> str:
    shown = (each.name for each in dataclasses.fields(self) if each.repr)
    parts = ", ".join(f"{name}={getattr(self, name)!r}" for name in shown)
    return f"{type(self).__qualname__}({parts})"


def _set(self: Any, name: str, value: object) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")


def _delete(self: Any, name: str) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")


def _state(self: Any) -> list[Any]:
    return [getattr(self, each.name) for each in dataclasses.fields(self)]


def _restore(self: Any, state: list[Any]) -> None:
    for each, value in zip(dataclasses.fields(self), state, strict=True):
        object.__setattr__(self, each.name, value)
