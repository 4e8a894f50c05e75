"""Known holes in what the locks install: fails where one is named, says so where nobody can tell.

Lists of them are kept on the network. Where none is reached, or the tool that asks is not to be
had, a line that begins with SKIPPED stands in the output, and the run goes on.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
SECONDS = 180


def asked(command: list[str]) -> Any:
    """Return what a command printed as JSON, None where it printed something else."""
    try:
        done = subprocess.run(
            command, cwd=ROOT, capture_output=True, timeout=SECONDS, check=False, text=True
        )
        return json.loads(done.stdout)
    except (OSError, ValueError, subprocess.TimeoutExpired):
        return None


def skipped(what: str) -> int:
    print(f"SKIPPED: {what}: no source of advisories can be reached from here.")
    return 0


def python_packages() -> int:
    """Return how many advisories there are for the packages of the lock."""
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([sys.executable, "-m", "venv", folder], check=True)
        tool = [f"{folder}/bin/pip", "install", "--quiet", "pip-audit"]
        if subprocess.run(tool, capture_output=True, timeout=SECONDS, check=False).returncode:
            return skipped("Python packages")
        audit = [f"{folder}/bin/pip-audit", "--requirement", ".ci/requirements.lock",
                 "--disable-pip", "--require-hashes", "--format", "json"]  # fmt: skip
        found = asked(audit)
    if not isinstance(found, dict) or "dependencies" not in found:
        return skipped("Python packages")
    holes = [(row["name"], row["version"], hole["id"]) for row in found["dependencies"]
             for hole in row.get("vulns", ())]  # fmt: skip
    for name, version, hole in holes:
        print(f"{name} {version}: {hole}")
    print(f"Python packages: {len(found['dependencies'])} asked about, {len(holes)} advisories.")
    return len(holes)


def page_packages() -> int:
    """Return how many advisories there are for what the page ships."""
    npm = shutil.which("npm")
    found = asked([npm, "--prefix", "web", "audit", "--omit=dev", "--json"]) if npm else None
    if not isinstance(found, dict) or "vulnerabilities" not in found:
        return skipped("packages of the page")
    for name, hole in found["vulnerabilities"].items():
        print(f"{name}: {hole.get('severity')}")
    print(f"Packages of the page: {len(found['vulnerabilities'])} advisories.")
    return len(found["vulnerabilities"])


if __name__ == "__main__":
    sys.exit(1 if python_packages() + page_packages() else 0)
