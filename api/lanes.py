"""What keeps one client from stalling the rest: heavy work goes in lanes, and all waiting ends.

A request for heavy work is taken in whole, waits for its turn, and its answer is sent after the
turn has passed on: so neither a slow sender nor a slow reader holds a turn. Everything else goes
straight through. Health answers beside all of it. Where there are hands (:mod:`api.hands`), all is
done by them, and ends when its time is up or its client has gone, but for the previews of lines
being dragged: of two at a time one is done here, where it is soonest, the other where a hand is
free.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.access.admit import local_path
from api.access.operations import operation_of
from api.access.person import acting
from api.errors import Busy, NoRoom, ServiceError, error_response, http_response
from api.hands import Hands, answered, replay
from api.settings import ServiceSettings
from api.turns import Turns

__all__ = ["Lanes", "lanes_of"]

SECONDS_A_BYTE = {"preview": 3e-6, "work": 2e-5}
"""What a body of a lane costs to work on, roughly: 40 bytes a point, 0.1 ms a point [s]."""
LARGE, LARGE_BYTES = "large preview", 100_000
"""A line of some 2 500 points is no longer dragged; it has a lane beside those that are [bytes]."""
LEAST_SECONDS = 0.02
FILE_SECONDS = 1.0
"""What a file that is taken in costs to work on, roughly [s]."""
AWAY = ("work", LARGE)
"""Lanes whose work is done by hands."""
GONE_SECONDS = 5.0
"""How long a hand may go on for a client that has gone; another hand takes about as long [s]."""
Result = TypeVar("Result")
GROWTH = 3
"""Room that a body may need: as it comes in, in the log of the database, in the database [-]."""


class _Body(NamedTuple):
    whole: bytes
    gone: bool


class _Work(NamedTuple):
    answer: asyncio.Future[list[Message]]
    away: bool


def lanes_of(settings: ServiceSettings, *, hands: bool = False) -> Mapping[str, Turns]:
    """Return the lanes of one process, empty; with hands one of two previews is theirs."""
    each, in_all = settings.max_waiting_each, settings.max_waiting_requests
    return MappingProxyType(
        {
            "preview": Turns(at_once=1 + hands, each=each, in_all=in_all, newest=True),
            LARGE: Turns(at_once=1, each=each, in_all=in_all, newest=True),
            "work": Turns(at_once=settings.workers, each=each, in_all=in_all),
            "tile": Turns(at_once=4, each=16 * each, in_all=16 * in_all, newest=True),
        }
    )


class Lanes:
    """ASGI middleware: bounds how much heavy work is under way and waits."""

    def __init__(
        self, app: ASGIApp, *, lanes: Mapping[str, Turns], seconds: float, hands: Hands | None
    ) -> None:
        self.app = app
        self.lanes = lanes
        self.seconds = seconds
        self.hands = hands
        self._drawn_here = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on, in its lane."""
        lane, operation = "", None
        if scope["type"] == "http":
            operation = operation_of(scope["method"], local_path(scope))
            lane = operation.lane if operation is not None else ""
            scope.setdefault("state", {})["lanes"] = self
        if operation is not None and operation.keeps:
            announced = Headers(scope=scope).get("content-length", "")
            try:
                room = scope["app"].state.service.storage.room
                coming = GROWTH * int(announced) if announced.isdecimal() else 0
                await run_in_threadpool(room.check, coming)  # it may count all files
            except NoRoom as exc:
                await _say(exc, scope, receive, send)
                return
        if not lane:
            await self.app(scope, receive, send)
            return
        try:
            body = await _gathered(receive)
        except HTTPException as exc:  # too large, or too slow
            await http_response(exc, scope["path"], Headers(scope=scope))(scope, receive, send)
            return
        if body.gone:
            return
        client = _client(scope)
        seconds = LEAST_SECONDS + SECONDS_A_BYTE.get(lane, 0.0) * len(body.whole)
        lane = LARGE if lane == "preview" and len(body.whole) > LARGE_BYTES else lane
        turns = self.lanes[lane]
        try:
            here = await _unless_gone(turns.take(client, seconds), receive)
        except Busy as exc:
            await _say(exc, scope, receive, send)
            return
        if here:
            await self._see_to(self._begun(lane, scope, body.whole, turns), scope, receive, send)

    def _begun(self, lane: str, scope: Scope, body: bytes, turns: Turns) -> _Work:
        """Begin to have a request answered, here or by a hand."""
        dragged = lane == "preview"
        hands = self.hands
        if hands and (lane in AWAY or (dragged and self._drawn_here and hands.free)):
            work = asyncio.ensure_future(hands.answer(scope, body))
            work.add_done_callback(lambda _: turns.leave())
            return _Work(work, True)

        def passed_on(_: Any) -> None:
            self._drawn_here -= dragged
            turns.leave()

        self._drawn_here += dragged
        work = asyncio.ensure_future(answered(self.app, scope, body))
        work.add_done_callback(passed_on)
        return _Work(work, False)

    async def work(self, scope: Scope, function: Callable[..., Result], *arguments: Any) -> Result:
        """Have a file worked on, which came in beside the lanes for its size, in its turn.

        The function must be importable and its values pickle.
        """
        async with self.lanes["work"].turn(_client(scope), FILE_SECONDS):
            if self.hands is None:
                return await run_in_threadpool(function, *arguments)
            try:
                async with asyncio.timeout(self.seconds):
                    done: Result = await self.hands.do(function, *arguments)
            except TimeoutError:
                raise self._late() from None
            return done

    async def _see_to(self, begun: _Work, scope: Scope, receive: Receive, send: Send) -> None:
        """Send what is answered once it is whole; give it up where that is not waited for."""
        work = begun.answer
        gone: asyncio.Future[Any] = asyncio.ensure_future(receive())
        either: set[asyncio.Future[Any]] = {work, gone}
        await asyncio.wait(either, timeout=self.seconds, return_when=asyncio.FIRST_COMPLETED)
        left = gone.done()
        gone.cancel()
        if left:
            await asyncio.wait({work}, timeout=GONE_SECONDS)
        if work.done():
            for message in work.result():
                await send(message)
            return
        work.add_done_callback(lambda done: done.cancelled() or done.exception())
        if begun.away:
            work.cancel()  # what is done in a thread can only be left
        if not left:
            await _say(self._late(), scope, replay(b""), send)

    def _late(self) -> Busy:
        return Busy(
            f"It took over {self.seconds:g} seconds.",
            "Use a shorter line or a coarser raster, or send it as a job (Prefer: respond-async).",
        )


def _client(scope: Scope) -> str:
    """Return who sent a request: the person, or the address where nobody signs in."""
    return acting().name or str((scope["client"] or ("",))[0])


async def _gathered(receive: Receive) -> _Body:
    """Return the whole body of a request; the guard before counts and times it."""
    parts = []
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            return _Body(b"", True)
        parts.append(message.get("body", b""))
        if not message.get("more_body", False):
            return _Body(b"".join(parts), False)


async def _unless_gone(waiting: Any, receive: Receive) -> bool:
    """Wait for the turn; return False, and let it go, if the client goes first."""
    turn, gone = asyncio.ensure_future(waiting), asyncio.ensure_future(receive())
    try:
        await asyncio.wait({turn, gone}, return_when=asyncio.FIRST_COMPLETED)
        if turn.done():
            turn.result()
            return True
        return False
    finally:
        for task in (turn, gone):
            if not task.done():
                task.cancel()
        await asyncio.gather(gone, return_exceptions=True)


async def _say(error: ServiceError, scope: Scope, receive: Receive, send: Send) -> None:
    headers = {"retry-after": "2"} if isinstance(error, Busy) else None
    answer = error_response(error, scope["path"], Headers(scope=scope), headers)
    await answer(scope, receive, send)
