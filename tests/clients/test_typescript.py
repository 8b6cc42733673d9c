"""The types of the service that TypeScript has are those that its description makes."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

CLIENTS = Path(__file__).parents[2] / "clients"
SHIPPED = CLIENTS / "browser" / "src" / "generated" / "service.ts"


@pytest.fixture(scope="module")
def generator(tmp_path_factory):
    """Give a copy of the generator's folder with the packages of its lock file."""
    if shutil.which("npm") is None or shutil.which("node") is None:
        pytest.skip("node and npm are not here: the types were not made again")
    folder = tmp_path_factory.mktemp("types") / "clients" / "typescript"
    shutil.copytree(CLIENTS / "typescript", folder, ignore=shutil.ignore_patterns("node_modules"))
    command = ["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
    got = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    if got.returncode and any(sign in got.stderr for sign in ("ENOTFOUND", "ECONN", "ETIMEDOUT")):
        pytest.skip("no package registry is in reach: the types were not made again")
    assert got.returncode == 0, got.stderr
    return folder


def test_the_types_are_what_the_description_makes(generator, tmp_path):
    told = subprocess.run(
        [sys.executable, "describe.py"], cwd=generator, capture_output=True, check=True
    )
    (generator / "openapi.json").write_bytes(told.stdout)
    made = generator.parent / "browser" / "src" / "generated" / "service.ts"
    made.parent.mkdir(parents=True)
    subprocess.run(["npm", "run", "types"], cwd=generator, capture_output=True, check=True)
    assert made.read_text() == SHIPPED.read_text(), (
        "make them again: npm ci && npm run generate in clients/typescript"
    )


def test_the_page_asks_by_these_types():
    assert 'from "./generated/service"' in (SHIPPED.parents[1] / "api.ts").read_text()
