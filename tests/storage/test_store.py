"""The store: nothing half stored, nothing lost, nothing changed by a failure."""

import sqlite3
import threading

import pytest

from letterply.errors import LetterplyError, NotFound
from letterply.storage import tables
from letterply.storage.records import Finished, JobState, KeyRecord, UploadKind
from letterply.storage.runs import Runs
from letterply.storage.store import Store

REQUEST = {"recipe": {"title": "Godwit", "copies": 2}}
FINISHED = Finished(
    "stack.json",
    {"stack.json": b'{"summary": "fine"}', "layers/face.svg": b"<svg/>", "empty.txt": b""},
    {"title": "Godwit", "summary": "fine"},
)


@pytest.fixture
def store(tmp_path, database_url):
    made = Store(tmp_path / "data", database_url)
    yield made
    made.close()


def ids(count):
    return [f"{n:032x}" for n in range(1, count + 1)]


def test_a_finished_job_is_found_whole(store):
    record = store.save_done("a" * 32, "stack", REQUEST, FINISHED)
    assert record == store.job("a" * 32)
    assert record.state is JobState.DONE
    assert record.request == REQUEST
    assert [a.path for a in record.artifacts] == ["empty.txt", "layers/face.svg", "stack.json"]
    assert {a.path: store.read(a) for a in record.artifacts} == dict(FINISHED.artifacts)
    assert store.is_whole(record)


def test_it_is_still_there_after_a_restart(tmp_path):
    first = Store(tmp_path)
    record = first.save_done("a" * 32, "stack", REQUEST, FINISHED)
    first.close()
    second = Store(tmp_path)
    assert second.job("a" * 32) == record
    second.close()


def test_a_lost_file_is_noticed(store):
    record = store.save_done("a" * 32, "stack", REQUEST, FINISHED)
    store.path_of(record.artifact("layers/face.svg").digest).unlink()
    assert not store.is_whole(record)


def test_a_job_that_is_not_there_is_named(store):
    with pytest.raises(NotFound) as caught:
        store.job("b" * 32)
    assert caught.value.code == "job-not-found"


def test_when_the_index_cannot_be_written_the_job_is_not_there(store, monkeypatch):
    """Artifacts first, the row last: a break between them leaves files, but no job."""

    def broken(_db, _key):
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr("letterply.storage.store._insert_key", broken)
    key = KeyRecord("k", "f" * 32, "a" * 32)
    with pytest.raises(sqlite3.OperationalError):
        store.save_done("a" * 32, "stack", REQUEST, FINISHED, [key])
    with pytest.raises(NotFound):
        store.job("a" * 32)


def test_when_an_artifact_cannot_be_written_the_job_is_not_there(store, monkeypatch):
    def full(_handle):
        raise OSError("no space left on device")

    monkeypatch.setattr("letterply.storage.blobs.os.fsync", full)
    with pytest.raises(OSError, match="no space"):
        store.save_done("a" * 32, "stack", REQUEST, FINISHED)
    with pytest.raises(NotFound):
        store.job("a" * 32)


def test_a_kept_job_waits_then_fails_then_waits_again_then_is_done(store):
    store.keep_waiting("a" * 32, "stack", REQUEST)
    assert store.job("a" * 32).state is JobState.QUEUED
    assert [(r.job, r.worker) for r in Runs(store.database, "w").look()] == [("a" * 32, None)]
    failure = {"code": "glyph-missing"}
    store.save_failed("a" * 32, failure)
    assert store.job("a" * 32).failure == failure
    assert Runs(store.database, "w").look() == ()
    store.keep_waiting("a" * 32, "stack", REQUEST)
    assert store.job("a" * 32).failure is None
    store.save_done("a" * 32, "stack", REQUEST, FINISHED)
    assert store.job("a" * 32).state is JobState.DONE


def test_a_job_that_is_done_stays_done(store):
    done = store.save_done("a" * 32, "stack", REQUEST, FINISHED)
    store.keep_waiting("a" * 32, "stack", REQUEST)
    store.save_failed("a" * 32, {"code": "late"})
    assert store.job("a" * 32) == done


def test_a_job_that_is_not_kept_does_not_fail_into_the_store(store):
    store.save_failed("a" * 32, {"code": "glyph-missing"})
    with pytest.raises(NotFound):
        store.job("a" * 32)


@pytest.mark.parametrize(
    "row",
    [
        ("queued", None, None, '{"code": "x"}'),
        ("failed", None, None, None),
        ("done", None, None, None),
        ("done", "stack.json", "{}", '{"code": "x"}'),
        ("lost", None, None, None),
    ],
)
def test_the_schema_refuses_impossible_jobs(tmp_path, row):
    Store(tmp_path).close()
    db = sqlite3.connect(tmp_path / "index.sqlite")
    with pytest.raises(sqlite3.IntegrityError):
        db.execute(
            "INSERT INTO jobs (id, kind, request, created_at, engine_version, state, document,"
            " headline, failure) VALUES ('a', 'stack', '{}', '', '1', ?, ?, ?, ?)",
            row,
        )
    db.close()


def test_pages_follow_each_other_without_gap_or_repeat(store):
    for job_id in ids(7):
        store.save_done(job_id, "stack", REQUEST, FINISHED)
    store.save_done("c" * 32, "check", REQUEST, FINISHED)
    seen, after, more = [], None, True
    while more:
        page, more = store.jobs("stack", limit=3, after=after)
        seen += [r.id for r in page]
        after = seen[-1]
    assert seen == ids(7)[::-1]


def test_a_page_after_nothing_known_is_an_error(store):
    with pytest.raises(NotFound):
        store.jobs("stack", limit=3, after="b" * 32)


def test_a_key_keeps_its_first_use(store):
    first = KeyRecord("rower\nkey", "f" * 32, "a" * 32)
    store.save_done("a" * 32, "stack", REQUEST, FINISHED, [first])
    store.save_key(KeyRecord("rower\nkey", "e" * 32, "a" * 32))
    assert store.key("rower\nkey") == first
    assert store.key("another") is None


def test_fonts_are_listed_by_name_in_pages(store):
    for number, name in enumerate(["Whimbrel", "Avocet", "Knot", "Avocet"]):
        data = f"font {number}".encode()
        store.add_upload(UploadKind.FONT, f"own-{number}", data, name, {"family": name})
    first, more = store.uploads(UploadKind.FONT, limit=3)
    assert more
    rest, more = store.uploads(UploadKind.FONT, limit=3, after=first[-1].id)
    assert not more
    assert [f.id for f in (*first, *rest)] == ["own-1", "own-3", "own-2", "own-0"]


def test_the_file_of_a_font_is_kept(store):
    facts = {"family": "Knot", "axes": []}
    font = store.add_upload(UploadKind.FONT, "own-1", b"font", "Knot", facts)
    assert store.path_of(font.digest).read_bytes() == b"font"
    assert store.upload(UploadKind.FONT, "own-1") == font
    again = store.add_upload(UploadKind.FONT, "own-1", b"font", "Other name", {})
    assert again == font


def test_a_store_of_another_layout_is_refused(tmp_path):
    Store(tmp_path).close()
    db = sqlite3.connect(tmp_path / "index.sqlite")
    db.execute("UPDATE letterply_layout SET version_num = '9999'")
    db.commit()
    db.close()
    with pytest.raises(LetterplyError) as caught:
        Store(tmp_path)
    assert caught.value.code == "store-layout"


def test_migrations_make_the_tables_that_the_code_knows(store):
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    def differences(db):
        options = {"version_table": "letterply_layout"}
        return compare_metadata(MigrationContext.configure(db, opts=options), tables.metadata)

    assert store.database.read(differences) == []


def test_a_store_of_before_the_migrations_is_taken_over(tmp_path):
    """Its tables, as the first version made them, with a job in them."""
    db = sqlite3.connect(tmp_path / "index.sqlite")
    db.executescript(FIRST_LAYOUT)
    db.execute(
        "INSERT INTO jobs (id, kind, state, request, created_at, engine_version, document,"
        " headline) VALUES (?, 'stack', 'done', '{}', 'then', '1', 'stack.json', '{}')",
        ("a" * 32,),
    )
    db.commit()
    db.close()
    store = Store(tmp_path)
    assert store.job("a" * 32).created_at == "then"
    store.keep_waiting("b" * 32, "stack", REQUEST)
    assert len(store.jobs("stack", limit=9)[0]) == 2
    store.close()


FIRST_LAYOUT = """
CREATE TABLE jobs (seq INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL, state TEXT NOT NULL, request TEXT NOT NULL, created_at TEXT NOT NULL,
    engine_version TEXT NOT NULL, document TEXT, headline TEXT, failure TEXT);
CREATE TABLE artifacts (job TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    path TEXT NOT NULL, digest TEXT NOT NULL, size INTEGER NOT NULL, PRIMARY KEY (job, path))
    WITHOUT ROWID;
CREATE TABLE fonts (id TEXT PRIMARY KEY, digest TEXT NOT NULL, name TEXT NOT NULL,
    description TEXT NOT NULL, size INTEGER NOT NULL, created_at TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE keys (key TEXT PRIMARY KEY, fingerprint TEXT NOT NULL,
    job TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE) WITHOUT ROWID;
PRAGMA user_version = 1;
"""


def test_many_threads_and_two_stores_on_one_folder_lose_nothing(tmp_path):
    stores = [Store(tmp_path), Store(tmp_path)]
    wanted = ids(24)
    failures = []

    def save(store, mine):
        try:
            for job_id in mine:
                store.save_done(job_id, "stack", REQUEST, FINISHED)
        except Exception as exc:
            failures.append(exc)

    threads = [threading.Thread(target=save, args=(stores[n % 2], wanted[n::6])) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert {r.id for r in stores[0].jobs("stack", limit=100)[0]} == set(wanted)
    for store in stores:
        store.close()


ARTIFACTS_BEFORE = """
CREATE TABLE artifacts (job TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    path TEXT NOT NULL, digest TEXT NOT NULL, size BIGINT NOT NULL, PRIMARY KEY (job, path))
"""


def test_a_store_of_before_drawings_were_kept_gets_its_table(tmp_path):
    Store(tmp_path).close()
    db = sqlite3.connect(tmp_path / "index.sqlite")
    for later in (
        "ALTER TABLE workers DROP COLUMN engine_version",
        "DROP TABLE request_counts",
        "DROP TABLE run_keys",
        "DROP TABLE runs",
        "ALTER TABLE workers DROP COLUMN process",
        "DROP TABLE stock_commits",
        "DROP TABLE webhook_calls",
        "DROP TABLE webhooks",
        "DROP TABLE holdings",
        "DROP TABLE api_keys",
        "DROP TABLE offer_replies",
        "DROP TABLE offers",
        "DROP TABLE shop_versions",
        "DROP TABLE shops",
        "DROP TABLE artworks",
        "ALTER TABLE orders DROP COLUMN generation",
        "ALTER TABLE workers DROP COLUMN generation",
        "ALTER TABLE jobs DROP COLUMN answer",
        "DROP TABLE artifacts",
        ARTIFACTS_BEFORE,
    ):
        db.execute(later)
    db.execute("UPDATE letterply_layout SET version_num = '0002'")
    db.commit()
    db.close()
    store = Store(tmp_path)
    assert store.uploads(UploadKind.ARTWORK, limit=5) == ((), False)
    with pytest.raises(NotFound) as caught:
        store.upload(UploadKind.ARTWORK, "art-none")
    assert caught.value.code == "artwork-not-found"
    store.close()


def test_drawings_are_listed_in_pages_by_name(tmp_path):
    store = Store(tmp_path)
    for name in ("Knot", "Dunlin", "Avocet"):
        store.add_upload(UploadKind.ARTWORK, f"art-{name}", name.encode(), name, {"title": name})
    first, more = store.uploads(UploadKind.ARTWORK, limit=2)
    rest, none = store.uploads(UploadKind.ARTWORK, limit=2, after=first[-1].id)
    assert [a.name for a in (*first, *rest)] == ["Avocet", "Dunlin", "Knot"]
    assert (more, none) == (True, False)
    store.close()
