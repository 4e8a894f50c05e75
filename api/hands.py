"""Processes beside a serving one that do its heavy work, so that a drag has the interpreter.

A hand does one piece of work after another and keeps what it has read and compiled. One whose work
is given up is killed, and another is started when there is work for it. What crosses are requests
and answers as ASGI has them, paths, plain values and errors.
"""

from __future__ import annotations

import asyncio
import logging
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from contextlib import suppress
from contextvars import copy_context
from multiprocessing.connection import Connection
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope

from api.access.person import Person, acting, acts
from api.job_places import end_with_parent
from routing.compiled import prefer_compiled
from routing.errors import LeatlineError
from routing.value import dataclass

__all__ = ["Hands", "answered", "replay"]

Make = Callable[[], ASGIApp]
"""Makes what answers in a hand; it must pickle."""
CROSSING = (
    "type", "asgi", "http_version", "method", "scheme", "path", "raw_path", "query_string",
    "root_path", "headers", "client", "server",
)  # fmt: skip
"""Members of an ASGI scope that a hand needs."""
NICENESS = 2
"""Once there is nothing to compile, hands yield to who answers drags (nice(1), 0 to 19) [-]."""
log = logging.getLogger("leatline")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """A piece of work, for whom it is, and whether its loops are compiled yet."""

    person: Person
    function: Callable[..., Any]
    arguments: tuple[Any, ...]
    compiled: bool


class Hands:
    """The hands of one process; how many work at a time is bounded by the lanes before them."""

    def __init__(self) -> None:
        self.compiled = False
        """Whether the kernels are compiled; until then loops are interpreted."""
        self._make: Make | None = None
        self._idle: list[_Hand] = []
        self._all: set[_Hand] = set()

    def open(self, make: Make) -> None:
        """Say what answers requests there, and start the first hand."""
        self._make = make
        self._idle.append(self._start())

    @property
    def free(self) -> bool:
        """Whether one waits for work that has done some before, so that it begins at once."""
        return self.compiled and bool(self._idle)

    async def answer(self, scope: Scope, body: bytes) -> list[Message]:
        """Return all that answers a request; cancelled, the work ends."""
        crossing = {name: scope[name] for name in CROSSING if name in scope}
        answer: list[Message] = await self.do(_answer, crossing, body)
        return answer

    async def do(self, function: Callable[..., Any], *arguments: Any) -> Any:
        """Return what an importable function gives; cancelled, the work ends."""
        asked = _Asked(
            person=acting(), function=function, arguments=arguments, compiled=self.compiled
        )
        while True:
            hand, idle = self._take()
            try:
                outcome, value = await asyncio.to_thread(hand.ask, asked)
            except BaseException as exc:
                self._all.discard(hand)
                hand.kill()
                if idle and isinstance(exc, _NotBegunError):
                    continue  # it ended while it waited: nothing was done
                raise
            self._idle.append(hand)
            if outcome == "error":
                raise value
            return value

    def close(self) -> None:
        """End all hands."""
        for hand in self._all:
            hand.kill()
        for hand in self._all:
            hand.process.join()
        self._all.clear()

    def _take(self) -> tuple[_Hand, bool]:
        """Return a hand, and whether it was idle or is a new one."""
        while self._idle:
            hand = self._idle.pop()
            if hand.process.is_alive():
                return hand, True
            self._all.discard(hand)
        return self._start(), False

    def _start(self) -> _Hand:
        assert self._make is not None
        hand = _Hand(self._make)
        self._all.add(hand)
        return hand


class _NotBegunError(RuntimeError):
    """A process ended before it began with what it was asked."""


class _Hand:
    """One process and the pipe to it."""

    def __init__(self, make: Make) -> None:
        spawn = multiprocessing.get_context("spawn")
        self._pipe, theirs = spawn.Pipe()
        self.process = spawn.Process(
            target=_work, args=(theirs, make), name="leatline-hand", daemon=True
        )
        self.process.start()
        theirs.close()

    def ask(self, asked: _Asked) -> tuple[str, Any]:
        """Have work done; wait for its end."""
        begun = False
        try:
            self._pipe.send(asked)
            begun = self._pipe.recv()
            outcome: tuple[str, Any] = self._pipe.recv()
        except (EOFError, OSError) as exc:
            self._pipe.close()
            kind = RuntimeError if begun else _NotBegunError
            raise kind("The process that did the work has ended.") from exc
        return outcome

    def kill(self) -> None:
        """End it, whatever it does; who waits for it learns so."""
        self.process.kill()


class _Here:
    """What a hand has."""

    app: ASGIApp
    runner: asyncio.Runner


def _work(pipe: Connection, make: Make) -> None:
    """Run in a process of its own: do what comes until the other side goes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the serving process ends its hands
    threading.Thread(target=end_with_parent, daemon=True).start()
    with asyncio.Runner() as runner, suppress(EOFError, BrokenPipeError):
        _Here.app, _Here.runner = make(), runner
        compiled = False
        while True:
            asked = pipe.recv()
            pipe.send(True)  # from here on something may have been done
            if asked.compiled and not compiled:
                compiled = True
                prefer_compiled()
                if hasattr(os, "nice"):
                    os.nice(NICENESS)
            pipe.send(_outcome(asked))


def _outcome(asked: _Asked) -> tuple[str, Any]:
    try:
        with acts(asked.person):
            return "done", asked.function(*asked.arguments)
    except LeatlineError as exc:
        return "error", exc
    except Exception as exc:
        log.exception("fault while working on %s", asked.function.__name__)
        return "error", RuntimeError(f"{type(exc).__name__}: {exc}")


def _answer(scope: dict[str, Any], body: bytes) -> list[Message]:
    """Answer a request in a hand."""
    return _Here.runner.run(answered(_Here.app, scope, body), context=copy_context())


async def answered(app: ASGIApp, scope: Scope, body: bytes) -> list[Message]:
    """Return all that an application answers to a request whose body came in already."""
    answer: list[Message] = []

    async def keep(message: Message) -> None:
        answer.append(message)

    try:
        await app(scope, replay(body), keep)
    except Exception:  # raised again once answered by a problem and logged: the answer goes out
        if not answer:
            raise
    return answer


def replay(body: bytes) -> Receive:
    """Return what gives a body that was taken in already, and then nothing until cancelled."""
    given = False

    async def receive() -> Message:
        nonlocal given
        if given:
            await asyncio.Event().wait()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return receive
