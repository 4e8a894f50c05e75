"""The same screening on an existing Dask cluster: batches go to its workers, results come back.

Needs the extra ``leatline[cluster]``. Workers open the terrain themselves, from the same paths; a
batch whose worker dies is given to another one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from routing import __version__
from routing.errors import InputError
from routing.search.valley.batch import Batch, Task
from routing.search.valley.chain import Rated
from routing.search.valley.wire import pack_of, rated_in, run_pack

__all__ = ["check_versions", "connected", "on_cluster", "packed"]

CONNECT = "20s"
DEATHS = 10
"""Workers that may die with one batch before it counts as the batch's own doing [-]."""
MOST_AT_A_TIME = 32
"""Most batches that a worker is handed at a time: 0.15 s of work, beside 2 ms for the hand-over."""
SHARE = 2
"""A pack is at the most one part in so many of what is left to each worker [-]."""


def on_cluster(address: str, task: Task, batches: Sequence[Batch]) -> Iterator[tuple[int, Rated]]:
    """Yield the number and the candidates of each batch as workers finish them.

    Parameters
    ----------
    address : str
        That of the scheduler, such as "tcp://10.0.0.5:8786"
    task : Task
        What is screened
    batches : sequence of Batch
        All that is still to do

    Yields
    ------
    number, rated
        In any order

    Raises
    ------
    InputError
        If Dask is not installed, nobody answers there, no worker is there, or one has another
        version.
    """
    with connected(address) as client:
        from distributed import as_completed

        kept = client.scatter(task, broadcast=True, hash=False)
        packs = map(pack_of, packed(batches, sum(client.nthreads().values())))
        # All are queued at once, so that no worker waits for the next.
        futures = [client.submit(run_pack, kept, pack, pure=False, retries=2) for pack in packs]
        for future, done in as_completed(futures, with_results=True, loop=client.loop):
            yield from rated_in(done)
            future.release()


def packed(batches: Sequence[Batch], workers: int) -> list[Sequence[Batch]]:
    """Return batches in packs to hand over, ever smaller ones towards the end."""
    packs, at = [], 0
    while at < len(batches):
        share = (len(batches) - at) // (max(workers, 1) * SHARE)
        size = min(max(share, 1), MOST_AT_A_TIME)
        packs.append(batches[at : at + size])
        at += size
    return packs


def connected(address: str) -> Any:
    """Return a client of the cluster whose scheduler listens there, once it is found fit."""
    try:
        import dask
        from distributed import Client
    except ImportError as exc:
        raise InputError(
            "A Dask scheduler was named, and Dask is not installed.",
            "Install it with: pip install leatline[cluster].",
        ) from exc
    dask.config.set({"distributed.scheduler.allowed-failures": DEATHS})
    try:
        client = Client(address, timeout=CONNECT, set_as_default=False)
    except (OSError, ValueError) as exc:
        raise InputError(
            f"No Dask scheduler answers at {address}.",
            "Check the address, as in tcp://10.0.0.5:8786, and that it runs.",
        ) from exc
    try:
        check_versions(client.run(worker_version))
    except InputError:
        client.close()
        raise
    return client


def worker_version() -> str:
    """Return the version of a worker; run by the worker."""
    return __version__


def check_versions(found: Mapping[str, str]) -> None:
    """Refuse a cluster without workers, or with a worker of another version."""
    if not found:
        raise InputError(
            "The Dask scheduler has no worker.",
            "Start workers with Leatline installed, of the same version as here.",
        )
    other = {where: version for where, version in found.items() if version != __version__}
    if other:
        where, version = next(iter(sorted(other.items())))
        raise InputError(
            f"The worker at {where} has Leatline {version}, here is {__version__}.",
            "Give all workers the same version.",
        )
