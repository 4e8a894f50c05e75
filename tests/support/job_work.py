"""Work that the tests of jobs let a job's own process do; it must be importable there."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

from routing.errors import OutsideTerrain


def count(pid_file: str, report: Any) -> dict[str, Any]:
    """Report each third and return what the process was."""
    for step in range(1, 4):
        report(step / 3, f"step {step}")
        time.sleep(0.15)
    Path(pid_file).write_text(str(os.getpid()))
    return {"pid": os.getpid()}


def refuse(report: Any) -> dict[str, Any]:
    """Raise an error that is the user's to mend."""
    raise OutsideTerrain("The line leaves the raster.", "Bring more.", 12.5, 7.0, 46.0)


def crash(report: Any) -> dict[str, Any]:
    """Die as a process killed for its memory does."""
    os._exit(9)


def sleep(pid_file: str, report: Any) -> dict[str, Any]:
    """Say who sleeps, then sleep for long."""
    Path(pid_file).write_text(str(os.getpid()))
    report(0.5, "sleeping")
    time.sleep(60)
    return {}


def until_told_to_stop(pid_file: str, report: Any) -> dict[str, Any]:
    """Report again and again; say in the file how that ended."""
    Path(pid_file).write_text(str(os.getpid()))
    try:
        for step in range(600):
            report(step / 600, "at it")
            time.sleep(0.1)
    except BaseException:
        Path(pid_file).with_suffix(".ended").write_text("told to stop")
        raise
    return {}


def readily(_what: str, report: Any) -> dict[str, Any]:
    """Say who did it."""
    return {"pid": os.getpid(), "ready": Path(os.environ["JOB_WORK_READY"]).read_text()}


def _get_ready() -> None:
    Path(os.environ["JOB_WORK_READY"]).write_text(str(os.getpid()))


readily.ready = _get_ready  # type: ignore[attr-defined]
