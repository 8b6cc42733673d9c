"""Examples in docstrings are run: what they show is what comes out."""

import doctest
import importlib
from pathlib import Path

import pytest

import letterply

ROOT = Path(letterply.__file__).parent
SHOWING = sorted(
    path.relative_to(ROOT.parent).with_suffix("").as_posix().replace("/", ".")
    for path in ROOT.rglob("*.py")
    if ">>> " in path.read_text("utf-8")
)


def test_many_modules_have_examples():
    assert len(SHOWING) > 40


@pytest.mark.parametrize("name", SHOWING)
def test_what_an_example_shows_comes_out(name):
    found = doctest.testmod(importlib.import_module(name))
    assert found.attempted
    assert not found.failed
