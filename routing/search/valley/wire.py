"""Batches and their candidates as they cross to another machine: in few arrays and few bytes.

What comes out is what went in, to the last bit. A chain goes from cell to neighbouring cell, so
that it travels as its first cell and a step for each further one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from routing.arrays import FloatArray, IntArray, frozen
from routing.search.valley.batch import Batch, Task, run_batch
from routing.search.valley.chain import Rated
from routing.search.valley.places import Chains

__all__ = ["Pack", "Reply", "batches_in", "pack_of", "rated_in", "reply_of", "run_pack"]

_ROW = np.dtype(
    [
        (name, "f8" if name in ("score", "cost", "power_kw", "head_m", "length_m") else "i4")
        for name in Rated._fields
    ]
)
"""A candidate on the way."""


class Pack(NamedTuple):
    """Some batches in one: ``chains`` is how many each has, ``cells`` how many each chain has.

    ``row`` and ``col`` are the first cell of each chain, the steps lead from each cell to the next,
    0 to the first of a chain.
    """

    number: IntArray
    chains: IntArray
    cells: IntArray
    row: IntArray
    col: IntArray
    row_step: NDArray[Any]
    col_step: NDArray[Any]
    along_m: FloatArray
    stop: NDArray[np.uint8]
    area_m2: FloatArray
    flow_m3_s: FloatArray


class Reply(NamedTuple):
    """The candidates of some batches in one table; ``sizes`` is how many each has."""

    number: IntArray
    sizes: IntArray
    rows: NDArray[Any]


def pack_of(batches: Sequence[Batch]) -> Pack:
    """Return batches as one pack; at least one."""
    chains = [batch.chains for batch in batches]
    cells = np.concatenate([np.diff(each.first) for each in chains])
    first = np.concatenate([[0], np.cumsum(cells)])[:-1]
    row, col = (np.concatenate([getattr(each, name) for each in chains]) for name in ("row", "col"))
    return Pack(
        number=np.array([batch.number for batch in batches], dtype=np.int64),
        chains=np.array([each.count for each in chains], dtype=np.int64),
        cells=cells,
        row=row[first],
        col=col[first],
        row_step=_steps(row, first),
        col_step=_steps(col, first),
        along_m=np.concatenate([each.along_m for each in chains]),
        stop=np.packbits(np.concatenate([each.stop for each in chains]).astype(np.bool_)),
        area_m2=np.concatenate([each.area_m2 for each in chains]),
        flow_m3_s=np.concatenate([batch.flow_m3_s for batch in batches]),
    )


def batches_in(pack: Pack) -> Iterator[Batch]:
    """Yield the batches of a pack."""
    first = np.concatenate([[0], np.cumsum(pack.cells)])
    whole = Chains(
        first=frozen(first, np.int64),
        row=frozen(_walked(pack.row, pack.row_step, first), np.int64),
        col=frozen(_walked(pack.col, pack.col_step, first), np.int64),
        along_m=frozen(pack.along_m),
        stop=frozen(np.unpackbits(pack.stop, count=int(first[-1])), np.int64),
        area_m2=frozen(pack.area_m2),
    )
    end = 0
    for number, count in zip(pack.number.tolist(), pack.chains.tolist(), strict=True):
        start, end = end, end + count
        chains = whole.part(start, end)
        yield Batch(number=number, chains=chains, flow_m3_s=pack.flow_m3_s[start:end])


def reply_of(found: Sequence[tuple[int, Rated]]) -> Reply:
    """Return the candidates of batches, each with its number, as one table."""
    sizes = np.array([rated.score.size for _, rated in found], dtype=np.int64)
    rows = np.empty(int(sizes.sum()), dtype=_ROW)
    for name in Rated._fields:
        rows[name] = np.concatenate([getattr(rated, name) for _, rated in found])
    return Reply(np.array([number for number, _ in found], dtype=np.int64), sizes, rows)


def rated_in(reply: Reply) -> Iterator[tuple[int, Rated]]:
    """Yield the number and the candidates of each batch of a reply."""
    ends = np.cumsum(reply.sizes).tolist()
    for number, count, end in zip(reply.number.tolist(), reply.sizes.tolist(), ends, strict=True):
        rows = reply.rows[end - count : end]
        yield number, Rated(**{name: rows[name].astype(_held(name)) for name in Rated._fields})


def run_pack(task: Task, pack: Pack) -> Reply:
    """Return the candidates of the batches of a pack; done by a worker."""
    return reply_of([(batch.number, run_batch(task, batch)) for batch in batches_in(pack)])


def _held(name: str) -> type[np.generic]:
    """Return what a column of candidates holds here, whatever it holds on the way."""
    return np.float64 if _ROW[name].kind == "f" else np.int64


def _steps(at: IntArray, first: IntArray) -> NDArray[Any]:
    """Return the step to each cell from the one before, in the fewest bytes that hold them all."""
    step = np.diff(at, prepend=at[:1])
    step[first] = 0
    fits = np.result_type(np.min_scalar_type(step.min()), np.min_scalar_type(step.max()))
    return step.astype(fits)


def _walked(start: IntArray, step: NDArray[Any], first: IntArray) -> IntArray:
    """Return rows or columns from the first of each chain and the steps after it."""
    way = np.cumsum(step, dtype=np.int64)
    found: IntArray = way + np.repeat(start - way[first[:-1]], np.diff(first))
    return found
