"""Reduced copies against plain means."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from routing.terrain import open_terrain
from routing.terrain import reduced as room
from routing.terrain.reduced import (
    draft_copy,
    read_reduced,
    reduced_copies,
    saved_copies,
    write_copies,
)


def values(rows: int = 150, cols: int = 210) -> np.ndarray:
    field = np.random.default_rng(5).normal(500.0, 60.0, (rows, cols)).astype(np.float32)
    field[20:40, 30:50] = np.nan
    field[100, ::3] = np.nan
    return field


def plain_means(field: np.ndarray, factor: int) -> np.ndarray:
    rows, cols = (side // factor for side in field.shape)
    blocks = field[: rows * factor, : cols * factor].astype(np.float64)
    blocks = blocks.reshape(rows, factor, cols, factor)
    known = np.isfinite(blocks)
    count = known.sum(axis=(1, 3))
    total = np.where(known, blocks, 0.0).sum(axis=(1, 3))
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def test_reduced_copies__first_is_the_mean_of_squares(make_raster: Callable) -> None:
    field = values()
    terrain = open_terrain([make_raster(field, nodata=np.nan, tiled=True)])
    first = reduced_copies(terrain)[0]
    np.testing.assert_allclose(first.heights, plain_means(field, 4), rtol=1e-6)


@pytest.mark.parametrize("factor", [1, 2, 4, 8, 16])
def test_read_reduced__a_box_is_part_of_the_whole(make_raster: Callable, factor: int) -> None:
    field = values()
    field[np.isnan(field)] = 400.0  # means of means are means where nothing is missing
    terrain = open_terrain([make_raster(field)])
    copies = reduced_copies(terrain)
    box = (1, 150 // factor - 1, 2, 210 // factor)
    part = read_reduced(terrain, copies, factor, box)
    whole = plain_means(field, factor)
    np.testing.assert_allclose(part, whole[box[0] : box[1], box[2] : box[3]], rtol=1e-5)


def test_write_copies__mapped_files_are_the_copies(make_raster: Callable, tmp_path: Path) -> None:
    terrain = open_terrain([make_raster(values(), nodata=np.nan)])
    folder = tmp_path / "reduced"
    assert saved_copies(terrain, folder) is None
    written = write_copies(terrain, folder)
    for ours, memory in zip(written, reduced_copies(terrain), strict=True):
        assert isinstance(ours.heights, np.memmap)
        np.testing.assert_array_equal(ours.heights, memory.heights)
    assert [path.suffix for path in folder.iterdir()] == [".npy"] * len(written)


@pytest.mark.parametrize("damage", [b"", b"\x93NUMPY", b"not at all"])
def test_saved_copies__damaged_ones_do_not_count(
    make_raster: Callable, tmp_path: Path, damage: bytes
) -> None:
    terrain = open_terrain([make_raster(values())])
    write_copies(terrain, tmp_path / "reduced")
    next(iter((tmp_path / "reduced").iterdir())).write_bytes(damage)
    assert saved_copies(terrain, tmp_path / "reduced") is None


def test_write_copies__a_fault_leaves_no_file(
    make_raster: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    terrain = open_terrain([make_raster(values())])

    def fail(*_: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(room, "_fill", fail)
    with pytest.raises(OSError, match="disk full"):
        write_copies(terrain, tmp_path / "reduced")
    assert list((tmp_path / "reduced").iterdir()) == []


def test_draft_copy__samples_lie_in_the_middle_of_their_squares(make_raster: Callable) -> None:
    row, col = np.mgrid[0:256, 0:320]
    terrain = open_terrain([make_raster(2.0 * row + 3.0 * col, tiled=True)])
    draft = draft_copy(terrain)
    i, j = np.mgrid[0 : draft.heights.shape[0], 0 : draft.heights.shape[1]]
    half = draft.factor // 2
    expected = 2.0 * (i * draft.factor + half) + 3.0 * (j * draft.factor + half)
    np.testing.assert_allclose(draft.heights, expected)
    assert draft.draft


def test_reduced_copies__feet_stay_in_the_raster_own_unit(make_raster: Callable) -> None:
    terrain = open_terrain([make_raster(np.full((40, 40), 100.0), unit="ft")])
    assert terrain.metres_per_unit == pytest.approx(0.3048)
    np.testing.assert_allclose(reduced_copies(terrain)[0].heights, 100.0)


@pytest.mark.parametrize("box", [(0, 150, 0, 210), (17, 149, 3, 200), (63, 65, 0, 1)])
@pytest.mark.parametrize("tiled", [True, False])
def test_read_cells__piece_by_piece_as_whole(
    make_raster: Callable, monkeypatch: pytest.MonkeyPatch, tiled: bool, box: tuple
) -> None:
    field = values()
    terrain = open_terrain([make_raster(field, nodata=np.nan, tiled=tiled)])
    monkeypatch.setattr(room, "PIECE_CELLS", 3000)
    top, bottom, left, right = box
    found = room.read_cells(terrain, *box)
    np.testing.assert_array_equal(found, field[top:bottom, left:right])


def test_read_cells__needs_little_more_than_what_it_returns(make_raster: Callable) -> None:
    field = np.random.default_rng(1).normal(500.0, 60.0, (3000, 1500)).astype(np.float32)
    terrain = open_terrain([make_raster(field, tiled=True)])
    tracemalloc.start()
    try:
        found = room.read_cells(terrain, 0, 3000, 0, 1500)
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    # A piece: as read, as float64 twice, and what is missing; a block's height of it beside.
    assert most < found.nbytes + 30 * (room.PIECE_CELLS + 256 * 1500)
    assert np.array_equal(found, field)
