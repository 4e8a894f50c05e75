"""Terrains made ready for tiles, and the tiles made last.

The copies of a small terrain are made at the first question. Those of a large one are made once, in
the background, and kept beside it; until then views of all of it come from a few samples, so that a
raster of a gigabyte opens as fast as a small one.
"""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from routing.errors import LeatlineError
from routing.terrain import Terrain
from routing.terrain.map_tile import TileSource, tile_source
from routing.terrain.reduced import (
    draft_copy,
    is_large,
    reduced_copies,
    saved_copies,
    write_copies,
)

__all__ = ["ReliefStore"]

MAX_SOURCES = 16
"""Terrains kept ready [-]."""

log = logging.getLogger("leatline")


class ReliefStore:
    """Sources of tiles by terrain, and tiles by address; safe for threads."""

    def __init__(self, max_bytes: int) -> None:
        self._max_bytes = max_bytes
        self._lock = threading.Lock()
        self._making: dict[Hashable, threading.Lock] = {}
        self._sources: OrderedDict[Hashable, TileSource] = OrderedDict()
        self._tiles: OrderedDict[Hashable, bytes | None] = OrderedDict()
        self._bytes = 0
        self._building: set[tuple[Path, int]] = set()
        self._given_up: set[tuple[Path, int]] = set()
        self._builder = ThreadPoolExecutor(1, thread_name_prefix="leatline-relief")
        self._closed = threading.Event()

    def close(self) -> None:
        """Take on no more work; a copy that is being made is finished or left out whole."""
        self._closed.set()
        self._builder.shutdown(wait=False, cancel_futures=True)

    def source(self, key: Hashable, open_it: Callable[[], Terrain], folder: Path) -> TileSource:
        """Return a terrain's source; ``folder`` is where copies of a large one are kept."""
        with self._lock:
            known = self._known(key, folder)
            if known is not None:
                self._sources.move_to_end(key)
                return known
            making = self._making.setdefault(key, threading.Lock())
        with making:
            with self._lock:
                known = self._known(key, folder)
            if known is None:
                known = self._make(key, open_it(), folder)
        with self._lock:
            self._making.pop(key, None)
        return known

    def _known(self, key: Hashable, folder: Path) -> TileSource | None:
        """Return a source that is kept, unless it is a draft whose copies are there by now."""
        known = self._sources.get(key)
        if known is None or not known.draft:
            return known
        place = _place(known.terrain, folder)
        return known if place in self._building | self._given_up else None

    def _make(self, key: Hashable, terrain: Terrain, folder: Path) -> TileSource:
        if not is_large(terrain):
            return self._keep(key, tile_source(terrain, reduced_copies(terrain)))
        saved = saved_copies(terrain, folder)
        if saved is not None:
            return self._keep(key, tile_source(terrain, saved))
        place = _place(terrain, folder)
        with self._lock:
            fresh = place not in self._building | self._given_up and not self._closed.is_set()
            if fresh:
                self._building.add(place)
        if fresh:
            self._builder.submit(self._build, key, terrain, folder)
        return self._keep(key, tile_source(terrain, (draft_copy(terrain),)), draft=True)

    def _build(self, key: Hashable, terrain: Terrain, folder: Path) -> None:
        """Make the copies of a large terrain, then let them take the place of the draft."""
        try:
            self._keep(key, tile_source(terrain, write_copies(terrain, folder)))
        except (LeatlineError, OSError) as exc:  # deleted meanwhile, disk full: the draft stays
            log.warning("no reduced copies of %s: %s", folder.name, exc)
            self._given_up.add(_place(terrain, folder))
        finally:
            with self._lock:
                self._building.discard(_place(terrain, folder))

    def _keep(self, key: Hashable, source: TileSource, *, draft: bool = False) -> TileSource:
        with self._lock:
            known = self._sources.get(key)
            if draft and known is not None:  # the copies were faster
                return known
            self._sources[key] = source
            while len(self._sources) > MAX_SOURCES:
                self._sources.popitem(last=False)
        return source

    def tile(self, key: Hashable, make: Callable[[], bytes | None]) -> bytes | None:
        """Return a tile, from memory where it was made before."""
        with self._lock:
            if key in self._tiles:
                self._tiles.move_to_end(key)
                return self._tiles[key]
        made = make()
        with self._lock:
            if key not in self._tiles:
                self._tiles[key] = made
                self._bytes += len(made or b"") + 200
                while self._bytes > self._max_bytes and self._tiles:
                    _, gone = self._tiles.popitem(last=False)
                    self._bytes -= len(gone or b"") + 200
        return made


def _place(terrain: Terrain, folder: Path) -> tuple[Path, int]:
    """Return what the copies of a terrain hang on, however its numbers are understood."""
    return folder, terrain.tiles[0].band
