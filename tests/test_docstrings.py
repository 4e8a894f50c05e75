"""Docstrings of engineering functions name every argument, with its unit."""

import importlib
import inspect
import pkgutil
import re

import pytest

import routing

HEAD = re.compile(r"^(?P<names>[\w*]+(?:, [\w*]+)*) : (?P<kind>.+)$")


def engineering_functions():
    for info in pkgutil.walk_packages(routing.__path__, "routing."):
        module = importlib.import_module(info.name)
        for name in getattr(module, "__all__", ()):
            value = getattr(module, name)
            if not inspect.isfunction(value) or value.__module__ != info.name:
                continue
            if "\nParameters\n" in inspect.cleandoc(value.__doc__ or ""):
                yield value


def documented(function):
    """Return {argument: (type words, description)} of the Parameters section."""
    text = inspect.cleandoc(function.__doc__)
    section = re.split(r"\n\w+\n-+\n", text.split("\nParameters\n", 1)[1].split("\n", 1)[1])[0]
    section = re.split(r"\n\n(?=[A-Z]\w+\n-)", section)[0]
    found = {}
    names: list[str] = []
    for line in section.splitlines():
        head = HEAD.match(line)
        if head:
            names = [name.strip() for name in head["names"].split(",")]
            for name in names:
                found[name] = [head["kind"], ""]
        elif line.startswith("    "):
            for name in names:
                found[name][1] += " " + line.strip()
    return found


@pytest.mark.parametrize(
    "function", list(engineering_functions()), ids=lambda f: f"{f.__module__}.{f.__name__}"
)
def test_docstring__names_every_argument_with_its_unit(function):
    signature = inspect.signature(function)
    found = documented(function)
    assert list(found) == [name for name in signature.parameters if name != "self"]
    for name, (kind, words) in found.items():
        assert words, name
        numeric = re.search(r"float|FloatArray|array_like", kind)
        if numeric:
            assert re.search(r"\[[^\]]+\]", words), f"{name} has no unit"
