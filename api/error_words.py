"""What is said where an input is refused: what each error is, and its words, values taken out."""

from __future__ import annotations

import ast
import itertools
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

import routing
from api import ending, errors
from routing.errors import LeatlineError
from routing.value import dataclass
from routing.words import normal_form
from routing.words.translate import HOLE

__all__ = ["error_kinds", "error_sentences", "told_errors", "told_returns"]

API, ROUTING = Path(__file__).resolve().parent, Path(routing.__file__).resolve().parent
MET = (
    API,
    *(ROUTING / room for room in ("units.py", "words", "settings", "line", "terrain")),
    *(
        ROUTING / room
        for room in ("inputs.py", "pipe", "trench/corridor.py", "choice/diameters.py")
    ),
    *(ROUTING / f"choice_{part}.py" for part in ("case", "study", "sequences")),
    *(
        ROUTING / f"search/{part}.py"
        for part in ("grid", "ladder", "prices", "site", "told", "why")
    ),
    *(ROUTING / f"search/valley/{part}.py" for part in ("land", "purse", "screen")),
    *(ROUTING / room for room in ("document", "papers/export.py", "works_study.py")),
    *(ROUTING / room for room in ("crew", "survey", "land", "works", "record", "flow/intake")),
    *(ROUTING / f"catchment/{part}.py" for part in ("place", "drainage")),
    *(ROUTING / f"flow/{part}.py" for part in ("flow_duration", "losses", "power")),
    *(ROUTING / f"anchors/{part}.py" for part in ("given", "joint", "soil")),
    *(ROUTING / f"papers/{part}.py" for part in ("document", "ifc", "plane", "typeset")),
    *(ROUTING / f"{part}.py" for part in ("strength/class_line", "notebook", "water")),
)
"""Where what people give is read: command, request, quantity, language, settings, line, raster,
pipes, ends of a search, the choice of a pipe, a saved study and what it is written as; what crews
bring home, levels taken, layers of the land, readings of gauges, the intake, places on streams."""
VALUE = "“”"
"""What stands for a value that only the run knows."""
DEEPEST, MOST = 5, 60
"""Steps from a message to where its words stand, and readings of one message [-]."""
_Within = tuple[ast.FunctionDef, ...]


def error_kinds() -> dict[str, str]:
    """Return what each error is whatever its values, by its code; how else a command ends too."""
    found = {kind.code: kind.kind() for kind in _kinds(LeatlineError)}
    found |= {f"an end by {name}": told for name, told in ending.KINDS.items()}
    return found | {f"status {status}": told for status, told in errors.KINDS.items()}


def _kinds(kind: type[LeatlineError]) -> Iterator[type[LeatlineError]]:
    yield kind
    for below in kind.__subclasses__():
        yield from _kinds(below)


def error_sentences() -> Iterator[str]:
    """Yield what is said in the rooms where what people give is read."""
    names = frozenset(kind.__name__ for kind in _kinds(LeatlineError))
    paths = (path for room in MET for path in (room.rglob("*.py") if room.is_dir() else [room]))
    yield from told_errors([path.read_text(encoding="utf-8") for path in sorted(paths)], names)


def told_errors(sources: Iterable[str], names: frozenset[str]) -> Iterator[str]:
    """Yield problem and remedy of the errors that modules make, ``{1}`` where a value stands.

    Words that are chosen or handed over elsewhere are put in, so that each sentence is whole:

    >>> made = '''
    ... def refused(key, what): return InputError(f"{key} {what}.", "Write 3 m.")
    ... raise refused(key, "is empty" if empty else "is no length")'''
    >>> list(told_errors([made], frozenset({"InputError"})))
    ['{1} is empty.', '{1} is no length.', 'Write {1}.']
    """
    words = _Words.of([ast.parse(source) for source in sources])
    for module in words.modules:
        for node, within in module.calls:
            if _called(node) in names:
                for text in node.args[:2]:
                    for reading in words.readings(text, module, within, DEEPEST):
                        key = normal_form(reading).key
                        if re.search(r"[^\W\d_]{2}", HOLE.sub("", key)):
                            yield key


def told_returns(source: str) -> Iterator[str]:
    """Yield the sentences that functions of a module return, ``{1}`` where a value stands.

    >>> list(told_returns('def told() -> str: return f"{free} GB are free"'))
    ['{1} GB are free']
    """
    words = _Words.of([ast.parse(source)])
    for module in words.modules:
        for made in module.functions.values():
            for each in ast.walk(made):
                if isinstance(each, ast.Return):
                    for reading in words.readings(each.value, module, (made,), DEEPEST):
                        key = normal_form(reading).key
                        if " " in key and re.search(r"[^\W\d_]{2}", HOLE.sub("", key)):
                            yield key


@dataclass(frozen=True, slots=True, kw_only=True)
class _Module:
    """A module's calls, each with the functions it stands in, and its texts."""

    calls: tuple[tuple[ast.Call, _Within], ...]
    functions: Mapping[str, ast.FunctionDef]
    given: Mapping[str, tuple[ast.expr, ...]]
    """What is assigned to each name, wherever in the module."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """What an expression of some modules can say."""

    modules: tuple[_Module, ...]

    @classmethod
    def of(cls, trees: list[ast.Module]) -> _Words:
        return cls(modules=tuple(map(_module, trees)))

    def readings(
        self, node: ast.expr | None, module: _Module, within: _Within, left: int
    ) -> list[str]:
        """Return what an expression can read, ``VALUE`` where only the run knows."""
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            return [node.value]
        if left == 0:
            return [VALUE]
        if isinstance(node, ast.JoinedStr):
            return _joined(self._put_in(part, module, within, left) for part in node.values)
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
            sides = [self.readings(side, module, within, left) for side in (node.left, node.right)]
            return [VALUE] if sides == [[VALUE], [VALUE]] else _joined(sides)
        either: list[ast.expr] = []
        if isinstance(node, ast.IfExp):
            either = [node.body, node.orelse]
        elif isinstance(node, ast.Name | ast.Attribute):
            name = node.id if isinstance(node, ast.Name) else node.attr
            for function in reversed(within):
                if name in _parameters(function):
                    return self._handed(module, function, name, left)
            either = list(module.given.get(name, ()))
        elif isinstance(node, ast.Call) and (made := module.functions.get(_called(node))):
            returned = [each for each in ast.walk(made) if isinstance(each, ast.Return)]
            either = [each.value for each in returned if each.value is not None]
            within = (made,)
        found = [self.readings(each, module, within, left - 1) for each in either]
        return list(dict.fromkeys(itertools.chain(*found))) or [VALUE]

    def _put_in(self, part: ast.expr, module: _Module, within: _Within, left: int) -> list[str]:
        """Return what a part of a text can read: words of ours, else ``VALUE``."""
        if not isinstance(part, ast.FormattedValue):
            return self.readings(part, module, within, left)
        node = part.value
        told = self.readings(node, module, within, left) if part.conversion == -1 else [VALUE]
        given = module.given.get(node.id, ()) if isinstance(node, ast.Name) else ()
        chosen = isinstance(node, ast.IfExp) or any(isinstance(one, ast.IfExp) for one in given)
        known = chosen or (isinstance(node, ast.Name) and node.id.isupper())
        return list(dict.fromkeys(each if known or _a_phrase(each) else VALUE for each in told))

    def _handed(self, home: _Module, to: ast.FunctionDef, name: str, left: int) -> list[str]:
        """Return what a function is given for a parameter, wherever it is called."""
        places = [each.arg for each in (*to.args.posonlyargs, *to.args.args)]
        at = places.index(name) if name in places else MOST
        found: list[str] = []
        for module in (home,) if to.name.startswith("_") else self.modules:
            for call, within in module.calls:
                if _called(call) == to.name:
                    given = {each.arg: each.value for each in call.keywords}
                    value = given.get(name, call.args[at] if at < len(call.args) else None)
                    if value is not None:
                        found += self.readings(value, module, within, left - 1)
        default = _default(to, name)
        found += [] if default is None else [str(default)]
        return list(dict.fromkeys(found)) or [VALUE]


def _joined(parts: Iterable[Sequence[str]]) -> list[str]:
    told = map("".join, itertools.product(*parts))
    return list(dict.fromkeys(itertools.islice(told, MOST)))


def _a_phrase(text: str) -> bool:
    """Return whether a part is words of ours, and no name of a key, a file or a place."""
    return sum(word[:1].islower() for word in text.replace(VALUE, "").split()[:3]) > 1


def _module(tree: ast.Module) -> _Module:
    calls: list[tuple[ast.Call, _Within]] = []
    functions: dict[str, ast.FunctionDef] = {}
    given: dict[str, tuple[ast.expr, ...]] = {}

    def gather(node: ast.AST, within: _Within) -> None:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.Call):
                calls.append((child, within))
            if isinstance(child, ast.FunctionDef):
                functions[child.name] = child
            for name, value in _assigned(child):
                given[name] = (*given.get(name, ()), value)
            gather(child, (*within, child) if isinstance(child, ast.FunctionDef) else within)

    gather(tree, ())
    return _Module(calls=tuple(calls), functions=functions, given=given)


def _assigned(node: ast.AST) -> Iterator[tuple[str, ast.expr]]:
    """Yield the names that a statement gives a value to, with that value."""
    targets = [node.target] if isinstance(node, ast.AnnAssign) else getattr(node, "targets", [])
    value = getattr(node, "value", None)
    for target in targets:
        if isinstance(target, ast.Name) and value is not None:
            yield target.id, value
        elif isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple):
            for one, its in zip(target.elts, value.elts, strict=False):
                if isinstance(one, ast.Name):
                    yield one.id, its


def _called(node: ast.Call) -> str:
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def _parameters(function: ast.FunctionDef) -> list[str]:
    given = function.args
    return [each.arg for each in (*given.posonlyargs, *given.args, *given.kwonlyargs)]


def _default(function: ast.FunctionDef, name: str) -> str | None:
    """Return the text that a parameter has unless it is given."""
    given = function.args
    places = [each.arg for each in (*given.posonlyargs, *given.args)]
    values = dict(zip(reversed(places), reversed(given.defaults), strict=False))
    values |= {
        each.arg: to for each, to in zip(given.kwonlyargs, given.kw_defaults, strict=True) if to
    }
    value = values.get(name)
    return value.value if isinstance(value, ast.Constant) and isinstance(value.value, str) else None
