"""Whole processes: a study and the help text against importing numpy and rasterio.

Run: python tests/bench/bench_process.py. Processor seconds, in turn, so that a busy machine slows
all alike; each run writes into a folder of its own.
"""

from __future__ import annotations

import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile

RUNS = 7


def timed(commands: dict[str, list[str]]) -> dict[str, list[float]]:
    """Return processor seconds of each command, run in turn after a warm-up."""
    times: dict[str, list[float]] = {name: [] for name in commands}
    for run in range(RUNS + 1):
        for name, command in commands.items():
            before = _used()
            with tempfile.TemporaryDirectory() as folder:
                subprocess.run(
                    command,
                    check=True,
                    cwd=folder,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                )
            if run:
                times[name].append(_used() - before)
    return times


def _used() -> float:
    """Return processor seconds of all commands that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    leatline = shutil.which("leatline", path=os.path.dirname(sys.executable)) or "leatline"
    from sample_dem import sample_paths

    paths = sample_paths()
    study = [leatline, "study", str(paths.line), "--terrain", str(paths.terrain)]
    study += ["--settings", str(paths.settings), "--out", "out", "--format", "json"]
    times = timed(
        {
            "import numpy, rasterio": [sys.executable, "-c", "import numpy, rasterio"],
            "leatline --help": [leatline, "--help"],
            "leatline study --format json": study,
        }
    )
    floor = times["import numpy, rasterio"]
    for name, values in times.items():
        ratio = statistics.median(own / least for own, least in zip(values, floor, strict=True))
        print(f"{name}: median {statistics.median(values):.3f} s, {ratio:.2f} x the import")


if __name__ == "__main__":
    main()
