"""Things done side by side: the same as one after another."""

import threading
import time

import pytest

from letterply import side_by_side as module
from letterply.side_by_side import side_by_side
from letterply.units import format_mm, speaking


@pytest.fixture(params=[True, False], ids=["free core", "busy machine"])
def free(request, monkeypatch):
    monkeypatch.setattr(module, "_has_free_core", lambda: request.param)
    monkeypatch.setattr(module, "_cores", lambda: 3)
    return request.param


def test_answers_come_in_the_order_of_the_things(free):
    def late_first(n):
        time.sleep(0.02 * (3 - n))
        return n * n

    assert side_by_side(late_first, range(4)) == [0, 1, 4, 9]
    assert side_by_side(late_first, []) == []


def test_helpers_work_only_on_a_free_core(free):
    together = threading.Barrier(3)

    def meet(_):
        try:
            together.wait(timeout=2.0 if free else 0.1)
        except threading.BrokenBarrierError:
            return False
        return True

    assert side_by_side(meet, range(3)) == [free] * 3


def test_the_first_that_fails_is_told_and_what_waits_is_not_begun(free):
    begun = []

    def work(n):
        begun.append(n)
        if n in (1, 2):
            time.sleep(0.05 * (3 - n))  # the later one fails sooner
            raise ValueError(n)
        time.sleep(0.05)

    with pytest.raises(ValueError, match="1"):
        side_by_side(work, range(50))
    assert len(begun) < 10


def test_helpers_speak_the_units_of_the_shop(free):
    def told(_):
        time.sleep(0.01)
        return threading.get_ident(), format_mm(25.4)

    with speaking("inch"):
        found = side_by_side(told, range(12))
    assert {text for _, text in found} == {"1 in"}
    assert (len({thread for thread, _ in found}) > 1) == free


def test_whether_a_core_is_free_is_read_from_the_system(tmp_path, monkeypatch):
    told = tmp_path / "loadavg"
    monkeypatch.setattr(module, "_LOAD", told)
    monkeypatch.setattr(module, "_cores", lambda: 2)
    for text, wanted in (
        ("0.1 0.1 0.1 2/300 7", True),
        ("0.1 0.1 0.1 3/300 7", False),
        ("", False),
    ):
        told.write_text(text)
        assert module._has_free_core() is wanted
