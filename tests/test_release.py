"""What a release is made of agrees: version and changelog, dependencies and their lock."""

from __future__ import annotations

import re
import tomllib
from datetime import date
from itertools import chain
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
CHANGES = (ROOT / "web/guide/changes.md").read_text(encoding="utf-8")
LOCK = (ROOT / ".ci/requirements.lock").read_text(encoding="utf-8")

RELEASE = re.compile(r"\[(?P<version>\d+\.\d+\.\d+)\] - (?P<day>\d{4}-\d{2}-\d{2})")
KINDS = {"Added", "Changed", "Deprecated", "Removed", "Fixed", "Security"}
"""Headings of the form (Keep a Changelog 1.1.0)."""


def headings(level: str) -> list[str]:
    return re.findall(rf"^{level} (.+)$", CHANGES, re.MULTILINE)


def test_changelog__newest_release_is_the_version_of_the_package() -> None:
    releases = [text for text in headings("##") if text != "[Unreleased]"]
    found = [RELEASE.fullmatch(text) for text in releases]
    assert all(found), releases
    versions = [Version(match["version"]) for match in found if match]
    assert str(versions[0]) == PROJECT["version"]
    assert versions == sorted(set(versions), reverse=True)
    days = [date.fromisoformat(match["day"]) for match in found if match]
    assert days == sorted(days, reverse=True)


def test_citation__is_of_this_release() -> None:
    """The keys that the Citation File Format 1.2.0 asks for, and the version of the package."""
    text = (ROOT / ".github/CITATION.cff").read_text(encoding="utf-8")
    told = dict(re.findall(r"^([a-z-]+): *(.*)$", text, re.MULTILINE))
    assert {"cff-version", "message", "title", "authors"} <= told.keys()
    assert (told["version"], told["license"]) == (PROJECT["version"], PROJECT["license"])
    newest = RELEASE.search(CHANGES)
    assert newest is not None
    assert told["date-released"] == newest["day"]


def test_changelog__keeps_the_form() -> None:
    assert "[Unreleased]" not in headings("##")[1:]
    assert set(headings("###")) <= KINDS
    for release in re.split(r"^## ", CHANGES, flags=re.MULTILINE)[1:]:
        kinds = re.findall(r"^### (.+)$", release, re.MULTILINE)
        assert kinds, f"{release.splitlines()[0]}: no kind of change"
        assert len(kinds) == len(set(kinds)), kinds
        assert all(re.findall(r"^- ", part, re.M) for part in release.split("### ")[1:])


def locked() -> dict[str, list[str]]:
    """Return the versions that the lock has of each package: several where Pythons differ."""
    found: dict[str, list[str]] = {}
    for entry in re.split(r"\n(?! )", LOCK.strip()):
        requirement = Requirement(entry.split("\\", 1)[0])
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", entry), requirement
        (pin,) = requirement.specifier
        assert pin.operator == "==", requirement
        found.setdefault(canonicalize_name(requirement.name), []).append(pin.version)
    return found


# The library of IFC is 55 MB, too much for every run; its test runs where it is installed.
EXTRAS = [wanted for name, wanted in PROJECT["optional-dependencies"].items() if name != "ifc"]
WANTED = [
    Requirement(text)
    for text in chain(PROJECT["dependencies"], *EXTRAS)
    if not text.startswith(PROJECT["name"])
]


@pytest.mark.parametrize("wanted", WANTED, ids=str)
def test_lock__holds_every_dependency_within_its_bounds(wanted: Requirement) -> None:
    assert [pin.operator for pin in wanted.specifier] == [">="]
    versions = locked()[canonicalize_name(wanted.name)]
    assert all(wanted.specifier.contains(version) for version in versions), versions


def test_lock__names_no_place_to_fetch_from() -> None:
    assert not re.search(r"://|index-url|find-links| @ ", LOCK)


def test_ci__runs_the_commands_of_the_readme() -> None:
    # The shell script takes the first line of each kind; there must be just these two.
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = re.findall(r"^python3 -m venv .*$", readme, re.MULTILINE)
    assert [command.split()[-1] for command in commands] == ["demo", "pytest"]
    script = (ROOT / ".ci/run").read_text(encoding="utf-8")
    assert 'readme "leatline demo"' in script
    assert "readme pytest && return" in script
    assert "\ncheck tests\n" in script
