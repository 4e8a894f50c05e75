"""Study documents as JSON files, written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from routing.errors import InputError, LeatlineError, StudyFileError

__all__ = ["SCHEMA", "read_document", "read_json", "to_json", "write_document"]

SCHEMA = 1
"""Version of the document's meaning."""


def to_json(document: Mapping[str, Any]) -> bytes:
    """Return the document as JSON text (UTF-8); what is not finite becomes null."""
    import orjson

    return orjson.dumps(document, option=orjson.OPT_SERIALIZE_NUMPY)


def write_document(document: Mapping[str, Any], path: Path) -> None:
    """Write the document to ``path``, whole or not at all."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        beside.write_bytes(to_json(document))
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)


def read_json(path: Path, what: str, remedy: str, kind: type[LeatlineError] = InputError) -> Any:
    """Return what a JSON file holds, or raise an error that names it as the file of ``what``."""
    import orjson

    try:
        return orjson.loads(path.read_bytes())
    except OSError as exc:
        raise kind(
            f"The {what} {path} cannot be read: {exc.strerror}.", "Check its name and place."
        ) from exc
    except orjson.JSONDecodeError as exc:
        raise kind(f"{path} holds no {what}: {exc}.", remedy) from exc


def read_document(path: Path) -> dict[str, Any]:
    """Read a saved study; raises :class:`~routing.errors.StudyFileError`."""
    document = read_json(path, "study", "Give the study.json that a study wrote.", StudyFileError)
    if not isinstance(document, dict) or "stations" not in document:
        raise StudyFileError(f"{path} is no study.", "Give the study.json that a study wrote.")
    if document.get("schema") != SCHEMA:
        raise StudyFileError(
            f"{path} has schema {document.get('schema')!r}; this version reads {SCHEMA}.",
            "Run the study again with this version.",
        )
    return document
