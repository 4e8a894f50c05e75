"""Work shared between this process and copies of it: same results, errors in plain sight."""

from __future__ import annotations

import os
import threading
import time

import pytest

from routing import abreast as room
from routing.abreast import abreast, idle_cores

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="no copies on this system")


@pytest.fixture
def helped(monkeypatch):
    monkeypatch.setattr(room, "idle_cores", lambda: 2)


HERE = os.getpid()


def who(piece: int) -> tuple[int, int]:
    time.sleep(0.5 if os.getpid() == HERE else 0.02)  # a busy machine begins copies late
    return piece, os.getpid()


def test_abreast__results_in_order_from_more_than_one_process(helped):
    found = abreast(who, 8, 2)
    assert [piece for piece, _ in found] == list(range(8))
    assert 1 < len({process for _, process in found}) <= 3


def test_abreast__alone_where_nobody_may_help():
    assert {process for _, process in abreast(who, 3, 0)} == {os.getpid()}


def test_abreast__what_fails_in_a_copy_fails_here(helped):
    def work(piece: int) -> int:
        time.sleep(0.05)
        if piece == 2:
            raise ValueError("piece 2")
        return piece

    with pytest.raises(ValueError, match="piece 2"):
        abreast(work, 4, 2)


def test_abreast__what_a_dead_copy_leaves_is_done_here(helped):
    here = os.getpid()

    def work(piece: int) -> int:
        time.sleep(0.05)
        if os.getpid() != here:
            os._exit(9)
        return piece

    assert abreast(work, 5, 2) == [0, 1, 2, 3, 4]


def test_abreast__an_error_here_ends_the_copies(helped):
    here = os.getpid()

    def work(piece: int) -> int:
        if os.getpid() == here:
            raise ValueError("here")
        time.sleep(600.0)
        return piece

    begun = time.monotonic()
    with pytest.raises(ValueError, match="here"):
        abreast(work, 3, 1)
    assert time.monotonic() - begun < 300.0


def test_idle_cores__none_beside_a_thread_that_works():
    done = threading.Event()
    thread = threading.Thread(target=done.wait)
    thread.start()
    try:
        assert idle_cores() == 0
    finally:
        done.set()
        thread.join()
