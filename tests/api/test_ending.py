"""A run that was asked to end ends by the signal, whatever a library makes of it on the way."""

from __future__ import annotations

import contextlib
import signal
from typing import Any

import pytest

from api import ending


def test_run_command__a_signal_that_a_library_swallows_is_no_fault(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A compiler's callback takes the exit for its own failure and raises something else."""
    monkeypatch.setattr(ending, "_signals", [])

    def run(arguments: list[str], **_: Any) -> None:
        with contextlib.suppress(SystemExit):
            ending.end(signal.SIGTERM, None)
        raise RuntimeError("no compiled object yet")

    with pytest.raises(SystemExit) as ended:
        ending.run_command(run, [])
    assert ended.value.code == 143
    assert capsys.readouterr().err == ""


def test_run_command__a_fault_without_a_signal_stays_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(ending, "_signals", [])

    def run(arguments: list[str], **_: Any) -> None:
        raise RuntimeError("no compiled object yet")

    with pytest.raises(SystemExit) as ended:
        ending.run_command(run, [])
    assert ended.value.code == 1
    assert "a fault of ours" in capsys.readouterr().err
