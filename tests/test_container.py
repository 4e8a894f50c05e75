"""The container file of the guide: what each instruction says, and its commands in a plain folder.

No engine is needed. The instructions are those of the Dockerfile reference; that a container is
right wants an engine and is tried by hand.
"""

from __future__ import annotations

import fnmatch
import json
import os
import re
import socket
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from waiting import until

ROOT = Path(__file__).parents[1]
GUIDE = (ROOT / "web/guide/hosting.md").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
OPT = "/opt/leatline/bin/"


def container_file() -> list[tuple[str, str]]:
    """Return the instructions in order, lines that go on put together."""
    (text,) = re.findall(r"```dockerfile\n(.*?)```", GUIDE, re.DOTALL)
    rows = re.sub(r" *\\\n *", " ", text).strip().splitlines()
    return [(word, rest) for word, _, rest in (row.partition(" ") for row in rows)]


def one(word: str) -> str:
    (found,) = [rest for name, rest in container_file() if name == word]
    return found


def test_container__is_slim_unprivileged_and_watched() -> None:
    steps = container_file()
    assert re.fullmatch(r"debian:\d+-slim", one("FROM"))  # a release, not what is newest today
    assert steps[0][0] == "FROM"
    words = [name for name, _ in steps]
    assert words.count("CMD") == words.count("HEALTHCHECK") == words.count("USER") == 1
    user = one("USER")
    assert user not in ("root", "0")
    assert f"useradd --system --home-dir /data {user}" in one_run("useradd")
    after = words[words.index("USER") :]
    assert {"RUN", "COPY"}.isdisjoint(after)  # what is installed is root's
    kept = json.loads(one("VOLUME"))
    assert kept == ["/data", "/access"]
    for place in kept:
        assert re.search(rf"chown {user}\b.* {place}\b", one_run("useradd"))
    assert one("ENV").partition("=")[2].startswith("/data/")
    assert "ADD" not in words
    assert "|" not in one_run("apt-get")
    assert "sudo" not in str(steps)


def one_run(part: str) -> str:
    (found,) = [rest for name, rest in container_file() if name == "RUN" and part in rest]
    return found


def test_container__copies_the_wheel_that_is_built() -> None:
    source, place = one("COPY").split()
    wheel = f"{PROJECT['name']}-{PROJECT['version']}-py3-none-any.whl"
    assert fnmatch.fnmatch(wheel, source)
    assert f"pip install --no-cache-dir {place}{source}" in one_run("pip install")
    assert json.loads(one("CMD"))[0] == f"{OPT}leatline"
    assert "leatline" in PROJECT["scripts"]
    # Debian 13 brings Python 3.13 (packages.debian.org/trixie/python3), which the project must take
    assert one("FROM") == "debian:13-slim"
    assert "3.13" in (ROOT / ".ci/pythons.py").read_text(encoding="utf-8")


def test_container__is_run_read_only_and_bounded() -> None:
    (run,) = re.findall(r'run="\$ENGINE run (.*?)"', GUIDE, re.DOTALL)
    for option in ("--read-only", "--tmpfs /tmp", "--memory 4g", "--pids-limit 200",
                   "--cap-drop ALL", "--security-opt no-new-privileges"):  # fmt: skip
        assert option in run
    for place in json.loads(one("VOLUME")):
        assert re.search(rf"--volume \w+:{place}\b", run)
    port = json.loads(one("CMD"))[json.loads(one("CMD")).index("serve") :]
    assert "--port" not in port  # the one that is exposed
    assert f"127.0.0.1:{one('EXPOSE')}:{one('EXPOSE')}" in GUIDE


@pytest.fixture
def short() -> Iterator[Path]:
    """A folder whose name leaves room for that of a socket in it (108 bytes in Linux)."""
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)


def test_container__commands_run_in_a_plain_folder(tmp_path: Path, short: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    for name in ("data", "access"):
        (tmp_path / name).mkdir()

    def here(command: list[str]) -> list[str]:
        """The command with this interpreter, these folders and that port."""
        found = []
        for word in command:
            word = re.sub(r"^/(data|access)\b", rf"{tmp_path}/\1", word)
            found.append(word.replace("8765", str(port)))
        return [*tool[found[0]], *found[1:]]

    tool = {f"{OPT}leatline": [sys.executable, "-m", "api.cli"], f"{OPT}python": [sys.executable]}
    cache, _, place = one("ENV").partition("=")
    environment = {
        "PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT), "HOME": "/nonexistent",
        "TMPDIR": str(short), cache: f"{tmp_path}{place}",
    }  # fmt: skip
    (add,) = re.findall(r"\$run --rm leatline (.*)", GUIDE)
    first = here(add.split())
    given = subprocess.run(first, env=environment, capture_output=True, text=True, check=True)
    assert given.stdout.strip()

    health = here(json.loads(one("HEALTHCHECK").partition("CMD ")[2]))
    refused = subprocess.run(health, env=environment, capture_output=True, check=False)
    assert refused.returncode != 0  # nothing runs yet
    command = [*here(json.loads(one("CMD"))), "--port", str(port)]
    with subprocess.Popen(command, env=environment, stderr=subprocess.PIPE, text=True) as service:
        try:
            assert service.stderr is not None
            assert f":{port}/" in service.stderr.readline()

            def healthy() -> bool:
                assert service.poll() is None
                asked = subprocess.run(health, env=environment, capture_output=True, check=False)
                return asked.returncode == 0

            until(healthy, "a healthy service")
        finally:
            service.terminate()
            service.wait(60)
    assert (tmp_path / "data/leatline.sqlite3").exists()
    assert (tmp_path / "access/access.db").exists()
