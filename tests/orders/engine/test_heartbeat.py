"""Workers beat, say goodbye, and are struck off long after, once nothing is left of their work."""

import pytest
import sqlalchemy as sa

from letterply.orders.engine.heartbeat import Heartbeat
from letterply.storage import Database, database_now, sqlite_url, tables

DAY_S = 86_400.0
w = tables.workers.c


@pytest.fixture
def database(tmp_path):
    made = Database(sqlite_url(tmp_path / "index.sqlite"))
    yield made
    made.close()


class Watch:
    """A heartbeat that is looked at beat by beat; `busy` have work still."""

    def __init__(self, database, name="avocet", busy=()):
        self.database, self.relieved = database, []
        self.heart = Heartbeat(
            database, name, 1, 30.0, self.relieved.extend, lambda id_: id_ in busy, lambda: None,
            beat_s=0.02,
        )  # fmt: skip

    def through(self, until):
        """Beat until something holds, then stop in good order."""
        self.heart.start()
        for _ in range(500):
            if until():
                break
            self.heart._stop.wait(0.02)
        self.heart.stop()
        assert until()

    def beats(self):
        """Return the last beats by name, seconds from now; goodbyes below zero."""
        rows = self.database.read(lambda db: db.execute(sa.select(w.id, w.beat_at)).all())
        now = self.database.read(database_now)
        return {id_: round((abs(at) - now) / DAY_S, 2) for id_, at in rows}


def known(database, **ages_s):
    """Let workers of another time be known, each by how long ago it beat; None: it said 0."""
    now = database.read(database_now)
    rows = [
        {"id": name, "beat_at": 0 if age is None else now - age} for name, age in ages_s.items()
    ]
    database.write(lambda db: db.execute(sa.insert(tables.workers), rows))


def test_who_fell_silent_long_ago_is_relieved_and_struck_off_unless_work_is_left(database):
    known(database, lately=0.0, today=3600.0, long_ago=3 * DAY_S, at_work=3 * DAY_S)
    watch = Watch(database, busy={"at_work"})
    watch.through(lambda: "long_ago" not in watch.beats())
    assert watch.beats().keys() == {"avocet", "lately", "today", "at_work"}
    # Relieved first: what it was at must not be left to nobody.
    assert {"today", "long_ago", "at_work"} <= set(watch.relieved)
    assert "lately" not in watch.relieved


def test_a_goodbye_is_relieved_at_once_and_struck_off_a_day_later(database):
    first = Watch(database, "curlew")
    first.through(lambda: "curlew" in first.beats())
    second = Watch(database)
    second.through(lambda: "curlew" in second.relieved)
    assert second.beats()["curlew"] == 0.0
    a_day_ago = sa.update(tables.workers).where(w.id == "curlew")
    a_day_ago = a_day_ago.values(beat_at=w.beat_at + 1.1 * DAY_S)
    database.write(lambda db: db.execute(a_day_ago))
    third = Watch(database, "dunlin")
    third.through(lambda: "curlew" not in third.beats())


def test_a_goodbye_of_an_earlier_release_counts_from_when_it_was_seen(database):
    known(database, earlier=None)
    watch = Watch(database)
    watch.through(lambda: "earlier" in watch.relieved)
    assert watch.beats()["earlier"] == 0.0


def test_who_was_struck_off_and_wakes_enters_again(database):
    watch = Watch(database)
    struck = []

    def back():
        if not struck:
            database.write(lambda db: db.execute(sa.delete(tables.workers)))
            struck.append("avocet")
        return "avocet" in watch.beats()

    watch.through(back)
