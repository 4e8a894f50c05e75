"""The files of the pages as the browser gets them: packed, and sent again only when changed."""

from __future__ import annotations

import base64
import gzip
import hashlib
import os
import re
from functools import lru_cache
from pathlib import Path

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.staticfiles import NotModifiedResponse, StaticFiles
from starlette.types import Scope

__all__ = ["PackedFiles", "page_policy", "page_response"]

PACKED_KINDS = {".js", ".css", ".html", ".svg", ".json"}
IMPORT_MAP = re.compile(r'<script type="importmap">(.*?)</script>', re.DOTALL)


@lru_cache(maxsize=256)
def _packed(path: str, changed_ns: int) -> bytes:
    """Return a file packed; ``changed_ns`` is here so that an edited file is packed anew."""
    return gzip.compress(Path(path).read_bytes(), 9, mtime=0)


class PackedFiles(StaticFiles):
    """Static files, packed for browsers that take gzip."""

    def __init__(self, *, directory: Path, cache: str = "no-cache") -> None:
        super().__init__(directory=directory)
        self.cache = cache

    def file_response(
        self,
        full_path: str | os.PathLike[str],
        stat_result: os.stat_result,
        scope: Scope,
        status_code: int = 200,
    ) -> Response:
        """Return one file, or that the browser's copy of it is still right."""
        plain = super().file_response(full_path, stat_result, scope, status_code)
        plain.headers["cache-control"] = self.cache
        if Path(full_path).suffix not in PACKED_KINDS or isinstance(plain, NotModifiedResponse):
            return plain
        plain.headers["vary"] = "accept-encoding"
        if "gzip" not in Headers(scope=scope).get("accept-encoding", ""):
            return plain
        body = _packed(str(full_path), stat_result.st_mtime_ns)
        kept = ("content-type", "etag", "last-modified", "cache-control", "vary")
        headers = {name: plain.headers[name] for name in kept if name in plain.headers}
        return Response(body, status_code, {**headers, "content-encoding": "gzip"})


def page_policy(html: str, online_tiles: str = "") -> str:
    """Return what a page may load: its own files, its own import map, at most one tile host."""
    scripts = "'self'"
    found = IMPORT_MAP.search(html)
    if found is not None:
        digest = base64.b64encode(hashlib.sha256(found[1].encode()).digest()).decode()
        scripts += f" 'sha256-{digest}'"
    tiles = f" {online_tiles}" if online_tiles else ""
    return (
        f"default-src 'self'; img-src 'self' data: blob:{tiles}; "
        f"style-src 'self' 'unsafe-inline'; script-src {scripts}; worker-src 'self'; "
        "frame-ancestors 'self'; base-uri 'none'; form-action 'self'"
    )


def page_response(html: str, accepted: str, online_tiles: str = "") -> Response:
    """Return a page, packed where the browser takes gzip, with the policy that fits it."""
    headers = {
        "cache-control": "no-cache",
        "content-security-policy": page_policy(html, online_tiles),
        "vary": "accept-encoding",
    }
    body = html.encode()
    if "gzip" in accepted:
        headers["content-encoding"] = "gzip"
        body = gzip.compress(body, 6, mtime=0)
    return Response(body, 200, headers, media_type="text/html; charset=utf-8")
