"""Runs of the command line, each in a process of its own that was forked and not started anew.

Run as a script it imports the program once, then reads lines of JSON, one for each command, forks
for it and answers with ``{"code", "seconds", "peak_mb"}``. What a child imports, opens, changes and
leaves behind is its own, and it ends as any process of Python does. Only what acts before the first
import (``python -m`` itself, variables that the interpreter reads) wants a fresh interpreter.
"""

from __future__ import annotations

import atexit
import contextlib
import gc
import json
import os
import resource
import select
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

__all__ = ["Ended", "ForkedCommands", "forked_commands"]

ROOT = Path(__file__).resolve().parents[2]
ADDRESS_BYTES = 3 * 2**30
CPU_SECONDS = 60
PATIENCE_SECONDS = 600.0
"""How long a command may take by the clock [s]: a busy machine is slow, one that hangs is found."""


class Ended(NamedTuple):
    """How a command ended, its processor time [s] and most memory [MB], and what it said."""

    code: int
    seconds: float
    peak_mb: float
    out: bytes
    err: bytes


class ForkedCommands:
    """A helper process that runs commands one after the other, each in a child of its own."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process = subprocess.Popen(
            [sys.executable, __file__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "LC_ALL": "C.UTF-8", "PYTHONPATH": str(ROOT)},
        )

    def __call__(self, *arguments: str, cwd: Path | None = None, limited: bool = False) -> Ended:
        """Run one command in a folder, with limits on memory and time or without."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        with self._lock, tempfile.TemporaryDirectory() as place:
            asked = {
                "arguments": arguments, "cwd": str(cwd or Path.cwd()), "place": place,
                "limited": limited, "environment": dict(os.environ),
            }  # fmt: skip
            self._process.stdin.write(json.dumps(asked).encode() + b"\n")
            self._process.stdin.flush()
            if not select.select([self._process.stdout], [], [], PATIENCE_SECONDS)[0]:
                self._process.kill()
                raise AssertionError(f"leatline {arguments} has not ended in {PATIENCE_SECONDS} s")
            answer: dict[str, Any] = json.loads(self._process.stdout.readline())
            out, err = (Path(place, name).read_bytes() for name in ("out", "err"))
        return Ended(**answer, out=out, err=err)

    def close(self) -> None:
        """End the helper."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait(timeout=30)
        self._process.stdout.close()


@cache
def forked_commands() -> ForkedCommands:
    """Return the helper that all tests of this process share."""
    shared = ForkedCommands()
    atexit.register(shared.close)
    return shared


def _begin(asked: dict[str, Any]) -> None:
    """Make a forked child what a process started for the command would be."""
    os.environ.clear()
    os.environ.update(asked["environment"], LC_ALL="C.UTF-8", PYTHONPATH=str(ROOT))
    os.chdir(asked["cwd"])
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    for number, name in ((1, "out"), (2, "err")):
        path = Path(asked["place"], name)
        os.dup2(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), number)
    sys.stdin = open(0, encoding="utf-8", closefd=False)
    sys.stdout = open(1, "w", encoding="utf-8", errors="surrogateescape", closefd=False)
    sys.stderr = open(2, "w", encoding="utf-8", errors="backslashreplace", closefd=False)
    sys.argv = ["leatline", *asked["arguments"]]
    if asked["limited"]:
        resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_BYTES, ADDRESS_BYTES))
        resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS))


def _next_command() -> dict[str, Any] | None:
    """Wait for a command; return it in its child, and None in the helper when all were run."""
    while line := sys.stdin.readline():
        child = os.fork()
        if child == 0:
            asked: dict[str, Any] = json.loads(line)
            return asked
        _, status, usage = os.wait4(child, 0)
        answer = {
            "code": os.waitstatus_to_exitcode(status),
            "seconds": usage.ru_utime + usage.ru_stime,
            "peak_mb": usage.ru_maxrss / 1024,
        }
        print(json.dumps(answer), flush=True)
    return None


def _program() -> Callable[[], Any]:
    """Return the program, with what most commands import."""
    with contextlib.suppress(ValueError):
        sys.path.remove(str(Path(__file__).parent))
    import routing.record
    import routing.study  # noqa: F401
    from api.cli import main

    gc.collect()
    gc.freeze()
    return main


if __name__ == "__main__":
    run = _program()
    told = _next_command()
    if told is not None:
        _begin(told)
        run()
