"""The command as a person runs it, in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from forked_commands import PATIENCE_SECONDS, forked_commands

ROOT = Path(__file__).parents[2]


def leatline(
    *arguments: str | Path, cwd: Path, **variables: str
) -> subprocess.CompletedProcess[bytes]:
    """Run a command; a fresh interpreter reads ``variables`` before it begins."""
    words = [*map(str, arguments)]
    if not variables:
        ended = forked_commands()(*words, cwd=cwd)
        return subprocess.CompletedProcess(words, ended.code, ended.out, ended.err)
    return subprocess.run(
        [sys.executable, "-m", "api.cli", *words],
        cwd=cwd,
        env={**os.environ, "LC_ALL": "C.UTF-8", "PYTHONPATH": str(ROOT), **variables},
        capture_output=True,
        timeout=PATIENCE_SECONDS,
        check=False,
    )


def clean(done: subprocess.CompletedProcess[bytes], code: int) -> str:
    """Check how a command ended and return what it said on standard error."""
    said = done.stderr.decode()
    assert done.returncode == code, said
    assert "Traceback" not in said
    return said
