"""Runs of the command line in children with limits on memory and time, one fork each.

Run as a script it imports the program once, then reads lines of JSON ``[argument, ...]`` and
answers each with ``{"code", "seconds", "peak_mb", "out", "err"}``.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ADDRESS_BYTES = 3 * 2**30
CPU_SECONDS = 60


class LimitedRuns:
    """A helper process that runs commands one after the other, each in a child of its own."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def __call__(self, *arguments: str) -> dict[str, Any]:
        """Run one command and return how it went."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(arguments) + "\n")
        self._process.stdin.flush()
        answer: dict[str, Any] = json.loads(self._process.stdout.readline())
        return answer

    def close(self) -> None:
        """End the helper."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait(timeout=30)
        self._process.stdout.close()


def _child(arguments: list[str], out: int, err: int) -> None:
    os.dup2(out, 1)
    os.dup2(err, 2)
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_BYTES, ADDRESS_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS))
    sys.stdout, sys.stderr = open(1, "w", closefd=False), open(2, "w", closefd=False)
    sys.argv = ["leatline", *arguments]
    from api.cli import main

    code = 0
    try:
        main()
    except SystemExit as exc:
        code = exc.code if isinstance(exc.code, int) else 1
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)


def _run(arguments: list[str]) -> dict[str, Any]:
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        begin = time.perf_counter()
        pid = os.fork()
        if pid == 0:
            try:
                _child(arguments, out.fileno(), err.fileno())
            finally:
                os._exit(99)
        _, status, usage = os.wait4(pid, 0)
        seconds = time.perf_counter() - begin
        out.seek(0)
        err.seek(0)
        return {
            "code": os.waitstatus_to_exitcode(status),
            "seconds": seconds,
            "peak_mb": usage.ru_maxrss / 1024,
            "out": out.read().decode("utf-8", "replace"),
            "err": err.read().decode("utf-8", "replace"),
        }


def _serve() -> None:
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    import routing.outputs
    import routing.record
    import routing.study  # noqa: F401

    for line in sys.stdin:
        print(json.dumps(_run(json.loads(line))), flush=True)


if __name__ == "__main__":
    _serve()
