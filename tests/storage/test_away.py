"""What is away or full is waited for; all else is told at once."""

import errno

import pytest

from letterply.errors import InputError, LetterplyError
from letterply.storage import Database, full_is_busy, is_away, sqlite_url, while_away
from letterply.storage.away import reaching_folder
from letterply.storage.vault import FolderVault, PatientVault

KEY = "a" * 32
AWAY = LetterplyError("It does not answer.", code="store-unreachable")
FULL = OSError(errno.ENOSPC, "no space left on device")
MISSING = OSError(errno.ENOENT, "no such file")


class Coming:
    """Raises what it is given, one after the other, then answers."""

    def __init__(self, *raised):
        self.left = list(raised)

    def __call__(self):
        """Raise what is next."""
        if self.left:
            raise self.left.pop(0)
        return "made"


@pytest.fixture(autouse=True)
def short_pauses(monkeypatch):
    monkeypatch.setattr("letterply.storage.away.SHORTEST_PAUSE_S", 0.001)


def test_what_is_away_or_full_is_tried_again_until_it_is_back():
    assert while_away(Coming(AWAY, FULL, AWAY)) == "made"


@pytest.mark.parametrize("error", [MISSING, InputError("No.", code="bad-value")])
def test_another_error_is_raised_at_once(error):
    work = Coming(error, error)
    with pytest.raises(type(error)):
        while_away(work)
    assert len(work.left) == 1
    assert not is_away(error)


def test_who_gives_up_is_told_what_was_raised():
    with pytest.raises(LetterplyError) as caught:
        while_away(Coming(AWAY), give_up=lambda: True)
    assert caught.value is AWAY


def test_a_folder_that_is_away_is_said_in_our_words_and_nothing_is_put_in_its_place(tmp_path):
    vault = FolderVault(tmp_path / "store")
    name = vault.write(b"bytes")
    vault.note(KEY, {"bytes": name})
    away = (tmp_path / "store").rename(tmp_path / "aside")
    asked = [
        lambda: vault.write(b"more"),
        lambda: vault.read(name),
        lambda: vault.path_of(name),
        lambda: vault.recall(KEY),
        lambda: vault.is_whole({"bytes": name}),
        lambda: vault.note("b" * 32, {}),
    ]
    for ask in asked:
        with pytest.raises(LetterplyError) as caught:
            ask()
        assert caught.value.code == "store-unreachable"
    assert not (tmp_path / "store").exists()
    away.rename(tmp_path / "store")
    assert vault.recall(KEY) == {"bytes": name}
    assert vault.read(name) == b"bytes"


def test_a_database_whose_folder_is_away_is_busy_and_then_there_again(tmp_path):
    place = tmp_path / "store"
    place.mkdir()
    database = Database(sqlite_url(place / "index.sqlite"), patience_s=0.2)
    try:
        database.engine.dispose()
        away = place.rename(tmp_path / "aside")
        with pytest.raises(LetterplyError) as caught:
            database.read(lambda db: db.exec_driver_sql("SELECT 1").scalar_one())
        assert caught.value.code == "store-busy"
        away.rename(place)
        assert database.read(lambda db: db.exec_driver_sql("SELECT 1").scalar_one()) == 1
    finally:
        database.close()


@pytest.mark.parametrize("number", [errno.EIO, errno.ESTALE, errno.EROFS])
def test_a_disk_that_does_not_answer_is_away_and_a_missing_file_is_not(tmp_path, number):
    with pytest.raises(LetterplyError) as caught, reaching_folder(tmp_path):
        raise OSError(number, "it does not answer")
    assert is_away(caught.value)
    with pytest.raises(FileNotFoundError), reaching_folder(tmp_path):
        raise MISSING


def test_a_full_disk_is_said_in_our_words_and_no_other_error_is():
    with pytest.raises(LetterplyError) as caught, full_is_busy():
        raise FULL
    assert caught.value.code == "store-busy"
    with pytest.raises(FileNotFoundError), full_is_busy():
        raise FileNotFoundError(errno.ENOENT, "no such file")


def test_a_patient_vault_waits_for_whatever_is_asked_of_it(tmp_path, monkeypatch):
    inner = FolderVault(tmp_path)
    vault = PatientVault(inner)
    digest = vault.write(b"a layer")
    vault.note(KEY, {"file": digest})
    for name in ("write", "read", "path_of", "recall", "is_whole", "note"):
        real, away = getattr(inner, name), Coming(AWAY, FULL)

        def once_back(*given, real=real, away=away):
            away()
            return real(*given)

        monkeypatch.setattr(inner, name, once_back)
    assert vault.read(digest) == vault.path_of(digest).read_bytes() == b"a layer"
    assert vault.recall(KEY) == {"file": digest}
    assert vault.is_whole({"file": digest})
    vault.note(KEY, {"file": digest})
    assert vault.write(b"a layer") == digest
