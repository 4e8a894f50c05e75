"""The third-party files of the pages: fetched by the build, named by the lock file."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path
from types import ModuleType

import pytest
from missing import missing

import web
from web import asset

WEB = Path(web.__file__).parent


def test_asset__the_map_library_is_installed() -> None:
    script = asset("leaflet/dist/leaflet.js").read_text(encoding="utf-8")
    locked = json.loads((WEB / "package-lock.json").read_text(encoding="utf-8"))["packages"]
    assert f'version="{locked["node_modules/leaflet"]["version"]}"' in script
    assert asset("leaflet/LICENSE").stat().st_size > 500


def test_asset__missing_file_says_what_to_do() -> None:
    with pytest.raises(FileNotFoundError, match=r"'nowhere/x\.js' is not installed.*pip install"):
        asset("nowhere/x.js")


def test_lock_file__pins_content_and_names_no_host() -> None:
    text = (WEB / "package-lock.json").read_text(encoding="utf-8")
    assert "://" not in text
    assert "resolved" not in text
    packages = json.loads(text)["packages"]
    assert all("integrity" in entry for name, entry in packages.items() if name)


@pytest.fixture
def hook() -> ModuleType:
    """The build hook's module, which needs the build backend."""
    if importlib.util.find_spec("hatchling") is None:
        missing("hatchling, the build backend (pip install hatchling)")
    spec = importlib.util.spec_from_file_location("web_build_hook", WEB / "build.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def made_hook(hook: ModuleType, target: str = "wheel"):
    return hook.FrontEndHook(str(WEB.parent), {}, None, None, str(WEB.parent), target)


def test_hook__asks_the_index_for_npm_only_where_there_is_none(
    hook, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(hook, "installed", lambda: False)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert made_hook(hook).dependencies() == [hook.NPM_FROM_INDEX]
    for name, words in (("node", "v20.0.0"), ("npm", "10.1.0")):
        tool = tmp_path / name
        tool.write_text(f"#!/bin/sh\necho {words}\n")
        tool.chmod(0o755)
    assert made_hook(hook).dependencies() == []
    (tmp_path / "npm").write_text("#!/bin/sh\necho 6.14.4\n")
    assert made_hook(hook).dependencies() == [hook.NPM_FROM_INDEX]


def test_hook__an_installed_set_is_not_fetched_again(hook, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hook, "install", lambda: pytest.fail("npm was run"))
    build_data: dict = {"artifacts": []}
    made_hook(hook).initialize("standard", build_data)
    assert "/web/node_modules/leaflet/LICENSE" in build_data["artifacts"]
    made_hook(hook, "sdist").initialize("standard", archive := {"artifacts": []})
    assert f"/web/node_modules/{hook.MANIFEST}" in archive["artifacts"]


def test_archive__makes_the_wheel_without_a_network(hook, tmp_path: Path) -> None:
    """The source archive is made, unpacked, and the wheel built where no npm and no index are."""
    build(WEB.parent, "sdist", tmp_path / "made")
    (archive,) = (tmp_path / "made").glob("*.tar.gz")
    with tarfile.open(archive) as packed:
        packed.extractall(tmp_path, filter="data")
    (unpacked,) = tmp_path.glob("leatline-*")
    build(unpacked, "wheel", tmp_path / "made")
    (wheel,) = (tmp_path / "made").glob("*.whl")
    with zipfile.ZipFile(wheel) as packed:
        names = set(packed.namelist())
    assert {f"web/node_modules/{name}" for name in hook.SHIPPED if "*" not in name} <= names
    assert {"web/guide/index.md", "sample_dem/otterfell.tif", "web/index.html"} <= names


def build(folder: Path, what: str, out: Path) -> None:
    """Run the build backend on a folder, with nothing else on the path."""
    command = [sys.executable, "-m", "hatchling", "build", "-t", what, "-d", str(out)]
    done = subprocess.run(
        command, cwd=folder, env={"PATH": ""}, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr


def test_hook__another_version_counts_as_not_installed(
    hook, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert hook.installed()
    wanted = dict.fromkeys(hook.locked(), "0.0.1")
    monkeypatch.setattr(hook, "locked", lambda: wanted)
    assert not hook.installed()
