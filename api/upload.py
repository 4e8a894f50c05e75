"""Files as they come in: streamed to disk, counted, named by the service."""

from __future__ import annotations

import re
from pathlib import Path
from typing import BinaryIO

from fastapi import Request
from python_multipart.exceptions import FormParserError
from python_multipart.multipart import MultipartParser, parse_options_header
from starlette.concurrency import run_in_threadpool

from api.errors import BadUpload, TooLarge, WrongMedia
from routing.papers.document import file_stem

__all__ = ["LineUpload", "Upload", "receive_file", "receive_upload"]

MAX_PRJ_BYTES = 1_000_000
LOOK_BYTES = 8 * 2**20
"""How much comes in before it is looked again whether there is room for more [bytes]."""
SUFFIXES = {
    "tif": "tif", "tiff": "tif", "asc": "asc", "dem": "dem", "img": "img", "gpkg": "gpkg",
    "zip": "zip",
}  # fmt: skip
"""Suffix under which a raster is kept; what the file really is, its first bytes say."""

SRTM_NAME = re.compile(r"([NS]\d\d[EW]\d\d\d)[^/]*\.hgt", re.I)
"""Names that carry what the file does not: the corner of an SRTM tile."""


class Upload:
    """Takes a multipart form apart into files of its own naming in ``folder``."""

    fields: tuple[str, ...] = ("file", "prj")
    remedy = "Send one raster as 'file' and, where it has no CRS of its own, a .prj as 'prj'."

    def __init__(self, folder: Path, boundary: bytes) -> None:
        self.folder = folder
        self.name = "terrain"
        self.file: Path | None = None
        self.complete = False
        self._fields: set[str] = set()
        self._open: BinaryIO | None = None
        self._left = 0
        self._header: tuple[bytearray, bytearray] = (bytearray(), bytearray())
        self._disposition = b""
        self._parser = MultipartParser(
            boundary,
            callbacks={
                "on_header_field": lambda data, start, end: self._header[0].extend(data[start:end]),
                "on_header_value": lambda data, start, end: self._header[1].extend(data[start:end]),
                "on_header_end": self._end_header,
                "on_headers_finished": self._begin_part,
                "on_part_data": self._take,
                "on_part_end": self.close,
                "on_end": self._finish,
            },
        )

    def write(self, chunk: bytes) -> None:
        """Take the next bytes of the body."""
        self._parser.write(chunk)

    def close(self) -> None:
        """Close the file of the part at hand, if there is one."""
        if self._open is not None:
            self._open.close()
            self._open = None

    def _finish(self) -> None:
        self.complete = True

    def _end_header(self) -> None:
        field, value = bytes(self._header[0]), bytes(self._header[1])
        if field.lower() == b"content-disposition":
            self._disposition = value
        self._header = (bytearray(), bytearray())

    def _begin_part(self) -> None:
        """Open the file of a part, under the service's name for it."""
        _, options = parse_options_header(self._disposition)
        self._disposition = b""
        field = options.get(b"name", b"").decode("utf-8", "replace")
        if field not in self.fields or field in self._fields:
            raise BadUpload(
                f"The form has an unexpected or repeated field {field[:40]!r}.",
                self.remedy,
            )
        self._fields.add(field)
        given = options.get(b"filename", b"").decode("utf-8", "replace")
        self._open = self._place(field, given).open("wb")

    def _place(self, field: str, given: str) -> Path:
        """Return where a part goes; ``given`` is the client's name for it."""
        if field == "prj":
            self._left = MAX_PRJ_BYTES
            return self.folder / "elevation.prj"
        self.name, suffix = _names(given)
        self._left = -1  # the whole body is counted
        srtm = SRTM_NAME.fullmatch(self.name)
        kept = f"{srtm[1].upper()}.hgt" if srtm else f"elevation.{suffix}"
        self.file = self.folder / kept
        return self.file

    def _take(self, data: bytes, start: int, end: int) -> None:
        if self._left >= 0 and end - start > self._left:
            raise BadUpload("The .prj file is too large to be one.", "Send the raster's own .prj.")
        if self._left >= 0:
            self._left -= end - start
        if self._open is not None:
            self._open.write(data[start:end])


class LineUpload(Upload):
    """Takes the one file of a form that holds a line; its ending helps to tell what it is."""

    fields = ("file",)
    remedy = "Send one file as 'file'; zip a shapefile with its parts."

    def _place(self, field: str, given: str) -> Path:
        self.name, self._left = _names(given)[0], -1
        self.file = self.folder / _line_name(self.name)
        return self.file


def _line_name(given: str) -> str:
    """Return a safe name for a line's file that keeps the client's words and a plain ending."""
    stem, dot, ending = given.rpartition(".")
    ending = re.sub(r"[^a-z0-9]", "", ending.lower())[:10] if dot else ""
    return f"{file_stem(stem if dot else given)}.{ending or 'line'}"


def _names(given: str) -> tuple[str, str]:
    """Return a terrain's name and its file's suffix from the client's name for the file."""
    name = re.sub(r"[\x00-\x1f\x7f]", "", given).replace("\\", "/").split("/")[-1].strip()
    suffix = name.rpartition(".")[2].lower()
    return name[-120:] or "terrain", SUFFIXES.get(suffix, "raster")


async def receive_upload(request: Request, folder: Path, max_bytes: int) -> tuple[Path, str]:
    """Write the parts ``file`` and ``prj`` of a multipart request into ``folder``.

    Returns the raster's path and the client's name for it. Bytes are counted as they arrive,
    whatever the header says; the caller removes the folder when this raises.
    """
    return await _received(request, Upload, folder, max_bytes)


async def receive_file(request: Request, folder: Path, max_bytes: int) -> tuple[Path, str]:
    """Write the file of a request that holds a line into ``folder``: a form's, or the body itself.

    Returns its path and the client's name for it.
    """
    kind, _ = parse_options_header(request.headers.get("content-type"))
    if kind == b"multipart/form-data":
        return await _received(request, LineUpload, folder, max_bytes)
    path = folder / "line.line"
    body = await request.body()
    _check_size(len(body), max_bytes)
    if not body:
        raise BadUpload("The body is empty.", LineUpload.remedy)
    await run_in_threadpool(path.write_bytes, body)
    return path, "line"


async def _received(
    request: Request, taker: type[Upload], folder: Path, max_bytes: int
) -> tuple[Path, str]:
    kind, options = parse_options_header(request.headers.get("content-type"))
    boundary = options.get(b"boundary")
    if kind != b"multipart/form-data" or not boundary:
        raise WrongMedia("The body is not a multipart form.", taker.remedy)
    announced = request.headers.get("content-length", "")
    taken = int(announced) if announced.isdecimal() else 0
    _check_size(taken, max_bytes)
    taken = looked = 0
    room = request.app.state.service.storage.room
    upload: Upload | None = None
    try:
        upload = taker(folder, boundary)
        async for chunk in request.stream():
            taken += len(chunk)
            _check_size(taken, max_bytes)
            if taken - looked > LOOK_BYTES:  # others write too, and no length need be announced
                looked = taken
                await run_in_threadpool(room.check)
            await run_in_threadpool(upload.write, chunk)
    except FormParserError as exc:
        raise BadUpload(
            "The multipart form is damaged or was cut off.", "Send the file again."
        ) from exc
    finally:
        if upload is not None:
            upload.close()
    if upload.file is None or not upload.complete:
        raise BadUpload("The form has no whole file in the field 'file'.", taker.remedy)
    return upload.file, upload.name


def _check_size(count: int, max_bytes: int) -> None:
    if count > max_bytes:
        raise TooLarge(
            f"The upload is larger than the {max_bytes} bytes allowed.",
            "Send less of it, or have the operator raise LEATLINE_MAX_UPLOAD_BYTES (a raster) or "
            "LEATLINE_MAX_BODY_BYTES (a line).",
        )
