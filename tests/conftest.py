"""What every test shares."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings


@pytest.fixture(autouse=True)
def clean_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """No setting of the person who runs the tests reaches them."""
    for name in [n for n in os.environ if n.startswith("LETTERPLY_") and n != "LETTERPLY_VENV"]:
        monkeypatch.delenv(name)


# Compiling a kernel the first time takes longer than any deadline; the same cases on every run.
settings.register_profile("letterply", deadline=None, derandomize=True)
settings.load_profile("letterply")
