"""A piece of a screening that stands on its own: chains, flows, and where the terrain lies.

It crosses to threads, processes and other machines; whoever takes it opens the terrain himself.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import field
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from routing import __version__
from routing.arrays import FloatArray, frozen
from routing.compiled import prefer_compiled
from routing.errors import InputError
from routing.search.grid import steps_m
from routing.search.valley.chain import Purse, Rated, rate_chains
from routing.search.valley.land import closed_cells, crossed_cells, dug_cells
from routing.search.valley.places import Chains
from routing.search.valley.purse import purse_of
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain
from routing.terrain import Terrain
from routing.terrain.reduced import read_cells
from routing.value import dataclass

__all__ = ["Batch", "Task", "open_task", "run_batch"]

MOST_WHOLE = 25_000_000
"""Cells up to which a worker keeps the whole raster, 100 MB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """What is screened: the terrain by its paths, the settings, the version that planned it."""

    paths: tuple[str, ...]
    tables: str
    """The settings as JSON, so that a task can be compared and kept."""
    version: str = __version__

    @property
    def settings(self) -> Mapping[str, Any]:
        """The settings' tables."""
        found: dict[str, Any] = json.loads(self.tables)
        return found

    def digest(self) -> str:
        """Return a short name of this task, other where raster, settings or version are."""
        told = [self.tables, self.version]
        for path in self.paths:
            about = Path(path).stat()
            told.append(f"{path} {about.st_size} {about.st_mtime_ns}")
        return hashlib.sha256("\n".join(told).encode()).hexdigest()[:12]


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Some chains with the design flow at each intake [m3/s]."""

    number: int
    chains: Chains
    flow_m3_s: FloatArray = field(repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "flow_m3_s", frozen(self.flow_m3_s))


@lru_cache(maxsize=2)
def open_task(task: Task) -> tuple[Terrain, Purse, tuple[float, float]]:
    """Return terrain, purse and the distances of rows and columns of a task, kept by the worker."""
    prefer_compiled()
    settings = settings_from_mapping(task.settings)
    terrain = open_study_terrain([Path(path) for path in task.paths], settings)
    rows, cols = terrain.shape
    return terrain, purse_of(settings), steps_m(terrain.reference, rows / 2.0, cols / 2.0)


@lru_cache(maxsize=1)
def _whole(task: Task) -> NDArray[np.float32]:
    """Return all heights of a task's terrain [m]."""
    terrain, _, _ = open_task(task)
    return _heights(terrain, (0, terrain.shape[0], 0, terrain.shape[1]))


@lru_cache(maxsize=1)
def _whole_closed(task: Task) -> NDArray[np.uint8]:
    """Return the closed cells of a task's terrain."""
    terrain, _, _ = open_task(task)
    return closed_cells(
        terrain, settings_from_mapping(task.settings), (0, terrain.shape[0], 0, terrain.shape[1])
    )


@lru_cache(maxsize=1)
def _whole_dug(task: Task) -> NDArray[np.float32]:
    """Return what digging costs more in the cells of a task's terrain."""
    terrain, _, _ = open_task(task)
    return dug_cells(
        terrain, settings_from_mapping(task.settings), (0, terrain.shape[0], 0, terrain.shape[1])
    )


@lru_cache(maxsize=1)
def _whole_crossed(task: Task) -> NDArray[np.uint8]:
    """Return the kinds of land in the cells of a task's terrain."""
    terrain, _, _ = open_task(task)
    return crossed_cells(
        terrain, settings_from_mapping(task.settings), (0, terrain.shape[0], 0, terrain.shape[1])
    )


def _heights(terrain: Terrain, box: tuple[int, int, int, int]) -> NDArray[np.float32]:
    heights = read_cells(terrain, *box)
    heights *= np.float32(terrain.metres_per_unit)
    return heights


def run_batch(task: Task, batch: Batch) -> Rated:
    """Return the candidates of a batch; refused by a worker of another version."""
    if task.version != __version__:
        raise InputError(
            f"This worker has version {__version__}, the screening was planned by {task.version}.",
            "Give all workers the same version.",
        )
    terrain, purse, steps = open_task(task)
    chains = batch.chains
    if terrain.shape[0] * terrain.shape[1] <= MOST_WHOLE:
        whole = _whole(task), _whole_closed(task), steps, purse, chains, batch.flow_m3_s
        return rate_chains(*whole, _whole_dug(task), _whole_crossed(task))
    top, left = max(int(chains.row.min()) - 2, 0), max(int(chains.col.min()) - 2, 0)
    bottom = min(int(chains.row.max()) + 3, terrain.shape[0])
    right = min(int(chains.col.max()) + 3, terrain.shape[1])
    moved = Chains(
        first=chains.first,
        row=frozen(chains.row - top, np.int64),
        col=frozen(chains.col - left, np.int64),
        along_m=chains.along_m,
        stop=chains.stop,
        area_m2=chains.area_m2,
    )
    box = top, bottom, left, right
    settings = settings_from_mapping(task.settings)
    closed, dug = closed_cells(terrain, settings, box), dug_cells(terrain, settings, box)
    crossed = crossed_cells(terrain, settings, box)
    asked = closed, steps, purse, moved, batch.flow_m3_s, dug, crossed
    return rate_chains(_heights(terrain, box), *asked)
