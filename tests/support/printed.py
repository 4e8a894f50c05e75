"""What a few lines of Python print in a process of their own."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def printed(code: str) -> str:
    """Return it without blanks at the ends; the lines must end well."""
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return done.stdout.strip()
