"""The page's pure modules, under Node where the machine has one."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

HERE = Path(__file__).parent


def test_modules__pass_their_own_tests() -> None:
    node = shutil.which("node")
    if node is None:
        pytest.skip("this machine has no node")
    files = sorted(str(path) for path in HERE.glob("*.test.mjs"))
    done = subprocess.run(
        [node, "--test", *files], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
