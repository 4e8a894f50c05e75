"""One row per setting: a field of a frozen class, with its reader, meaning and example.

A class of settings is a table of the file; each of its fields is made by :func:`row` and is all
that is ever said of its key. Reading a file, the description of the service, the guide's page and
the fields of the planning page are made from these rows.
"""

from __future__ import annotations

import dataclasses
import difflib
import json
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from types import MappingProxyType
from typing import Any

from routing.errors import SettingsError
from routing.settings.readers import Reader
from routing.value import dataclass

__all__ = ["Row", "check_known", "read_table", "row", "rows_of", "table", "tables", "written"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What is said of a key: how it is read, what it means, an example, what holds without it.

    ``label`` and ``hint`` are those of its field on the planning page.
    """

    key: str
    reader: Reader
    meaning: str
    example: object
    without: str
    needed: bool
    label: str
    hint: str


def row(
    reader: Reader,
    meaning: str,
    example: object = None,
    default: object = None,
    *,
    without: str = "",
    needed: bool = False,
    page: tuple[str, str] = ("", ""),
) -> Any:
    """Return the field of a key in its class of settings.

    ``default`` is written as in a file; ``without`` says in words what holds where the key is
    missing, if the default does not say it all. ``page`` is label and hint of its field on the
    planning page.
    """
    told = Row(
        key="",
        reader=reader,
        meaning=meaning,
        example=example,
        without=without or _told(default),
        needed=needed,
        label=page[0],
        hint=page[1],
    )
    ready: dict[str, Any] = {"metadata": {"row": told}}
    if needed:
        pass
    elif reader.several:
        ready["default"] = ()
    elif reader.rows is not None:
        ready["default_factory"] = reader.rows
    elif reader.schema.get("type") == "object" and default is not None:
        ready["default_factory"] = lambda: reader(default, meaning)
    elif isinstance(default, str) and reader.dimension is not None:
        ready["default"] = reader(default, meaning)
    else:
        ready["default"] = default
    return dataclasses.field(**ready)


def _told(default: object) -> str:
    if isinstance(default, bool):
        return "true" if default else "false"
    return "" if default in (None, "", {}) else str(default)


@cache
def rows_of(kind: type) -> Mapping[str, Row]:
    """Return the rows of a class of settings by their keys."""
    # "from" is a word of Python, so that field has an underscore.
    named = [(field.name.rstrip("_"), field.metadata) for field in dataclasses.fields(kind)]
    return MappingProxyType(
        {key: dataclasses.replace(told["row"], key=key) for key, told in named if "row" in told}
    )


def check_known(key: object, known: Sequence[str], where: str) -> None:
    """Refuse a key (with an empty ``where``: a table) that does not exist, naming the nearest."""
    if key in known:
        return
    near = difflib.get_close_matches(str(key), known, n=1, cutoff=0.0)
    place = f"[{where}] " if where else ""
    raise SettingsError(
        f"{place}{key} is not a known {'key' if where else 'table'}.",
        f"The nearest known one is {near[0]}.",
    )


def read_table(kind: type, value: object, name: str) -> Any:
    """Return a table as its class of settings.

    Where the class has a method ``consistent``, that is asked for what no single key can say: it
    takes the table's name and the keys that were given, and returns the settings to use.
    """
    rows = rows_of(kind)
    if not isinstance(value, Mapping):
        raise SettingsError(
            f"{name} = {value!r} is no table.",
            f"Write [{name}] with keys such as {next(iter(rows))} below it.",
        )
    values = {}
    for key, item in value.items():
        check_known(key, list(rows), name)
        values["from_" if key == "from" else key] = rows[key].reader(item, f"{name}.{key}")
    needs = [told for told in rows.values() if told.needed]
    if missing := [told.key for told in needs if told.key not in value]:
        example = ", ".join(f"{told.key} = {written(told.example)}" for told in needs)
        raise SettingsError(f"{name} has no {missing[0]}.", f"Write, for example, {example}.")
    made = kind(**values)
    return made.consistent(name, frozenset(value)) if hasattr(made, "consistent") else made


def written(value: object) -> str:
    """Return a value as it stands in a settings file.

    >>> written({"unit": "L/s", "flows": [41.0]})
    '{"unit" = "L/s", "flows" = [41.0]}'
    """
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{written(key)} = {written(of)}" for key, of in value.items()) + "}"
    if isinstance(value, list):
        return f"[{', '.join(written(item) for item in value)}]"
    return json.dumps(value, ensure_ascii=False)


def _schema(kind: type) -> dict[str, Any]:
    rows = rows_of(kind).values()
    schema: dict[str, Any] = {
        "type": "object",
        "additionalProperties": False,
        "properties": {
            told.key: {
                **told.reader.schema,
                "description": _described(told),
                **({} if told.example is None else {"examples": [told.example]}),
            }
            for told in rows
            if told.reader.schema
        },
    }
    needs = [told.key for told in rows if told.needed]
    return {**schema, "required": needs} if needs else schema


def _described(told: Row) -> str:
    words = f"{told.meaning[:1].upper()}{told.meaning[1:]}."
    if told.reader.ends:
        words += f" Takes {told.reader.takes}."
    return words + (f" Without it: {told.without}." if told.without else "")


def table(kind: type) -> Reader:
    """Return the reader of a table as its class of settings."""
    return Reader(
        read=lambda value, name: read_table(kind, value, name), schema=_schema(kind), rows=kind
    )


def tables(
    kind: type,
    then: Callable[[tuple[Any, ...], str], tuple[Any, ...]] | None = None,
    *,
    most: int = 1000,
) -> Reader:
    """Return the reader of a list of tables; ``then`` checks or orders them."""

    def read(value: object, name: str) -> tuple[Any, ...]:
        if not isinstance(value, list) or len(value) > most:
            raise SettingsError(
                f"{name} must be a list of at most {most} tables.",
                f"Write each as its own [[{name}]] table.",
            )
        found = tuple(read_table(kind, item, f"{name}[{i}]") for i, item in enumerate(value))
        return then(found, name) if then else found

    schema = {"type": "array", "items": _schema(kind), "maxItems": most}
    return Reader(read=read, schema=schema, rows=kind, several=True)
