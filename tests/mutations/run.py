"""Constants changed by about 5 %, one at a time: some reference test must fail for each.

Run: python tests/mutations/run.py [words of the rows to try]

The tree is copied to a temporary folder, so nothing here is touched. Each row of ``constants.csv``
is a file, the text of the constant, what it is changed to, and the tests of which one must notice.
"""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

with (Path(__file__).parent / "constants.csv").open(newline="", encoding="utf-8") as rows:
    MUTATIONS = [tuple(row.values()) for row in csv.DictReader(rows)]


def _path(name: str) -> str:
    return name if "/" in name else f"tests/reference/test_{name}.py"


def main() -> int:
    """Try every mutation; return how many no test noticed."""
    survived = 0
    wanted = [row for row in MUTATIONS if all(word in " ".join(row) for word in sys.argv[1:])]
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in ("routing", "tests"):
            shutil.copytree(ROOT / name, copy / name)
        shutil.copy(ROOT / "pyproject.toml", copy / "pyproject.toml")
        environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
        for file, constant, changed, test in wanted:
            path = copy / file
            text = path.read_text(encoding="utf-8")
            if constant not in text:
                print(f"gone      {file}: {constant}")
                survived += 1
                continue
            path.write_text(text.replace(constant, changed), encoding="utf-8")
            command = [sys.executable, "-m", "pytest", "-xq", "-p", "no:cacheprovider"]
            result = subprocess.run(
                [*command, *(_path(name) for name in test.split())],
                cwd=copy, env=environment, capture_output=True, text=True, check=False,
            )  # fmt: skip
            path.write_text(text, encoding="utf-8")
            # 1 is a failed test; anything else (no such file, nothing collected) proves nothing.
            if result.returncode != 1:
                word = "survived" if result.returncode == 0 else f"exit {result.returncode}  "
                print(f"{word}  {file}: {constant} -> {changed}")
                survived += 1
    print(f"{len(wanted) - survived} of {len(wanted)} noticed")
    return survived


if __name__ == "__main__":
    sys.exit(main())
