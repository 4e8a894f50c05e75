"""Heavy work is done by processes beside the serving one, which end when nobody waits for them."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Callable, Coroutine
from functools import partial
from multiprocessing.process import BaseProcess
from pathlib import Path
from types import MappingProxyType
from typing import Any

import at_hand
import orjson
import psutil
import pytest
from api_service import Serve, is_problem, upload
from own_loop import run_alone
from starlette.types import ASGIApp, Message
from waiting import until

from api import app, lanes
from api.access.person import Person, acts
from api.hands import Hands
from api.lanes import Lanes, lanes_of
from api.settings import ServiceSettings
from api.turns import Turns
from routing.errors import OutsideTerrain

Body = dict[str, Any]
Act = Callable[[Hands], Coroutine[Any, Any, None]]


def with_hands(act: Act, make: Callable[[], ASGIApp] = at_hand.make_mirror) -> None:
    """Let a coroutine have hands for as long as it lasts."""

    async def whole() -> None:
        hands = Hands()
        hands.open(make)
        try:
            await act(hands)
        finally:
            hands.close()

    run_alone(whole())


async def written(mark: Path) -> int:
    """Wait until a hand has said that its work is under way; return its process."""
    while not (mark.exists() and mark.read_text(encoding="ascii")):
        await asyncio.sleep(0.02)
    return int(mark.read_text(encoding="ascii"))


async def until_gone(process: int) -> None:
    while psutil.pid_exists(process) and psutil.Process(process).status() != "zombie":
        await asyncio.sleep(0.02)


SCOPE = {
    "type": "http", "method": "POST", "path": "/api/studies", "query_string": b"", "headers": [],
    "client": ("127.0.0.1", 9), "state": {},
}  # fmt: skip


def test_hands__answer_keep_their_process_and_give_up(tmp_path: Path) -> None:
    async def act(hands: Hands) -> None:
        with acts(Person(name="Ann", role="planner")):
            start, body = await hands.answer(SCOPE, b"asked")
        said = orjson.loads(body["body"])
        assert start["status"] == 201
        assert said["path"] == "/api/studies"
        assert said["body"] == "asked"
        assert said["who"] == "Ann"
        assert said["process"] != os.getpid()

        with pytest.raises(OutsideTerrain) as refused:
            await hands.do(at_hand.refuse)
        error = refused.value
        assert (error.problem, error.remedy) == ("The line leaves the raster.", "Move it.")
        assert (error.station_m, error.lon, error.lat) == (12.5, -16.9, 62.2)
        with pytest.raises(RuntimeError, match="ZeroDivisionError: a fault"):
            await hands.do(at_hand.break_down)
        assert await hands.do(at_hand.linger, tmp_path / "same", 0.0) == said["process"]

        # given up: its process ends, and the next piece of work has another
        work = asyncio.ensure_future(hands.do(at_hand.linger, tmp_path / "long", 600.0))
        assert await written(tmp_path / "long") == said["process"]
        work.cancel()
        with pytest.raises(asyncio.CancelledError):
            await work
        await asyncio.wait_for(until_gone(said["process"]), 30.0)
        other = await hands.do(at_hand.linger, tmp_path / "next", 0.0)
        assert other != said["process"]

        # killed from outside, at work and idle
        work = asyncio.ensure_future(hands.do(at_hand.linger, tmp_path / "cut off", 600.0))
        os.kill(await written(tmp_path / "cut off"), signal.SIGKILL)
        with pytest.raises(RuntimeError, match="has ended"):
            await work
        third = await hands.do(at_hand.linger, tmp_path / "third", 0.0)
        os.kill(third, signal.SIGKILL)
        await until_gone(third)
        assert await hands.do(at_hand.linger, tmp_path / "fourth", 0.0) != third

    with_hands(act)


def test_hands__one_that_ended_idle_unnoticed_is_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def act(hands: Hands) -> None:
        first = await hands.do(at_hand.linger, tmp_path / "first", 0.0)
        os.kill(first, signal.SIGKILL)
        await until_gone(first)
        # its threads may take a moment longer to end, and so long it passes for alive
        monkeypatch.setattr(BaseProcess, "is_alive", lambda _: True)
        assert await hands.do(at_hand.linger, tmp_path / "second", 0.0) != first

    with_hands(act)


def test_hands__that_cannot_begin_are_told_once() -> None:
    async def act(hands: Hands) -> None:
        with pytest.raises(RuntimeError, match="has ended"):
            await asyncio.wait_for(hands.do(at_hand.refuse), 60.0)

    with_hands(act, at_hand.make_nothing)


class SlowHands:
    """Stands in for hands whose work never ends."""

    def __init__(self) -> None:
        self.begun, self.given_up = 0, 0

    async def answer(self, scope: Any, body: bytes) -> list[Message]:
        self.begun += 1
        try:
            await asyncio.Event().wait()
        finally:
            self.given_up += 1
        return []


def asked_of(hands: Any, seconds: float, *, goes: bool) -> tuple[list[Message], Turns]:
    """Send a request for heavy work through the lanes; its client ``goes`` once it has begun."""
    sent: list[Message] = []
    turns = Turns(at_once=1, each=1, in_all=1)

    async def nothing(*_: Any) -> None:
        raise AssertionError("done by the serving process")

    async def whole() -> None:
        coming = [{"type": "http.request", "body": b"{}", "more_body": False}]

        async def receive() -> Message:
            if coming:
                return coming.pop()
            while not (goes and hands.begun):
                await asyncio.sleep(0.01)
            return {"type": "http.disconnect"}

        async def send(message: Message) -> None:
            sent.append(message)

        passing = Lanes(
            nothing, lanes=MappingProxyType({"work": turns}), seconds=seconds, hands=hands
        )
        scope = {**SCOPE, "path": "/api/pipes"}
        await passing(scope, receive, send)
        await asyncio.sleep(0)

    run_alone(whole())
    return sent, turns


def test_work__beyond_its_time_is_ended_and_answered() -> None:
    hands = SlowHands()
    (start, body), turns = asked_of(hands, 0.1, goes=False)
    assert start["status"] == 503
    said = orjson.loads(body["body"])
    assert said["code"] == "busy"
    assert "0.1 seconds" in said["detail"]
    assert "respond-async" in said["hint"]
    assert (hands.begun, hands.given_up) == (1, 1)
    run_alone(asyncio.wait_for(turns.take("next", 1.0), 1.0))  # the turn is free again


def test_work__for_a_client_that_left_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lanes, "GONE_SECONDS", 0.1)
    hands = SlowHands()
    sent, turns = asked_of(hands, 60.0, goes=True)
    assert sent == []
    assert (hands.begun, hands.given_up) == (1, 1)
    run_alone(asyncio.wait_for(turns.take("next", 1.0), 1.0))


def test_previews__of_two_at_a_time_one_is_done_here() -> None:
    places: list[str] = []

    class Quick:
        free = True

        async def answer(self, scope: Any, body: bytes) -> list[Message]:
            places.append("hand")
            return [{"type": "http.response.start", "status": 200, "headers": []}]

    async def whole() -> None:
        go_on, lanes = asyncio.Event(), lanes_of(ServiceSettings(data=Path()), hands=True)

        async def app(*_: Any) -> None:
            places.append("here")
            await go_on.wait()

        async def send(_: Message) -> None:
            pass

        async def ask() -> None:
            coming = [{"type": "http.request", "body": b"{}", "more_body": False}]

            async def receive() -> Message:
                return coming.pop() if coming else await asyncio.Event().wait()  # type: ignore[return-value]

            await passing({**SCOPE, "path": "/api/preview"}, receive, send)

        hands = Quick()
        passing = Lanes(app, lanes=lanes, seconds=60.0, hands=hands)  # type: ignore[arg-type]
        first = asyncio.ensure_future(ask())
        await asyncio.sleep(0.01)
        await ask()
        hands.free = False  # rather here than at a hand that has to be started
        second = asyncio.ensure_future(ask())
        await asyncio.sleep(0.01)
        go_on.set()
        await asyncio.gather(first, second)
        hands.free = True
        await ask()

    run_alone(whole())
    assert places == ["here", "hand", "here", "here"]


def test_warming__is_told_until_loops_are_compiled_there_and_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    for name in ("warm_up", "prefer_compiled"):
        monkeypatch.setattr(app, name, partial(done.append, f"{name} here"))
    monkeypatch.setattr(app.gc, "freeze", lambda: None)

    class Compiling:
        compiled = False

        async def do(self, function: Any) -> None:
            assert function is app.warm_up
            assert service.state.warming
            done.append("warm_up by a hand")

    hands = Compiling()
    service = app.create_app(ServiceSettings(data=tmp_path), warm=True)
    run_alone(app._warm(service, hands))  # type: ignore[arg-type]
    until(lambda: not service.state.warming, "the service to be warm")
    assert hands.compiled
    assert done == ["warm_up by a hand", "warm_up here", "prefer_compiled here"]


def test_service__with_hands_answers_as_one_without(
    tmp_path: Path, serve: Serve, hill: Path, line: Body, tables: Body
) -> None:
    with serve(tmp_path, hands=Hands()) as client:
        assert client.get("/api/health").json()["warming"] is False
        body = {"terrain": upload(client, hill).json()["id"], "route": line, "settings": tables}
        saved = client.post("/api/studies", json=body)
        assert saved.status_code == 201, saved.text
        path, preview = saved.headers["location"], client.post("/api/preview", json=body)
        assert saved.json()["stations"] == preview.json()["stations"]
        tag = {"if-match": saved.headers["etag"]}
        again = client.put(path, json=body, headers=tag)
        assert again.json()["revision"] == 2
        is_problem(client.put(path, json=body, headers=tag), 412, "stale_revision")
        profile = client.get(f"{path}/profile")
        assert profile.headers["etag"] == again.headers["etag"]
        assert profile.text.startswith("<")

        far = {**body, "route": {"type": "LineString", "coordinates": [[-16.9, 62.2], [-16.9, 62]]}}
        here = is_problem(client.post("/api/preview", json=far), 422, "outside_terrain")
        away = is_problem(client.post("/api/studies", json=far), 422, "outside_terrain")
        assert {**here, "instance": ""} == {**away, "instance": ""}

        job = client.post("/api/studies", json=body, headers={"prefer": "respond-async"})
        assert job.status_code == 202

        def done() -> bool:
            now = client.get(job.headers["location"]).json()
            assert now["state"] in ("waiting", "running", "done"), now
            return bool(now["state"] == "done")

        until(done, "the study to be saved")
        assert len(client.get("/api/studies").json()) == 2
