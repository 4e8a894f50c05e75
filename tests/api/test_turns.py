"""Turns at heavy work by themselves, without a service."""

from __future__ import annotations

import asyncio

import pytest
from own_loop import run_alone

from api.errors import Busy
from api.turns import Turns


def test_turns__short_work_passes_long_and_none_waits_for_ever() -> None:
    async def run() -> list[str]:
        turns, done = Turns(at_once=1, each=10, in_all=40), []

        async def work(client: str, seconds: float, name: str) -> None:
            async with turns.turn(client, seconds):
                done.append(name)
                await asyncio.sleep(0)

        await turns.take("first", 1.0)
        tasks = [asyncio.create_task(work("a", 2.0, f"long {n}")) for n in range(3)]
        await asyncio.sleep(0)
        tasks += [asyncio.create_task(work("b", 2.0, "other's long"))]
        tasks += [asyncio.create_task(work("a", 0.01, "short"))]
        await asyncio.sleep(0)
        turns.leave()
        await asyncio.gather(*tasks)
        return done

    assert run_alone(run()) == ["short", "long 0", "other's long", "long 1", "long 2"]


@pytest.mark.parametrize("newest", [True, False])
def test_turns__one_client_waits_so_often(newest: bool) -> None:
    async def run() -> tuple[list[bool], bool]:
        turns = Turns(at_once=1, each=2, in_all=10, newest=newest)
        await turns.take("a", 0.1)
        tasks = [asyncio.create_task(turns.take("a", 0.1)) for _ in range(3)]
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        refused = [task.done() and isinstance(task.exception(), Busy) for task in tasks]
        other = asyncio.create_task(turns.take("b", 0.1))
        await asyncio.sleep(0)
        waits = not other.done()
        for task in (*tasks, other):
            task.cancel()
        await asyncio.gather(*tasks, other, return_exceptions=True)
        return refused, waits

    refused, waits = run_alone(run())
    assert refused == ([True, False, False] if newest else [False, False, True])
    assert waits


def test_turns__in_all_so_many() -> None:
    async def run() -> None:
        turns = Turns(at_once=1, each=5, in_all=2)
        await turns.take("a", 0.1)
        tasks = [asyncio.create_task(turns.take(name, 0.1)) for name in "bc"]
        await asyncio.sleep(0)
        with pytest.raises(Busy):
            await turns.take("d", 0.1)
        assert turns.waiting == 2
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        assert turns.waiting == 0

    run_alone(run())


def test_turns__who_goes_away_holds_none() -> None:
    async def run() -> None:
        turns = Turns(at_once=1, each=5, in_all=9)
        await turns.take("a", 0.1)
        gone, stays = (asyncio.create_task(turns.take(name, 0.1)) for name in "bc")
        await asyncio.sleep(0)
        turns.leave()  # b has the turn, and goes before it learns so
        gone.cancel()
        await asyncio.wait_for(stays, 1.0)
        turns.leave()
        await asyncio.wait_for(turns.take("d", 0.1), 1.0)

    run_alone(run())


@pytest.mark.parametrize(("came_s", "first"), [(9.85, "short"), (9.95, "long")])
def test_turns__work_waits_ten_times_its_own_length(came_s: float, first: str) -> None:
    # Long work of 1 s that came at 0 is due at 10 s, short work of 0.01 s a tenth after it came.
    async def run() -> list[str]:
        loop, now = asyncio.get_running_loop(), 0.0
        turns, done = Turns(at_once=1, each=10, in_all=40), []

        async def work(seconds: float, name: str) -> None:
            async with turns.turn(name, seconds):
                done.append(name)

        loop.time = lambda: now  # type: ignore[method-assign]
        await turns.take("first", 1.0)
        long = asyncio.create_task(work(1.0, "long"))
        await asyncio.sleep(0)
        now = came_s
        short = asyncio.create_task(work(0.01, "short"))
        await asyncio.sleep(0)
        turns.leave()
        await asyncio.gather(long, short)
        return done

    assert run_alone(run())[0] == first
