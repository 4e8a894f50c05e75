"""Whole processes: a study and the help text against importing numpy and rasterio.

Run: python tests/bench/bench_process.py
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RUNS = 7


def timed(commands: dict[str, list[str]]) -> dict[str, list[float]]:
    """Return wall seconds of each command, run in turn after a warm-up."""
    times: dict[str, list[float]] = {name: [] for name in commands}
    for run in range(RUNS + 1):
        for name, command in commands.items():
            start = time.perf_counter()
            subprocess.run(
                command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
            if run:
                times[name].append(time.perf_counter() - start)
    return times


def main() -> None:
    leatline = shutil.which("leatline", path=os.path.dirname(sys.executable)) or "leatline"
    from sample_dem import sample_paths

    paths = sample_paths()
    with tempfile.TemporaryDirectory() as folder:
        study = [
            leatline, "study", str(paths.line), "--terrain", str(paths.terrain),
            "--settings", str(paths.settings), "--out", str(Path(folder) / "out"),
            "--format", "json",
        ]  # fmt: skip
        times = timed(
            {
                "import numpy, rasterio": [sys.executable, "-c", "import numpy, rasterio"],
                "leatline --help": [leatline, "--help"],
                "leatline study --format json": study,
            }
        )
    floor = statistics.median(times["import numpy, rasterio"])
    for name, values in times.items():
        middle = statistics.median(values)
        print(f"{name}: median {middle:.3f} s, {middle / floor:.2f} x the import")


if __name__ == "__main__":
    main()
