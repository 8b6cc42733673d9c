"""Stock kept true: what is taken, what comes back, once, and by one alone."""

import threading
from types import SimpleNamespace

import pytest
from shapely import Polygon, box

from letterply.catalogue import Stock
from letterply.errors import Conflict, LetterplyError, NotFound
from letterply.jobs.committing import Committing
from letterply.jobs.shops import Shops
from letterply.proof import Motion
from letterply.sheets.model import PlacedPart, Placement, Sheet
from letterply.stacks import Part
from letterply.storage.store import Store

OURS = {
    "machine": "bench-router",
    "stock": [
        {"material": "mdf", "thickness": 6, "width": 400, "height": 300, "count": 3},
        {"key": "left", "material": "mdf", "thickness": 6, "width": 200, "height": 150,
         "offcut": True},
    ],
    "least_offcut": 60,
}  # fmt: skip


@pytest.fixture
def store(tmp_path, database_url):
    made = Store(tmp_path / "data", database_url)
    yield made
    made.close()


@pytest.fixture
def shops(store):
    return Shops(store)


@pytest.fixture
def ours(shops):
    """Store the shop under a name that it has; return what a request says of it."""
    stock = [*OURS["stock"][:2], "mdf-6"]
    catalogue = {"stock": {"mdf-6": {"material": "mdf", "thickness": 6, "width": 500,
                                     "height": 400, "count": 5}}}  # fmt: skip
    shops.put("ours", {**OURS, "stock": stock, "catalogue": catalogue})
    return shops.settle({"shop": "ours"})["shop"]


def sheet_of(shops, key, part=None):
    """Return a sheet of the shop with a square part on it, as it was planned and proved."""
    stock = next(s for s in shops.resolved("ours")[1].stock if s.key == key)
    part = box(50, 50, 150, 130) if part is None else part
    placed = PlacedPart.at("1.face.A", 1, Part("A.face", "face", part), Placement(0, 0, 0))
    return SimpleNamespace(sheet=Sheet(1, stock, (placed,))), SimpleNamespace(motion=Motion.none())


def counts(shops):
    return {s.key: s.count for s in shops.resolved("ours")[1].stock}


def test_what_is_cut_goes_out_and_what_is_left_comes_back_with_its_outline(store, shops, ours):
    at_work = Committing(store, shops)
    found = at_work.commit("order", "a" * 32, ours, [sheet_of(shops, "sheet-1")])
    assert found["taken"] == [{"key": "sheet-1", "count": 1, "left": 2}]
    assert counts(shops) == {"left": 1, "offcut-1": 1, "mdf-6": 5, "sheet-1": 2}
    left = next(s for s in shops.resolved("ours")[1].stock if s.key == "offcut-1")
    expected = box(0, 0, 400, 300) - box(50, 50, 150, 130)
    assert (left.material_area - expected).area < 1e-6  # never more than what is there
    assert (expected - left.material_area).area < 0.4 * 360  # and no more than 0.4 mm less
    assert left.offcut
    assert len(left.gone) == 1


def test_twice_is_once_and_undone_is_as_before(store, shops, ours):
    at_work, before = Committing(store, shops), counts(shops)
    made = [sheet_of(shops, "left"), sheet_of(shops, "mdf-6"), sheet_of(shops, "mdf-6")]
    once = at_work.commit("plan", "a" * 32, ours, made)
    assert at_work.commit("plan", "a" * 32, ours, made) == once
    after = counts(shops)
    assert after["mdf-6"] == 3
    assert "left" not in after  # used up, and not told any more
    assert at_work.undo("plan", "a" * 32)["undone_at"] is not None
    assert counts(shops) == before
    with pytest.raises(NotFound):
        at_work.undo("plan", "a" * 32)
    again = at_work.commit("plan", "a" * 32, ours, made)
    keys = {a["key"] for a in again["added"]}
    assert keys.isdisjoint(a["key"] for a in once["added"]) or not keys
    assert len(at_work.book.of_shop("ours")) == 2


def test_sheets_that_are_gone_are_named_and_nothing_is_taken(store, shops, ours):
    at_work = Committing(store, shops)
    made = [sheet_of(shops, "sheet-1") for _ in range(2)]
    at_work.commit("order", "a" * 32, ours, made)
    before = counts(shops)
    with pytest.raises(Conflict) as caught:
        at_work.commit("order", "b" * 32, ours, [*made, sheet_of(shops, "mdf-6")])
    assert caught.value.code == "stock-gone"
    assert caught.value.data["missing"] == [{"key": "sheet-1", "wanted": 2, "there": 1}]
    assert counts(shops) == before


def test_a_sheet_that_is_another_now_is_gone(store, shops, ours):
    made = [sheet_of(shops, "left")]
    shops.put("ours", {**OURS, "stock": [{**OURS["stock"][1], "width": 190}]})
    with pytest.raises(Conflict) as caught:
        Committing(store, shops).commit("order", "a" * 32, ours, made)
    assert caught.value.data["missing"][0]["there"] == 0


def test_a_commit_that_another_built_on_is_not_undone(store, shops, ours):
    at_work = Committing(store, shops)
    at_work.commit("order", "a" * 32, ours, [sheet_of(shops, "sheet-1")])
    on_it = sheet_of(shops, "offcut-1", box(200, 50, 300, 250))
    at_work.commit("order", "b" * 32, ours, [on_it])
    with pytest.raises(LetterplyError) as caught:
        at_work.undo("order", "a" * 32)
    assert caught.value.code == "commit-built-on"
    assert caught.value.data["used_by"] == [{"kind": "order", "id": "b" * 32}]
    at_work.undo("order", "b" * 32)
    at_work.undo("order", "a" * 32)
    assert counts(shops) == {"left": 1, "mdf-6": 5, "sheet-1": 3}


def test_what_is_too_small_to_keep_is_scrap(store, shops, ours):
    whole = box(0, 0, 200, 150) - box(0, 0, 40, 150)
    found = Committing(store, shops).commit(
        "order", "a" * 32, ours, [sheet_of(shops, "left", Polygon(whole.exterior))]
    )
    assert found["added"] == []


def test_a_left_over_of_a_turned_sheet_lies_along_its_grain_again(store, shops, ours):
    stock = Stock("sheet-1", "mdf", 6.0, 400, 300, 3, turned=True).as_it_lies()
    placed = PlacedPart.at(
        "1.face.A", 1, Part("A.face", "face", box(0, 0, 300, 200)), Placement(0, 0, 0)
    )
    plan = SimpleNamespace(sheet=Sheet(1, stock, (placed,)))
    made = [(plan, SimpleNamespace(motion=Motion.none()))]
    found = Committing(store, shops).commit("order", "a" * 32, ours, made)
    (left,) = found["added"]
    assert left["width_mm"] == pytest.approx(200, abs=0.5)
    assert left["height_mm"] == pytest.approx(300, abs=0.5)


def test_what_was_made_in_no_stored_shop_takes_nothing(store, shops, ours):
    with pytest.raises(Conflict) as caught:
        Committing(store, shops).commit("plan", "a" * 32, {"machine": "bench-router"}, [])
    assert caught.value.code == "no-stored-shop"


@pytest.mark.parametrize("orders", [2, 6])
def test_drill_orders_committed_at_once_take_no_sheet_twice(
    tmp_path, store, shops, ours, database_url, orders
):
    made = [
        sheet_of(shops, "sheet-1"),
        sheet_of(shops, "sheet-1"),
    ]  # two of the three that are there
    apart = [Store(tmp_path / "data", database_url) for _ in range(orders)]
    start, told = threading.Barrier(orders), {}

    def commit(number):
        one = apart[number]
        start.wait()
        try:
            told[number] = Committing(one, Shops(one)).commit("order", f"{number:032x}", ours, made)
        except Conflict as conflict:
            told[number] = conflict

    threads = [threading.Thread(target=commit, args=(n,)) for n in range(orders)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for one in apart:
        one.close()
    refused = [t for t in told.values() if isinstance(t, Conflict)]
    assert [t.code for t in refused] == ["stock-gone"] * (orders - 1)
    after = counts(shops)
    assert after["sheet-1"] == 1
    assert sum(key.startswith("offcut-") for key in after) == 2
    assert len(Committing(store, shops).book.of_shop("ours")) == 1


def test_drill_one_order_committed_by_many_at_once_is_committed_once(
    tmp_path, store, shops, ours, database_url
):
    made = [sheet_of(shops, "sheet-1")]
    apart = [Store(tmp_path / "data", database_url) for _ in range(4)]
    start, told = threading.Barrier(4), []

    def commit(one):
        start.wait()
        told.append(Committing(one, Shops(one)).commit("order", "a" * 32, ours, made))

    threads = [threading.Thread(target=commit, args=(one,)) for one in apart]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for one in apart:
        one.close()
    assert len(told) == 4
    assert all(t == told[0] for t in told)
    assert counts(shops)["sheet-1"] == 2
