"""The page's pure modules, under Node where the machine has one."""

from __future__ import annotations

import subprocess
from pathlib import Path

from chromium import node_path

HERE = Path(__file__).parent


def test_modules__pass_their_own_tests() -> None:
    files = sorted(str(path) for path in HERE.glob("*.test.mjs"))
    done = subprocess.run(
        [node_path(), "--test", *files], capture_output=True, text=True, timeout=300, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
