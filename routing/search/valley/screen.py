"""A whole valley screened: streams, chains of places, batches of candidates, ranking, check."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path
from time import monotonic

import numpy as np

from routing.arrays import FloatArray
from routing.catchment import StreamNetwork, drain, stream_network
from routing.errors import InputError
from routing.search.prices import PriceBook, classes_of, price_book
from routing.search.valley.batch import Batch, Task, run_batch
from routing.search.valley.chain import Rated
from routing.search.valley.cluster import on_cluster
from routing.search.valley.land import near_road
from routing.search.valley.places import Chains, chains_of
from routing.search.valley.purse import rank_of
from routing.search.valley.rank import Checked, best_apart, checked
from routing.settings import Settings
from routing.study import open_study_terrain
from routing.terrain import Terrain
from routing.value import dataclass

__all__ = ["BATCH", "Screened", "screen_valley"]

BATCH = 1000
"""Candidates of a batch, about [-]."""
LEAST_SPACING_M = 40.0
"""Least usual distance of neighbouring places along a stream [m]."""
SPACING_CELLS = 4.0
"""The same in cells of the raster [-]."""

Report = Callable[[float, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Screened:
    """What a screening found.

    ``rated`` are all candidates that keep to the limits, in order of their intakes, ``best`` the
    numbers of those to show, the best first.
    """

    terrain: Terrain
    settings: Settings
    book: PriceBook
    network: StreamNetwork
    chains: Chains
    flow_m3_s: FloatArray
    rated: Rated
    best: Sequence[int]
    checked: Checked
    ranked_by: str
    looked_at: int
    seconds: float


def screen_valley(
    paths: Sequence[Path],
    settings: Settings,
    *,
    parts: Path | None = None,
    scheduler: str | None = None,
    report: Report | None = None,
    workers: int | None = None,
) -> Screened:
    """Screen all pairs of intake and powerhouse places along the streams of a terrain.

    Parameters
    ----------
    paths : sequence of Path
        The raster or its tiles
    settings : Settings
        What is asked; [screen] has the limits
    parts : Path, optional
        Folder in which finished batches are kept, so that a screening that was stopped goes on
    scheduler : str, optional
        Address of a Dask scheduler; without it this machine's cores do the work
    report : callable, optional
        Is told how far the work is
    workers : int, optional
        Threads on this machine; all cores unless given [-]

    Returns
    -------
    Screened
        Candidates in order, and how well the order agrees with full studies

    Raises
    ------
    InputError
        If there are no streams, or no candidate within the limits.
    """
    say = report or (lambda _share, _doing: None)
    classes = classes_of(each.layer for each in settings.layer)
    book = price_book(settings.prices, settings.energy, classes)
    ranked_by = rank_of(settings, book)
    terrain = open_study_terrain(paths, settings)
    say(0.01, "following the water")
    network = stream_network(drain(terrain), settings.catchment.threshold)
    say(0.08, "placing intakes along the streams")
    spacing = settings.screen.spacing or max(LEAST_SPACING_M, SPACING_CELLS * terrain.cell_m)
    chains = chains_of(network, spacing, settings.screen.most_length)
    if not chains.candidates:
        raise InputError(
            "The terrain has no stream with places for intake and powerhouse.",
            "Lower threshold under [catchment] or spacing under [screen], or give a larger raster.",
        )
    flow = _flows(settings, chains)
    chains, flow = _enough_water(settings, chains, flow)
    chains = near_road(chains, terrain, settings)
    task = Task(
        paths=tuple(str(Path(path).absolute()) for path in paths),
        tables=json.dumps(dict(settings.given), sort_keys=True),
    )
    batches = list(_batches(chains, flow))
    start = monotonic()
    done = _all(task, batches, parts, scheduler, workers, say)
    seconds = monotonic() - start
    rated = _joined(batches, done)
    if not rated.score.size:
        if parts is not None:  # all is done, and nothing of it is of use
            shutil.rmtree(parts, ignore_errors=True)
        raise InputError(
            f"None of {chains.candidates} candidates keeps to the limits.",
            "Lower least_head or raise most_length under [screen], or give other pipes.",
        )
    say(0.7, "ranking")
    best = best_apart(rated, chains, terrain, settings.screen.apart, settings.screen.shown)
    return Screened(
        terrain=terrain,
        settings=settings,
        book=book,
        network=network,
        chains=chains,
        flow_m3_s=flow,
        rated=rated,
        best=best,
        checked=checked(terrain, settings, book, chains, flow, rated, say),
        ranked_by=ranked_by,
        looked_at=chains.candidates,
        seconds=seconds,
    )


def _flows(settings: Settings, chains: Chains) -> FloatArray:
    """Return the design flow at each intake: as given, else by its catchment, else 0 [m3/s]."""
    if settings.flow.design is not None:
        return np.full(chains.count, settings.flow.design)
    specific = settings.catchment.specific_yield
    if specific is None:
        return np.zeros(chains.count)
    mean = specific * chains.area_m2 - (settings.intake.residual or 0.0)
    return np.maximum(mean * settings.screen.flow_share, 0.0)


def _enough_water(
    settings: Settings, chains: Chains, flow: FloatArray
) -> tuple[Chains, FloatArray]:
    """Return the chains whose intake gives the least flow."""
    least = settings.screen.least_flow or 0.0
    known = settings.flow.design is not None or settings.catchment.specific_yield is not None
    good = np.flatnonzero((flow > 0.0) & (flow >= least)) if known else np.arange(chains.count)
    if not good.size:
        raise InputError(
            f"No intake gives the least flow of {least * 1000.0:g} L/s.",
            "Lower least_flow under [screen], or check specific_yield under [catchment].",
        )
    return chains.chosen(good), flow[good]


def _batches(chains: Chains, flow: FloatArray) -> Iterator[Batch]:
    """Yield pieces of about so many candidates."""
    total = np.concatenate([[0], np.cumsum(chains.stop)])[chains.first]
    cuts = np.searchsorted(total, np.arange(0, total[-1], BATCH), side="left")
    cuts = np.unique(np.append(cuts, chains.count))
    for number, (a, b) in enumerate(zip(cuts[:-1].tolist(), cuts[1:].tolist(), strict=True)):
        yield Batch(number=number, chains=chains.part(a, b), flow_m3_s=flow[a:b])


def _all(
    task: Task,
    batches: Sequence[Batch],
    parts: Path | None,
    scheduler: str | None,
    workers: int | None,
    say: Report,
) -> dict[int, Rated]:
    """Return the candidates of all batches, those kept by an earlier run first."""
    done = {}
    if parts is not None:
        for batch in batches:
            kept = _read_part(parts, batch.number)
            if kept is not None:
                done[batch.number] = kept
    left = [batch for batch in batches if batch.number not in done]
    run = _locally(task, left, workers) if scheduler is None else on_cluster(scheduler, task, left)
    begun, before = monotonic(), len(done)
    for number, rated in run:
        done[number] = rated
        if parts is not None:
            _write_part(parts, number, rated)
        share = len(done) / len(batches)
        rest = (monotonic() - begun) / (len(done) - before) * (len(batches) - len(done))
        say(0.1 + 0.6 * share, f"screening, {100 * share:.0f} % of the pairs, {rest:.0f} s left")
    return done


def _locally(
    task: Task, batches: Iterable[Batch], workers: int | None
) -> Iterator[tuple[int, Rated]]:
    """Yield the candidates of batches worked on by this machine's cores, in threads.

    The loops are free of the interpreter's lock.
    """
    pool = ThreadPoolExecutor(workers or os.cpu_count())
    try:
        waiting = {pool.submit(run_batch, task, batch): batch.number for batch in batches}
        for future in as_completed(waiting):
            yield waiting[future], future.result()
    finally:  # whoever was stopped does not wait for the rest
        pool.shutdown(cancel_futures=True)


def _joined(batches: Sequence[Batch], done: dict[int, Rated]) -> Rated:
    """Return all candidates as one, their numbers those of the whole set of chains."""
    columns: dict[str, list[np.ndarray]] = {each: [] for each in Rated._fields}
    intakes = cells = 0
    for batch in batches:
        for name, values in done[batch.number]._asdict().items():
            shift = {"intake": intakes, "stop": cells}.get(name, 0)
            columns[name].append(values + shift)
        intakes += batch.chains.count
        cells += int(batch.chains.first[-1])
    return Rated(**{name: np.concatenate(values) for name, values in columns.items()})


def _part(parts: Path, number: int) -> Path:
    return parts / f"{number:07d}.npz"


def _read_part(parts: Path, number: int) -> Rated | None:
    """Return a batch that an earlier run finished; None where it cannot be read."""
    try:
        with np.load(_part(parts, number), allow_pickle=False) as held:
            return Rated(**{name: held[name] for name in Rated._fields})
    except (OSError, ValueError, KeyError):
        return None


def _write_part(parts: Path, number: int, rated: Rated) -> None:
    """Keep a finished batch, whole or not at all; the first one makes the folder."""
    parts.mkdir(parents=True, exist_ok=True)
    draft = parts / f".{number:07d}.npz"
    with draft.open("wb") as stream:
        np.savez(stream, **rated._asdict())
    draft.replace(_part(parts, number))
