"""Whether the lock serves the other versions of Python: each finds all it needs, with these hashes.

The version that runs this has installed the lock. Of the others, what is tied to a version (wheels
with compiled code, and pins of their own) is asked of the package index, and of all the rest it is
read whether they take that version. Where the index cannot be reached a line that begins with
SKIPPED says so. ``--install`` puts the lock into a fresh environment of each interpreter that is
at hand, and runs the demo there; that takes minutes.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from importlib.metadata import Distribution, distributions
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
LOCK = ROOT / ".ci" / "requirements.lock"
OTHERS = ("3.12", "3.13")
SECONDS = 120
"""How long the index may take for all versions together [s]."""
UNREACHED = ("Failed to establish", "Connection", "Read timed out", "getaddrinfo")


def pins(version: str) -> dict[str, str]:
    """Return the entries of the lock that count for a version of Python, by name."""
    python = {"python_version": version, "python_full_version": f"{version}.0"}
    found = {}
    for entry in re.split(r"\n(?=[a-zA-Z0-9])", LOCK.read_text(encoding="utf-8").strip()):
        head, *hashes = entry.split(" \\\n")
        asked = Requirement(head)
        if asked.marker is None or asked.marker.evaluate(python):
            lines = [head.partition(" ;")[0], *hashes]
            found[str(canonicalize_name(asked.name))] = " \\\n".join(lines)
    return found


def lacking(version: str, chosen: dict[str, str], installed: dict[str, Distribution]) -> list[str]:
    """Return what packages ask for and the lock does not hold, or which refuse the version."""
    python = {"python_version": version, "python_full_version": f"{version}.0", "extra": ""}
    found = []
    for name, facts in installed.items():
        if not same(chosen.get(name, ""), facts):
            continue
        takes = Requirement(f"python{facts.metadata['Requires-Python'] or ''}").specifier
        if not takes.contains(f"{version}.0"):
            found.append(f"{name} does not take Python {version}: {takes}")
        for text in facts.requires or ():
            asked = Requirement(text)
            needed = asked.marker is None or asked.marker.evaluate(python)
            if needed and canonicalize_name(asked.name) not in chosen:
                found.append(f"{name} needs {asked.name}, which the lock has not")
    return found


def same(entry: str, facts: Distribution) -> bool:
    """Whether a pin is the one that is installed here."""
    return entry.partition("==")[2].split(" ")[0] == facts.version


def tied(entry: str, facts: Distribution | None) -> bool:
    """Whether a pin must be asked for: compiled for one version, or not the one installed here."""
    if facts is None or not same(entry, facts):
        return True
    return "-none-any" not in (facts.read_text("WHEEL") or "")


def asked_of_index(version: str, entries: list[str], folder: Path) -> subprocess.Popen[str]:
    """Have pip find the wheels of a version by their hashes, and install nothing."""
    wanted = folder / f"{version}.txt"
    wanted.write_text("\n".join(entries), encoding="utf-8")
    command = [sys.executable, "-m", "pip", "install", "--dry-run", "--ignore-installed", "--quiet",
               "--no-deps", "--ignore-requires-python", "--only-binary", ":all:",
               "--python-version", version, "--target", str(folder / version),
               "--require-hashes", "--requirement", str(wanted)]  # fmt: skip
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)


def look() -> int:
    """Return how many versions the lock does not serve."""
    installed = {str(canonicalize_name(each.metadata["Name"])): each for each in distributions()}
    failed, begun = 0, time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        asking = {}
        for version in OTHERS:
            chosen = pins(version)
            for text in lacking(version, chosen, installed):
                failed = 1
                print(f"Python {version}: {text}.")
            wanted = [text for key, text in chosen.items() if tied(text, installed.get(key))]
            asking[version] = len(chosen), asked_of_index(version, wanted, Path(name))
        for version, (count, process) in asking.items():
            try:
                left = begun + SECONDS - time.monotonic()
                said = process.communicate(timeout=max(left, 0.1))[1]
            except subprocess.TimeoutExpired:
                process.kill()
                said = "Connection too slow"
            if process.returncode == 0:
                seconds = time.monotonic() - begun
                print(f"Python {version}: {count} pins, all to be had ({seconds:.0f} s).")
            elif any(word in said for word in UNREACHED):
                print(f"SKIPPED: Python {version}: no package index within {SECONDS} s.")
            else:
                failed = 1
                print(f"Python {version}: {said.strip()[-1000:]}")
    return failed


def interpreter(version: str) -> str | None:
    """Return a Python of a version that runs: the one on the path, else one that pyenv keeps."""
    kept = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
    found = [shutil.which(f"python{version}")]
    found += map(str, sorted(kept.glob(f"{version}.*/bin/python{version}")))
    for python in filter(None, found):
        asked = [
            python,
            "-c",
            "import venv, ensurepip",
        ]
        if subprocess.run(asked, capture_output=True, check=False).returncode == 0:
            return python
    return None


def install() -> int:
    """Install the lock for each interpreter at hand and run the demo; return how many failed."""
    failed = 0
    for version in OTHERS:
        python = interpreter(version)
        if python is None:
            print(f"SKIPPED: there is no python{version} here.")
            continue
        with tempfile.TemporaryDirectory() as folder:
            tool = f"{folder}/bin/python"
            steps = (
                [python, "-m", "venv", folder],
                [tool, "-m", "pip", "install", "-q", "--require-hashes", "-r", str(LOCK)],
                [tool, "-m", "api.cli", "demo", "--out", f"{folder}/demo"],
            )
            good = all(
                subprocess.run(step, cwd=ROOT, stdout=subprocess.DEVNULL, check=False).returncode
                == 0
                for step in steps
            )
        print(f"Python {version}: {'installed, the demo ran' if good else 'FAILED'}.")
        failed += not good
    return failed


if __name__ == "__main__":
    sys.exit(1 if (install() if "--install" in sys.argv else look()) else 0)
