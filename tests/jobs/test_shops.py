"""Shops: stored under a name, settled at the door, and named by what was made in them."""

import pytest

from letterply.errors import Conflict, InputError, NotFound
from letterply.jobs.resources import resources_for
from letterply.jobs.run import normalise_request
from letterply.jobs.shops import SHIPPED, Shops
from letterply.storage.store import Store

BOATHOUSE = {
    "units": "inch",
    "machine": "ours",
    "entry": "ramp",
    "prices": {"machine_hour": 60, "hand_hour": 20},
    "catalogue": {
        "machines": {"ours": {"like": "plain-router-inch", "bed": ["24 in", "16 in"]}},
        "cutters": {"eighth": {"like": "flat-3175", "diameter": "0.1246 in"}},
    },
}


@pytest.fixture
def store(tmp_path, database_url):
    made = Store(tmp_path / "data", database_url)
    yield made
    made.close()


@pytest.fixture
def shops(store):
    return Shops(store)


def test_without_a_shop_nothing_changes(shops):
    for request in ({"recipe": {}}, {"recipe": {}, "shop": {"hold_down": "tape"}}):
        assert shops.settle(request) == request


def test_a_name_becomes_all_that_the_shop_says(shops):
    record, new = shops.put("boathouse", BOATHOUSE)
    assert new
    settled = shops.settle({"shop": "boathouse"})["shop"]
    assert settled == {
        "units": "inch", "machine": "ours", "entry": "ramp",
        "name": "boathouse", "version": record.version,
    }  # fmt: skip


def test_what_a_request_says_goes_before_the_shop_and_stays_so(shops):
    shops.put("boathouse", BOATHOUSE)
    asked = {"recipe": sign(), "shop": {"name": "boathouse", "entry": "helix"}}
    once = normalise_request("plan", shops.settle(asked))
    assert once["shop"]["entry"] == "helix"  # although that is the usual way
    assert normalise_request("plan", shops.settle(once)) == once


def sign():
    return {
        "title": "Tag",
        "layers": [
            {
                "name": "base",
                "material": "mdf",
                "thickness": 3,
                "outline": {"kind": "plate", "width": 50, "height": 30},
            }
        ],
    }


def test_the_version_follows_from_what_is_in_it_alone(shops):
    first, _ = shops.put("boathouse", BOATHOUSE)
    in_mm = {**BOATHOUSE, "catalogue": {**BOATHOUSE["catalogue"], "machines": {
        "ours": {"like": "plain-router-inch", "bed_mm": [609.6, 406.4]}}}}  # fmt: skip
    again, new = shops.put("boathouse", in_mm)
    assert (again.version, new) == (first.version, False)
    assert shops.written(again) == in_mm
    other, _ = shops.put("boathouse", {**BOATHOUSE, "units": "mm"})
    assert other.version != first.version
    assert {v for v, _ in shops.shelf.versions("boathouse")} == {first.version, other.version}


def test_an_old_version_can_be_had_when_the_shop_has_changed_or_is_gone(shops, store):
    first, _ = shops.put("boathouse", BOATHOUSE)
    shops.put("boathouse", {"units": "mm"})
    shops.shelf.remove("boathouse")
    wish = {"name": "boathouse", "version": first.version}
    settled = normalise_request("plan", shops.settle({"recipe": sign(), "shop": wish}))
    assert settled["shop"]["machine"] == "ours"
    resources, digests = resources_for(settled, store, ())
    assert resources.catalogue().machines["ours"].bed_mm == (609.6, 406.4)
    assert len(digests) == 1


def test_a_version_of_another_shop_is_none(shops):
    first, _ = shops.put("boathouse", BOATHOUSE)
    with pytest.raises(InputError) as caught:
        shops.settle({"shop": {"name": "shed", "version": first.version}})
    assert caught.value.code == "unknown-version"


@pytest.mark.parametrize("name", [{}, {"name": SHIPPED}])
def test_a_version_without_the_shop_that_had_it_is_refused(shops, name):
    first, _ = shops.put("boathouse", BOATHOUSE)
    with pytest.raises(InputError) as caught:
        shops.settle({"shop": {**name, "version": first.version}})
    assert caught.value.field == "shop.name"


def test_the_catalogue_stays_the_same_file_when_only_a_price_changes(shops, store):
    digests = []
    for price in (60, 61):
        record, _ = shops.put("boathouse", {**BOATHOUSE, "prices": {"machine_hour": price}})
        request = {"shop": {"name": "boathouse", "version": record.version}}
        digests.append(resources_for(request, store, ())[1])
    assert digests[0] == digests[1]


def test_the_default_needs_no_word_and_the_shipped_one_a_name(shops):
    shops.put("boathouse", BOATHOUSE)
    shops.put("shed", {"hold_down": "tape"})
    shops.shelf.use("boathouse")
    shops.shelf.use("shed")
    assert shops.settle({})["shop"]["name"] == "shed"
    assert shops.settle({"shop": {"entry": "ramp"}})["shop"]["hold_down"] == "tape"
    assert shops.settle({"shop": SHIPPED})["shop"] == {"name": SHIPPED}
    shops.shelf.use(None)
    assert shops.settle({}) == {}
    with pytest.raises(NotFound):
        shops.shelf.use("attic")


def test_prices_of_an_order_lie_over_those_of_its_shop(shops):
    shops.put("boathouse", BOATHOUSE)
    settled = shops.settle({"shop": "boathouse", "prices": {"hand_hour": 30}})
    assert shops.prices(settled)["prices"] == {"machine_hour": 60, "hand_hour": 30}


def test_a_shop_that_is_not_there_is_told_with_those_that_are(shops):
    shops.put("boathouse", BOATHOUSE)
    with pytest.raises(InputError) as caught:
        shops.settle({"shop": "boathuose"})
    assert caught.value.code == "unknown-shop"
    assert caught.value.data["known"] == ["boathouse", "shipped"]


@pytest.mark.parametrize("name", [SHIPPED, "", "Boat House", "a/b", "x" * 81, "böot"])
def test_a_name_that_no_shop_can_have_is_refused(shops, name):
    with pytest.raises(InputError):
        shops.put(name, {})


def test_a_change_on_top_of_another_is_refused(shops):
    shops.put("boathouse", BOATHOUSE)

    def never(version):
        raise Conflict("changed", code="shop-changed")

    with pytest.raises(Conflict):
        shops.put("boathouse", {"units": "mm"}, may=never)
    assert shops.settle({"shop": "boathouse"})["shop"]["units"] == "inch"
