"""Whether something was remembered is not told by an answer; what a change costs is told alone."""

import pytest

from bench.changes import SIGN, changed, timed


@pytest.mark.parametrize("name", ["size", "thickness", "machine", "growth", "title"])
def test_a_change_gives_the_same_bytes_whatever_was_remembered(tmp_path, name):
    timed("stack", {"recipe": SIGN}, str(tmp_path))
    _, warm = timed("stack", changed(name), str(tmp_path))
    _, cold = timed("stack", changed(name), None)
    assert warm.artifacts == cold.artifacts
    assert warm.answer == cold.answer
