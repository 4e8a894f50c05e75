"""The rules of the house that no compiler holds."""

import ast
import importlib
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest
from printed import printed

import routing

ROOT = Path(routing.__file__).parent.parent


def modules(package):
    yield package.__name__
    for info in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
        yield info.name


def test_rooms_import_only_what_stands_above_them():
    command = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    result = subprocess.run(
        [sys.executable, "-c", command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stdout + result.stderr


def test_routing_imports_no_heavy_library():
    code = (
        "import sys, pkgutil, importlib, routing\n"
        "late = ('routing.papers.map_',)  # imported where the map is built\n"
        "for info in pkgutil.walk_packages(routing.__path__, 'routing.'):\n"
        "    if not info.name.startswith(late):\n"
        "        importlib.import_module(info.name)\n"
        "heavy = {'fastapi', 'starlette', 'pydantic', 'folium', 'numba', 'scipy', 'pandas',\n"
        "         'geopandas', 'pint', 'matplotlib', 'pyogrio'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    assert printed(code) == "[]"


@pytest.mark.parametrize("name", list(modules(routing)))
def test_all_is_sorted_and_true(name):
    module = importlib.import_module(name)
    exported = getattr(module, "__all__", None)
    if exported is None:
        return
    assert len(set(exported)) == len(exported)
    for entry in exported:
        assert hasattr(module, entry)


def is_command(node: ast.FunctionDef) -> bool:
    """Return whether a function is a command of the terminal, which has one for each option."""
    return any(ast.unparse(each).endswith(".command()") for each in node.decorator_list)


def test_functions_take_at_most_eight_parameters():
    many = []
    for path in (each for room in ("routing", "api") for each in (ROOT / room).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and not is_command(node):
                every = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
                names = [each.arg for each in every if each.arg not in ("self", "cls")]
                many += [f"{path.name}: {node.name}"] * (len(names) > 8)
    assert many == []
