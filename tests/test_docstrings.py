"""Docstrings of engineering functions name every argument and what comes out, with units.

An engineering function is public (in ``__all__`` of a room of the trade), takes numbers and returns
nothing but numbers; whoever documents any other function's arguments is held to the same.
"""

import importlib
import inspect
import pkgutil
import re

import pytest

import routing

ROOMS = set("anchors choice fittings flow heads pipe strength survey trench water".split())
HEAD = re.compile(r"^(?P<names>[\w*]+(?:, [\w*]+)*) : (?P<kind>.+)$")
NUMBER = r"\bfloat\b|FloatArray|ArrayLike|array_like"
NUMBERS = re.compile(
    r"float|FloatArray|(float|FloatArray) \| (None|FloatArray)|tuple\[float[ .,float]*\]"
)


def public_functions():
    for info in pkgutil.walk_packages(routing.__path__, "routing."):
        module = importlib.import_module(info.name)
        for name in getattr(module, "__all__", ()):
            value = getattr(module, name)
            if inspect.isfunction(value) and value.__module__ == info.name:
                yield value


def is_engineering(function):
    signature = inspect.signature(function)
    return (
        function.__module__.split(".")[1] in ROOMS
        and any(re.search(NUMBER, str(each.annotation)) for each in signature.parameters.values())
        and bool(NUMBERS.fullmatch(str(signature.return_annotation)))
    )


def section(function, title):
    """Return {name: (type words, description)} of one section, None without it."""
    text = inspect.cleandoc(function.__doc__ or "")
    found = re.search(rf"\n{title}\n-+\n(.*?)(?=\n\n[A-Z]\w+\n-|\Z)", text, re.DOTALL)
    if found is None:
        return None
    entries, names = {}, []
    for line in found[1].splitlines():
        head = HEAD.match(line)
        if head:
            names = [name.strip().lstrip("*") for name in head["names"].split(",")]
            entries |= {name: [head["kind"], ""] for name in names}
        elif line.startswith("    "):
            for name in names:
                entries[name][1] += " " + line.strip()
    return entries


FUNCTIONS = [
    function
    for function in public_functions()
    if is_engineering(function) or section(function, "Parameters")
]


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f"{f.__module__}.{f.__name__}")
def test_docstring__names_every_argument_with_its_unit(function):
    given, out = section(function, "Parameters"), section(function, "Returns")
    names = [name for name in inspect.signature(function).parameters if name != "self"]
    assert list(given or ()) == names
    if is_engineering(function):
        assert out, "no Returns"
        given |= out
    for name, (kind, words) in given.items():
        assert words, name
        if re.search(NUMBER, kind):
            assert re.search(r"\[[^\]]+\]", words), f"{name} has no unit"


def test_docstring__engineering_functions_are_found():
    assert sum(map(is_engineering, FUNCTIONS)) >= 100
