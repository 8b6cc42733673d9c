"""A beam's power is the maker's own figure; names that fields once had are refused."""

from __future__ import annotations

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.power import power_for
from letterply.catalogue.shop import resolve_shop
from letterply.errors import InputError
from letterply.requests.shop import BeamPower

CATALOGUE = load_catalogue()
ENTRY = {"material": "mdf", "thickness": "1/8 in", "cut": 70}


def shop(power, machine="bench-beam"):
    return resolve_shop({"machine": machine, "power": power}, CATALOGUE)


def test_figures_are_read_and_found_by_material_and_thickness():
    more = {**ENTRY, "material": "birch-plywood", "feed": "20 in/min", "passes": 2, "scribe": 12.5}
    found = shop([ENTRY, more]).power
    assert found == (
        BeamPower(material="mdf", thickness_mm=3.175, cut_percent=70.0),
        BeamPower(
            material="birch-plywood",
            thickness_mm=3.175,
            cut_percent=70.0,
            scribe_percent=12.5,
            feed_mm_per_min=508.0,
            passes=2,
        ),
    )
    assert power_for(found, "mdf", 3.17) is found[0]
    assert power_for(found, "mdf", 3.0) is None
    assert power_for(found, "acrylic-cast", 3.175) is None


@pytest.mark.parametrize(
    ("power", "code", "field"),
    [
        ({}, "bad-value", "shop.power"),
        (["mdf"], "bad-value", "shop.power.0"),
        ([{**ENTRY, "strength": 3}], "unknown-field", "shop.power.0.strength"),
        ([{"material": "mdf", "cut": 3}], "missing-field", "shop.power.0.thickness"),
        ([{**ENTRY, "material": "slate"}], "unknown-material", "shop.power.0.material"),
        ([{**ENTRY, "cut": 0}], "out-of-range", "shop.power.0.cut"),
        ([{**ENTRY, "cut": 100.5}], "out-of-range", "shop.power.0.cut"),
        ([{**ENTRY, "cut": True}], "bad-value", "shop.power.0.cut"),
        ([{**ENTRY, "cut": "70"}], "bad-value", "shop.power.0.cut"),
        ([{**ENTRY, "cut": float("nan")}], "out-of-range", "shop.power.0.cut"),
        ([{**ENTRY, "scribe": -1}], "out-of-range", "shop.power.0.scribe"),
        ([{**ENTRY, "passes": 1.5}], "bad-value", "shop.power.0.passes"),
        ([{**ENTRY, "passes": 99}], "out-of-range", "shop.power.0.passes"),
        ([{**ENTRY, "feed": 99999}], "out-of-range", "shop.power.0.feed"),
        ([ENTRY, ENTRY], "bad-shop", "shop.power.1"),
    ],
)
def test_wrong_figures_are_refused_by_their_field(power, code, field):
    with pytest.raises(InputError) as caught:
        shop(power)
    assert (caught.value.code, caught.value.field) == (code, field)
    assert caught.value.expected


def test_a_router_has_no_power():
    with pytest.raises(InputError) as caught:
        shop([ENTRY], machine="bench-router")
    assert caught.value.field == "shop.power"


def test_a_beams_figures_are_not_those_of_a_cutter():
    with pytest.raises(InputError) as caught:
        resolve_shop({"feeds": {"beam-015": {"feed": 300}}}, CATALOGUE)
    assert "power" in caught.value.expected


def test_the_old_name_of_a_pass_is_refused_with_the_new_one():
    with pytest.raises(InputError) as caught:
        resolve_shop({"feeds": {"flat-6": {"pass_depth": 2}}}, CATALOGUE)
    error = caught.value
    assert (error.code, error.field) == ("unknown-field", "shop.feeds.flat-6.pass_depth")
    assert error.expected == "depth_per_pass"
    feeds = resolve_shop({"feeds": {"flat-6": {"depth_per_pass": "2 mm"}}}, CATALOGUE).feeds
    assert feeds["flat-6"].depth_per_pass_mm == 2.0


@pytest.mark.parametrize(
    ("text", "new"),
    [
        ("[machines.bench-router]\njunction_deviation_mm = 0.05", "corner_slack"),
        ("[machines.bench-beam]\nspindle_max_rpm = 255", "power_full"),
        ("[machines.bench-beam]\nspindle_min_rpm = 1", "power_full"),
    ],
)
def test_old_names_of_a_machine_are_refused_with_the_new_one(tmp_path, text, new):
    own = tmp_path / "boathouse.toml"
    own.write_text(text)
    with pytest.raises(InputError) as caught:
        load_catalogue(own)
    assert caught.value.code == "bad-catalogue"
    (told,) = caught.value.data["mistakes"]
    assert (told["code"], told["expected"], told["line"]) == ("unknown-field", new, 2)


@pytest.mark.parametrize(
    "text",
    ["[machines.bench-beam]\npower_full = 0", "[machines.bench-router]\npower_full = 255",
     "[machines.bench-beam]\npower_full = inf"],
)  # fmt: skip
def test_a_scale_of_power_that_makes_no_sense_is_refused(tmp_path, text):
    own = tmp_path / "boathouse.toml"
    own.write_text(text)
    with pytest.raises(InputError) as caught:
        load_catalogue(own)
    assert caught.value.code == "bad-catalogue"
