"""Photographs in records: as a data address on the way, as a file of its own where it is kept."""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
from collections.abc import Sequence
from typing import Any

from routing.errors import InputError
from routing.value import dataclass

__all__ = ["PHOTO_NAME", "Photo", "photo_of", "photos_apart"]

_MEDIA = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}
PHOTO_NAME = re.compile(r"(?:photos/)?([0-9a-f]{32}\.(?:jpg|png|webp))")
"""What a photograph that is kept is called in a record: its address beside the records."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photograph: the name under which it is kept, made of its contents, and its bytes."""

    name: str
    data: bytes

    @property
    def media(self) -> str:
        """Return its media type."""
        ending = self.name.rpartition(".")[2]
        return next(media for media, known in _MEDIA.items() if known == ending)


def photo_of(text: str, where: str, most_bytes: int) -> Photo | None:
    """Return the photograph of a data address; None for the name of one that is kept already.

    Raises
    ------
    InputError
        If it is neither, no JPEG, PNG or WebP, or larger than ``most_bytes``.
    """
    if PHOTO_NAME.fullmatch(text):
        return None
    head, comma, body = text.partition(",")
    media = head.removeprefix("data:").removesuffix(";base64")
    if not comma or head != f"data:{media};base64" or media not in _MEDIA:
        raise InputError(
            f"{where}: the photograph begins {text[:40]!r}.",
            "Give a JPEG, PNG or WebP as data:image/jpeg;base64,...",
        )
    if len(body) * 3 // 4 > most_bytes + 2:
        raise InputError(
            f"{where}: the photograph has {len(body) * 3 / 4e6:.1f} MB; "
            f"{most_bytes / 1e6:.1f} MB are allowed.",
            "Take it in a lower resolution.",
        )
    try:
        data = base64.b64decode(body, validate=True)
    except (binascii.Error, ValueError) as exc:
        raise InputError(
            f"{where}: the photograph is damaged: {exc}.", "Take the file from the device again."
        ) from exc
    if not data:
        raise InputError(f"{where}: the photograph is empty.", "Leave it out, or take it again.")
    digest = hashlib.sha256(data).hexdigest()[:32]
    return Photo(name=f"{digest}.{_MEDIA[media]}", data=data)


def photos_apart(
    records: Sequence[dict[str, Any]], most_bytes: int
) -> tuple[list[dict[str, Any]], tuple[Photo, ...]]:
    """Return records that name their photographs, and the photographs that were in them."""
    found: list[dict[str, Any]] = []
    photos: dict[str, Photo] = {}
    for i, record in enumerate(records):
        text = record.get("photo")
        photo = None if text is None else photo_of(text, f"records[{i}]", most_bytes)
        if photo is not None:
            photos[photo.name] = photo
            record = {**record, "photo": f"photos/{photo.name}"}
        found.append(record)
    return found, tuple(photos.values())
