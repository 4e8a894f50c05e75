"""The permit package: every paper of a study in one zip, with a manifest to check it against."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from routing.papers.document import Document, plain
from routing.papers.export import EXPORTS, export_bytes
from routing.papers.given import sheet_text, standing, status
from routing.papers.kept import keeping
from routing.papers.shapefile import zipped

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["package_zip"]


def package_zip(
    doc: Document,
    relief: Relief | None = None,
    contours: Sequence[DrawnContour] = (),
    progress: Callable[[float], None] | None = None,
) -> bytes:
    """Return the package; the same study and version give the same bytes.

    ``progress`` hears the share done after each file. The manifest lists each file's purpose, size
    and SHA-256 checksum.
    """
    several = bool(doc.get("lines"))
    rows = [row for row in EXPORTS.values() if row.folder and (several or row.folder != "lines")]
    contents: dict[str, bytes] = {}
    with keeping():
        for number, row in enumerate(rows, start=1):
            contents[row.name] = export_bytes(doc, row.format, relief, contours)
            if progress is not None:
                progress(number / len(rows))
    manifest = {"manifest.json": _manifest(doc, contents)}
    told = {"README.txt": _readme(doc, contents), "SHA256SUMS": _sums({**manifest, **contents})}
    return zipped({**told, **manifest, **contents})


def _readme(doc: Document, contents: Mapping[str, bytes]) -> bytes:
    """Return the page to read first: what the study is, what stands open, what each file is for."""
    titles = {row.name: row.title for row in EXPORTS.values()}
    generator = doc.get("generator") or {}
    maker = " ".join(plain(generator.get(key) or "") for key in ("name", "version"))
    wide = max(len(name) for name in contents) + 2
    lines = [
        sheet_text(doc, "project") or plain(doc.get("name") or "study"),
        "",
        status(doc),
        *([standing(doc)] if standing(doc) else []),
        "",
        f"Made with {maker}. The same study and version give the same bytes.",
        "Read report.pdf first, then sheets.pdf. Nothing here is for construction until a licensed",
        "engineer has reviewed it and signed.",
        "",
        *(f"{name:<{wide}}{titles[name]}" for name in contents),
        "",
        "Check that nothing changed on the way: sha256sum --check SHA256SUMS",
        "manifest.json holds purpose, size and checksum of each file for programs.",
    ]
    return ("\n".join(lines) + "\n").encode()


def _sums(contents: Mapping[str, bytes]) -> bytes:
    """Return the checksums as the usual command reads them."""
    rows = (f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in contents.items())
    return "".join(rows).encode()


def _manifest(doc: Document, contents: Mapping[str, bytes]) -> bytes:
    titles = {row.name: row.title for row in EXPORTS.values()}
    files: list[dict[str, Any]] = [
        {
            "file": name,
            "purpose": titles[name],
            "bytes": len(data),
            "sha256": hashlib.sha256(data).hexdigest(),
        }
        for name, data in contents.items()
    ]
    manifest = {
        "study": plain(doc.get("name") or "study"),
        "generator": dict(doc.get("generator") or {}),
        "files": files,
    }
    return (json.dumps(manifest, ensure_ascii=False, indent=2) + "\n").encode()
