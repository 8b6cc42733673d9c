"""The bench page as it ships is what its sources make, and it is light."""

from __future__ import annotations

import gzip
import shutil
import subprocess
from pathlib import Path

import pytest

import letterply

SOURCES = Path(__file__).parents[2] / "clients" / "browser"
SHIPPED = Path(letterply.__file__).parent / "api" / "static" / "page"
HEAVIEST_KB = 150


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    """Give a copy of the sources with the packages of the lock file beside them."""
    if shutil.which("npm") is None or shutil.which("node") is None:
        pytest.skip("node and npm are not here: the page was not built again")
    folder = tmp_path_factory.mktemp("page") / "browser"
    shutil.copytree(SOURCES, folder, ignore=shutil.ignore_patterns("node_modules"))
    command = ["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
    got = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    if got.returncode and any(sign in got.stderr for sign in ("ENOTFOUND", "ECONN", "ETIMEDOUT")):
        pytest.skip("no package registry is in reach: the page was not built again")
    assert got.returncode == 0, got.stderr
    return folder


def test_the_shipped_files_are_what_the_sources_make(workshop, tmp_path):
    subprocess.run(["node", "build.mjs", str(tmp_path)], cwd=workshop, check=True)
    made = {file.name: file.read_bytes() for file in tmp_path.iterdir()}
    shipped = {file.name: file.read_bytes() for file in SHIPPED.iterdir()}
    assert sorted(made) == sorted(shipped)
    differing = [name for name in made if made[name] != shipped[name]]
    assert not differing, "build again: npm run build in clients/browser"


def test_the_sources_have_the_types_that_they_say(workshop):
    got = subprocess.run(
        ["node", "node_modules/typescript/bin/tsc"],
        cwd=workshop,
        capture_output=True,
        text=True,
        check=False,
    )
    assert got.returncode == 0, got.stdout


def test_what_needs_no_browser_is_right(workshop):
    got = subprocess.run(
        ["node", "test.mjs"], cwd=workshop, capture_output=True, text=True, check=False
    )
    assert got.returncode == 0, got.stdout + got.stderr


def test_the_first_view_is_light():
    packed = sum(len(gzip.compress(file.read_bytes())) for file in SHIPPED.iterdir())
    assert packed < HEAVIEST_KB * 1000
    markup = (SHIPPED / "index.html").read_text()
    assert "//" not in markup.replace("<!doctype", "")  # nothing from elsewhere


def test_no_source_file_is_long():
    for file in [*SOURCES.glob("src/*.ts*"), *SOURCES.glob("*.mjs")]:
        assert len(file.read_text().splitlines()) <= 400, file.name
