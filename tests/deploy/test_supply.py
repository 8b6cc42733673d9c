"""What is installed where the service is deployed: by digest, and all that the project asks for."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parents[2]
SUPPLY = ROOT / "deploy/supply"
ENTRY = re.compile(r"^([A-Za-z0-9._-]+)==([^ ;\\]+)(?: ; ([^\\]+?))? \\$", re.MULTILINE)


def locked(name: str) -> set[tuple[str, Version]]:
    """Return packages and versions; some have another version for another Python."""
    found = ENTRY.findall((SUPPLY / name).read_text("utf-8"))
    return {(canonicalize_name(package), Version(version)) for package, version, _ in found}


def asked() -> list[Requirement]:
    service = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    client = tomllib.loads((ROOT / "clients/python/pyproject.toml").read_text("utf-8"))["project"]
    extras = service["optional-dependencies"]
    lists = (
        service["dependencies"],
        client["dependencies"],
        *map(extras.get, ("postgres", "s3", "traces")),
    )
    return [Requirement(line) for lines in lists for line in lines]


@pytest.mark.parametrize("requirement", asked(), ids=lambda r: r.name)
def test_the_lock_has_what_the_project_asks_for(requirement: Requirement) -> None:
    name = canonicalize_name(requirement.name)
    versions = [version for package, version in locked("service.lock") if package == name]
    assert versions
    assert all(requirement.specifier.contains(version) for version in versions)


@pytest.mark.parametrize("lock", ["service.lock", "build.lock"])
def test_every_package_of_a_lock_is_known_by_its_digest(lock: str) -> None:
    text = (SUPPLY / lock).read_text("utf-8")
    entries = re.split(r"\n(?=[A-Za-z0-9])", text.strip())
    assert entries
    assert all(re.search(r"--hash=sha256:[0-9a-f]{64}$", entry) for entry in entries)
    assert len(entries) == len(locked(lock))


def test_licences_are_told_for_what_the_lock_has() -> None:
    text = (SUPPLY / "licences.md").read_text("utf-8")
    rows = re.findall(r"^\| (\S+) \| (\S+) \| (.+) \|$", text, re.MULTILINE)
    told = {(canonicalize_name(name), Version(version)) for name, version, _ in rows[1:]}
    lock = locked("service.lock")
    assert told <= lock
    # What is in the lock for other systems alone is not installed where the table was made.
    assert len(told) >= 0.9 * len(lock)
