"""The eight jobs of a boathouse's inch shop, as far as they are quick: read, vetted, in inches."""

import csv
import json
import tomllib

import pytest

from letterply.catalogue import load_catalogue, resolve_shop
from letterply.jobs.run import normalise_request
from letterply.jobs.shops import Shops
from letterply.orders.intake.reading import read_order
from letterply.storage.store import Store
from letterply.units import speaking
from reference.jobs.jobs import HERE, JOBS, SHOP


@pytest.fixture(scope="module")
def shops(tmp_path_factory):
    store = Store(tmp_path_factory.mktemp("boathouse"))
    found = Shops(store)
    found.put(SHOP, {k: v for k, v in table("boathouse").items() if k != "name"})
    yield found
    store.close()


def table(name):
    return tomllib.loads((HERE / f"{name}.toml").read_text())


def test_the_shop_has_what_its_jobs_are_of(shops):
    _, shop, _ = shops.resolved(SHOP)
    there = {(s.material, round(s.thickness_mm, 3)) for s in shop.stock}
    for name in (j.name for j in JOBS if j.name != "names"):
        for layer in table(name)["layers"]:
            if layer["outline"]["kind"] == "blank":
                continue
            whole, _, part = layer["thickness"].removesuffix(" in").rpartition(" ")
            above, below = part.split("/")
            inches = float(whole or 0) + int(above) / int(below)
            assert (layer["material"], round(25.4 * inches, 3)) in there, name


@pytest.mark.parametrize("job", [j for j in JOBS if j.words[0] == "plan"], ids=lambda j: j.name)
def test_a_job_is_read_in_its_shop(shops, job):
    wish = job.words[job.words.index("--shop") + 1]
    shop = table("taped") if wish.endswith(".toml") else wish
    asked = shops.settle({"recipe": table(job.name), "shop": shop})
    normal = normalise_request("plan", asked)
    catalogue, _ = shops.at_version(normal["shop"]["version"])
    assert resolve_shop(normal["shop"], catalogue).units == "inch"
    assert len(job.words) + 2 <= 7  # one command: plan, recipe, shop, folder


def test_fifty_names_are_vetted_at_once(shops):
    rows = (HERE / "names.csv").read_bytes()
    recipe = json.loads((HERE / "names.json").read_text())
    request = {"title": "Names", "recipe": "names", "recipes": {"names": recipe}, "shop": SHOP}
    settled = shops.prices(shops.settle(request))
    catalogue, _ = shops.at_version(settled["shop"]["version"])
    with speaking("inch"):
        order = read_order(settled, catalogue, lambda key: True, table=rows, charset=None)
    names = [row["text"] for row in csv.DictReader(rows.decode().splitlines())]
    assert len(set(names)) == 50
    assert [line.text for line in order.lines] == names


def test_the_shipped_catalogue_has_the_cutters_of_the_jobs():
    assert {"flat-3175", "vbit-60", "vbit-90", "drag-120"} <= set(load_catalogue().cutters)
