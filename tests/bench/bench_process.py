"""Whole processes: a study and the help text against importing numpy and rasterio; a long line.

Run: python tests/bench/bench_process.py. Processor seconds, in turn, so that a busy machine slows
all alike; each run writes into a folder of its own. A study of 12 km stands beside one of 2 km:
by its stations it may take twice as long.
"""

from __future__ import annotations

import json
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "support")]

from long_lines import line_file, twelve_kilometres, two_kilometres  # noqa: E402

from sample_dem import SamplePaths, sample_paths  # noqa: E402

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
    with tempfile.TemporaryDirectory() as folder:
        long_line(Path(folder), [leatline, "study", "--terrain", str(paths.terrain)], paths)


def long_line(folder: Path, begun: list[str], paths: SamplePaths) -> None:
    """Print what a line of 12 km takes beside one of 2 km, with the sample's settings."""
    commands, stations = {}, {}
    for name, points in (("2 km", two_kilometres()), ("12 km", twelve_kilometres())):
        drawn = line_file(folder / f"{name}.geojson", points)
        command = [*begun, str(drawn), "--settings", str(paths.settings), "--format", "json"]
        commands[name] = [*command, "--out", "out"]
        subprocess.run([*command, "--out", name], check=True, cwd=folder, capture_output=True)
        study = json.loads((folder / name / "study.json").read_text(encoding="utf-8"))
        stations[name] = len(study["stations"]["station_m"])
    times = timed(commands)
    spent = {name: statistics.median(values) for name, values in times.items()}
    longer, more = spent["12 km"] / spent["2 km"], stations["12 km"] / stations["2 km"]
    for name, seconds in spent.items():
        print(f"leatline study, {name}, {stations[name]} stations: median {seconds:.2f} s")
    print(f"{longer:.2f} times as long for {more:.2f} times the stations: {longer / more:.2f} each")


if __name__ == "__main__":
    main()
