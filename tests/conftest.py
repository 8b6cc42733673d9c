"""What every test shares."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from postgres_cluster import Cluster, private_cluster

_FEW_AND_LONG = ("deploy", "fuzz", "bench")
"""Folders whose files have few and long tests: if they came last, one core would wait."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Have long files first, which counts where files run side by side."""
    here = Path(__file__).parent
    items.sort(key=lambda item: item.path.relative_to(here).parts[0] not in _FEW_AND_LONG)


@pytest.fixture(autouse=True)
def clean_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """No setting of the person who runs the tests reaches them."""
    for name in [n for n in os.environ if n.startswith("LETTERPLY_") and n != "LETTERPLY_VENV"]:
        monkeypatch.delenv(name)


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """Give a PostgreSQL server of our own, one for all tests that need one."""
    with private_cluster() as made:
        yield made


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Give the URL of a fresh database, one kind after the other."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'index.sqlite'}"
    return str(request.getfixturevalue("cluster").new_database())


# Compiling a kernel the first time takes longer than any deadline; the same cases on every run.
settings.register_profile("letterply", deadline=None, derandomize=True)
settings.load_profile("letterply")
