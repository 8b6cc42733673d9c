"""What jobs share is found out once, and nobody can tell from the answers."""

import pytest

from boathouse import changed, rack_sign
from letterply.jobs.resources import Resources
from letterply.jobs.run import run_job
from letterply.jobs.shared_answers import SharedAnswers


@pytest.fixture
def asked():
    return []


def answering(asked, answer):
    """Return what finds an answer out and notes that it was asked."""

    def find_out():
        asked.append(answer)
        return answer

    return find_out


def test_a_question_is_answered_once(tmp_path, asked):
    for _ in range(2):
        found = SharedAnswers(str(tmp_path), ("limits",)).once(
            ("layer", 3.0), answering(asked, (1, "a"))
        )
        assert found == (1, "a")
    assert len(asked) == 1


def test_another_question_or_context_is_another_answer(tmp_path, asked):
    for context, question in [("a", 1), ("a", 2), ("b", 1)]:
        SharedAnswers(str(tmp_path), (context,)).once(question, answering(asked, question))
    assert len(asked) == 3


def test_without_a_folder_nothing_is_remembered(asked):
    for _ in range(2):
        SharedAnswers(None).once("question", answering(asked, 1))
    assert len(asked) == 2


@pytest.mark.parametrize("harm", [b"", b"no message", b"\x95\x01\xa10\x90\x90\xc0"])
def test_a_damaged_answer_is_found_out_again(tmp_path, asked, harm):
    shared = SharedAnswers(str(tmp_path))
    shared.once("question", answering(asked, 1))
    next(tmp_path.iterdir()).write_bytes(harm)
    assert [shared.once("question", answering(asked, 1)) for _ in range(2)] == [1, 1]
    assert len(asked) == 2


def test_a_bit_that_fell_over_on_the_disk_is_noticed(tmp_path, asked):
    """In the middle of a text, where the message is still one that can be read."""
    answers = SharedAnswers(str(tmp_path))
    answers.once("question", answering(asked, "G1 X10 Y20"))
    (kept,) = tmp_path.iterdir()
    kept.write_bytes(kept.read_bytes().replace(b"X10", b"X18"))
    assert answers.once("question", answering(asked, "G1 X10 Y20")) == "G1 X10 Y20"
    assert len(asked) == 2


def test_a_folder_that_cannot_be_written_only_costs_time(tmp_path, asked):
    (tmp_path / "file").touch()
    shared = SharedAnswers(str(tmp_path / "file" / "shared"))
    assert [shared.once("question", answering(asked, 1)) for _ in range(2)] == [1, 1]


def test_the_folder_stays_within_its_limit_and_what_is_used_stays(tmp_path, asked):
    shared = SharedAnswers(str(tmp_path), limit_bytes=50_000)
    shared.once("used", answering(asked, "x" * 1000))
    for number in range(400):
        shared.once(number, answering(asked, "y" * 1000))
        shared.once("used", answering(asked, "x" * 1000))
    # It is looked at now and then: one in sixteen answers, by their digests.
    assert sum(p.stat().st_size for p in tmp_path.iterdir()) < 4 * 50_000
    assert asked.count("x" * 1000) == 1


CHANGES = {
    "title": lambda r: r | {"title": "Another title"},
    "thickness": lambda r: changed(
        r, layers=[r["layers"][0] | {"thickness": 12}, *r["layers"][1:]]
    ),
    "machine": lambda r: r,
}


@pytest.mark.parametrize("change", CHANGES)
def test_an_answer_with_a_memory_has_the_same_bytes(tmp_path, change):
    shop = {"shop": {"machine": "plain-router-inch"}} if change == "machine" else {}
    request = {"recipe": CHANGES[change](rack_sign()), **shop}
    memory = Resources(shared_folder=str(tmp_path))
    run_job("plan", {"recipe": rack_sign()}, memory)
    before = len(list(tmp_path.iterdir()))
    remembered = run_job("plan", request, memory)
    fresh = run_job("plan", request, Resources())
    assert remembered.artifacts == fresh.artifacts
    assert remembered.later == fresh.later
    learned = {"title": 0, "machine": 3}  # a layer that is thicker is another stack
    assert change not in learned or len(list(tmp_path.iterdir())) - before == learned[change]
