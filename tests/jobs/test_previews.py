"""Previews: the same layers as a stack, at once, and of one client only the newest."""

import asyncio
import json
import os
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely

from boathouse import changed, locker_tag, rack_sign
from jobs.quick_job import draw_for_ever_or_at_once
from letterply.catalogue import Measured, load_catalogue
from letterply.errors import Conflict, InputError
from letterply.exports import preview_document
from letterply.jobs.previews import _MENDED, Previews, make_preview
from letterply.jobs.resources import Resources
from letterply.jobs.service import JobService
from letterply.lettering import FontLibrary
from letterply.requests import TrueThickness, parse_recipe
from letterply.stacks import Layer, Part, Stack, build_stack
from letterply.storage import Store
from letterply.workers import ComputePool


def region_of(rings, steps):
    """Return the region of even-odd rings in steps."""
    found = shapely.Polygon()
    for ring in rings:
        corners = np.array(ring).reshape(-1, 2) / steps
        found = found.symmetric_difference(shapely.Polygon(corners))
    return found


def test_the_layers_are_those_of_the_stack_within_what_a_screen_shows():
    recipe = changed(rack_sign("Knot"), align={"kind": "none"})
    document = json.loads(make_preview(recipe, Resources()))
    stack = build_stack(parse_recipe(recipe), load_catalogue(), FontLibrary())
    left, low, right, _ = stack.bounds
    x, y = document["origin_mm"]  # where findings are measured from
    assert (x, y) == pytest.approx((left, low), abs=0.03)
    assert document["width_mm"] == pytest.approx(right - left, abs=0.03)
    assert [la["name"] for la in document["layers"]] == [la.name for la in stack.layers]
    for shown, layer in zip(document["layers"], stack.layers, strict=True):
        assert shown["z_mm"] == layer.z_mm
        for drawn, part in zip(shown["parts"], layer.parts, strict=True):
            there = shapely.affinity.translate(part.outline, -x, -y)
            here = region_of(drawn["rings"], document["steps_per_mm"])
            assert shapely.hausdorff_distance(here.boundary, there.boundary) < 0.05
            assert len(drawn["rings"]) == 1 + len(part.outline.interiors)
            assert here.area == pytest.approx(there.area, rel=2e-3)


@pytest.mark.parametrize("width", [0.002, 0.01, 0.03])
def test_no_part_is_lost_to_a_neck_that_is_thinner_than_what_a_screen_shows(width):
    along = np.linspace(20, 30, 200)
    winding = np.column_stack((along, 15 + 0.04 * np.sin(9 * (along - 20) * (30 - along))))
    neck = shapely.LineString(winding).buffer(width / 2, quad_segs=1)
    shape = shapely.union_all([shapely.box(10, 10, 20, 20), shapely.box(30, 10, 40, 20), neck])
    part = Part("face.X", "face", shapely.orient_polygons(shape), "X")
    stack = Stack("X", (Layer("face", "acrylic-cast", 3.0, 0.0, (part,)),))
    document = preview_document(stack, load_catalogue())
    rings = document["layers"][0]["parts"][0]["rings"]
    corners = [np.array(ring).reshape(-1, 2) / document["steps_per_mm"] for ring in rings]
    # In steps the walls of the neck touch: no region, but an area all the same.
    area = sum(
        float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2 for x, y in (c.T for c in corners)
    )
    assert area == pytest.approx(200, abs=0.5)


def test_a_preview_is_small_and_draws_itself():
    document = preview_document(
        build_stack(parse_recipe(rack_sign("Knot")), load_catalogue(), FontLibrary()),
        load_catalogue(),
    )
    root = ElementTree.fromstring(document["svg"])
    groups = [g for g in root if g.tag.endswith("}g")]
    assert [g.get("data-layer") for g in groups] == [la["name"] for la in document["layers"]]
    assert root.get("width") == f"{document['width_mm']:.2f}".rstrip("0").rstrip(".") + "mm"
    assert len(json.dumps(document)) < 150_000


def test_what_is_worked_in_a_face_is_told_with_its_depth():
    document = json.loads(make_preview(locker_tag(), Resources()))
    (tag,) = document["layers"][0]["parts"]
    assert tag["worked"]
    assert all(work["depth_mm"] > 0 and work["rings"] for work in tag["worked"])


def test_sheets_are_drawn_as_thick_as_they_were_measured():
    true = TrueThickness(material="birch-plywood", thickness=9, measured=8.6)
    told = make_preview(rack_sign(), Resources(), "inch", Measured.of((), [true], ()))
    board, backer, _ = json.loads(told)["layers"]
    assert board["thickness_mm"] == 8.6
    assert backer["z_mm"] == 8.6


def test_dowels_are_left_out():
    recipe = changed(rack_sign("Knot"), align={"kind": "dowels", "diameter": 3})
    plain = changed(rack_sign("Knot"), align={"kind": "none"})
    assert make_preview(recipe, Resources()) == make_preview(plain, Resources())


@pytest.fixture
def nothing_at_hand():
    """Have this process forget which outlines it mended."""
    _MENDED.clear()


def sturdy(text):
    """Return a sign whose backer and face are strengthened."""
    made = changed(rack_sign(text), align={"kind": "none"})
    made["layers"][1]["outline"]["strengthen"] = "6 mm"
    made["layers"][2]["outline"]["strengthen"] = "4 mm"
    return made


def plain(text):
    """Return the same sign without."""
    made = sturdy(text)
    for layer in made["layers"][1:]:
        del layer["outline"]["strengthen"]
    return made


def test_a_quick_preview_leaves_strengthening_out_and_says_of_which_layers(nothing_at_hand):
    quick = json.loads(make_preview(sturdy("Ruff"), Resources(), quick=True))
    assert quick.pop("not_strengthened") == ["backer", "face"]
    without = json.loads(make_preview(plain("Ruff"), Resources()))
    assert without.pop("not_strengthened") == []
    assert quick == without


def areas_of(preview):
    """Return the area of each layer of a preview, mm²."""
    steps = preview["steps_per_mm"]
    return [
        sum(region_of(part["rings"], steps).area for part in layer["parts"])
        for layer in preview["layers"]
    ]


def test_a_preview_that_is_not_quick_is_strengthened(nothing_at_hand):
    make_preview(sturdy("Ruff"), Resources(), quick=True)
    whole = json.loads(make_preview(sturdy("Ruff"), Resources()))
    assert whole["not_strengthened"] == []
    stack = build_stack(parse_recipe(sturdy("Ruff")), load_catalogue(), FontLibrary())
    for shown, layer in zip(areas_of(whole), stack.layers, strict=True):
        assert shown == pytest.approx(sum(p.outline.area for p in layer.parts), rel=5e-3)
    bare = json.loads(make_preview(plain("Ruff"), Resources()))
    assert areas_of(whole)[-1] > 1.03 * areas_of(bare)[-1]  # what `rel` could not hide


def test_what_was_strengthened_just_before_is_shown_so_at_once(nothing_at_hand):
    make_preview(sturdy("Ruff"), Resources())
    other_board = changed(sturdy("Ruff"), layers__0__thickness="12 mm")
    other_face = changed(other_board, layers__2__outline__strengthen="5 mm")
    shown = make_preview(other_board, Resources(), quick=True)
    assert json.loads(shown)["not_strengthened"] == []
    assert shown == make_preview(other_board, Resources())
    half = json.loads(make_preview(other_face, Resources(), quick=True))
    assert half["not_strengthened"] == ["face"]


def test_a_worker_keeps_no_more_outlines_at_hand_than_it_has_room_for(nothing_at_hand, monkeypatch):
    monkeypatch.setattr(_MENDED, "_limit", 1)
    make_preview(sturdy("Ruff"), Resources())
    shown = json.loads(make_preview(sturdy("Ruff"), Resources(), quick=True))
    assert shown["not_strengthened"]


def test_a_recipe_that_cannot_be_met_names_its_field():
    recipe = changed(rack_sign("Knot"), layers__0__material="whalebone")
    with pytest.raises(InputError) as caught:
        make_preview(recipe, Resources())
    assert caught.value.field == "recipe.layers.0.material"


def test_of_one_client_the_newest_is_answered_and_those_that_wait_are_turned_away(tmp_path):
    async def main():
        pool = ComputePool(1, 60, 4_000_000_000)
        pool.start()
        store = Store(tmp_path)
        previews = Previews(JobService(store, pool))
        try:
            asked = [
                previews.preview({"recipe": rack_sign(text), "client": "tab"})
                for text in ("K", "Kn", "Kno", "Knot")
            ]
            other = previews.preview({"recipe": rack_sign("Ruff"), "client": "another tab"})
            return await asyncio.gather(*asked, other, return_exceptions=True)
        finally:
            store.close()
            pool.stop()

    *typed, newest, other = asyncio.run(main())
    titles = [json.loads(found)["title"] for found in (newest, other)]
    assert titles == [rack_sign("Knot")["title"], rack_sign("Ruff")["title"]]
    turned_away = [found for found in typed if isinstance(found, Conflict)]
    assert len(turned_away) >= 2
    assert {found.code for found in turned_away} == {"overtaken"}


class Watched(ComputePool):
    """A pool that shows what was handed in last."""

    def submit(self, function, *args, **kinds):
        """Hand it in and keep it."""
        self.last = super().submit(function, *args, **kinds)
        return self.last


def test_a_newer_question_ends_the_one_that_is_being_drawn(tmp_path, monkeypatch):
    monkeypatch.setattr("letterply.jobs.previews.make_preview", draw_for_ever_or_at_once)

    async def main():
        pool = Watched(1, 60, 4_000_000_000, clock_factor=1000.0)
        pool.start()
        store = Store(tmp_path)
        previews = Previews(JobService(store, pool))
        try:
            worker = await pool.run(os.getpid)
            endless = {"recipe": rack_sign() | {"title": "for ever"}, "client": "tab"}
            older = asyncio.create_task(previews.preview(endless))
            while pool.last.progress is None:
                await asyncio.sleep(0.01)
            newer = await previews.preview({"recipe": rack_sign(), "client": "tab"})
            with pytest.raises(Conflict) as caught:
                await older
            return caught.value.code, json.loads(newer), worker == await pool.run(os.getpid)
        finally:
            store.close()
            pool.stop()

    code, newer, same_worker = asyncio.run(main())
    assert code == "overtaken"
    assert newer["title"] == rack_sign()["title"]
    assert same_worker
