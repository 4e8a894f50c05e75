"""Read files one by one, each in a process of its own with limits; print what came of each.

One JSON object a line: name, outcome ("read", "refused" or "died"), message, seconds, megabytes.
"""

from __future__ import annotations

import json
import os
import resource
import sys
import time
import traceback
from pathlib import Path

import pyogrio.raw
import shapely
from pyproj import CRS

from routing.errors import LeatlineError
from routing.line import read_route
from routing.line.files import vector as _vector
from routing.survey import read_survey

SECONDS = 60
assert all((pyogrio.raw, shapely, CRS, _vector))  # imported before the processes part


def attempt(path: Path, reader: object) -> tuple[str, str]:
    """Read one file; everything but an error of ours is a fault."""
    try:
        found = reader(path)  # type: ignore[operator]
    except LeatlineError as error:
        return "refused", str(error)
    except BaseException:
        return "fault", traceback.format_exc()
    return "read", repr(found)[:2000]


def in_child(path: Path, reader: object) -> dict[str, object]:
    """Read one file in a process of its own."""
    receiver, sender = os.pipe()
    begin = time.monotonic()
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
        opened: list[str] = []
        sys.addaudithook(
            lambda event, values: (
                opened.append(f"{event} {values}")
                if event.startswith(("socket.", "os.system", "subprocess."))
                or (event == "open" and "canary" in str(values[0]))
                else None
            )
        )
        outcome, message = attempt(path, reader)
        with os.fdopen(sender, "w", encoding="utf-8", errors="replace") as out:
            out.write(json.dumps([outcome, message, opened]))
        os._exit(0)
    os.close(sender)
    with os.fdopen(receiver, encoding="utf-8") as answers:
        answer = answers.read()
    _, status, usage = os.wait4(child, 0)
    outcome, message, opened = json.loads(answer) if answer else ["died", f"status {status}", []]
    return {
        "name": path.name,
        "outcome": outcome,
        "message": message,
        "opened": opened,
        "seconds": time.monotonic() - begin,
        "megabytes": usage.ru_maxrss / 1024,
    }


if __name__ == "__main__":
    reader = read_survey if sys.argv[1] == "survey" else read_route
    for name in sys.argv[2:]:
        print(json.dumps(in_child(Path(name), reader)), flush=True)
