"""Small pieces of the work: marks, strokes, layers as files, the vault, the quote."""

import csv
import json
import zlib

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from letterply.errors import InputError, LetterplyError
from letterply.orders.pipeline.hidden_faces import hidden_faces, with_mark
from letterply.orders.pipeline.layer_file import layer_bytes, layer_from
from letterply.orders.pipeline.marks import letter_names
from letterply.orders.pipeline.part_table import parts_csv
from letterply.orders.pipeline.stroke_letters import stroke_lines, stroke_width
from letterply.orders.quote import SheetCost, make_quote
from letterply.requests import PriceRules, read_request
from letterply.stacks.model import Layer, Part
from letterply.stacks.work import Groove, Hole, Pocket, Scribe
from letterply.storage.vault import FolderVault
from orders.pipeline.small import part_row


def plate(name="base", size=60.0, **more):
    return Part(name, name, shapely.box(0, 0, size, size), **more)


def layer(name, *parts, z=0.0, from_back=False):
    return Layer(name, "mdf", 6.0, z, parts, from_back)


def test_marks_are_unique_and_can_be_written():
    parts = [
        plate("face.e", letters="e", letter_indices=(1,)),
        plate("face.e-2", letters="e", letter_indices=(4,)),
        plate("face.é", letters="é", letter_indices=(2,)),
        plate("face.long", letters="Sanderlings", letter_indices=(0, 1)),
        plate("face"),
    ]
    names = letter_names([layer("face", *parts), layer("Face 2", plate("x"))])
    assert list(names.values()) == [
        "e.face", "e-2.face", "3.face", "1.face", "0.face", "0.Face-2",
    ]  # fmt: skip


@given(st.text("ABCXYZabcxyz0123456789.-", min_size=1, max_size=20), st.floats(1, 20))
def test_strokes_stay_within_their_box(text, height):
    lines = stroke_lines(text, height)
    assert lines
    left, low, right, high = shapely.total_bounds(list(lines))
    assert left >= -1e-9
    assert low >= -1e-9
    assert high <= height + 1e-9
    assert right <= stroke_width(text, height) + 1e-9


def test_every_letter_and_digit_has_strokes_of_its_own():
    signs = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-"
    drawn = {tuple(tuple(line.coords) for line in stroke_lines(c, 6)) for c in signs}
    assert len(drawn) == len(signs)


def test_a_mark_lies_on_what_the_layer_above_covers():
    base, top = layer("base", plate()), layer("top", plate("top", 40.0), z=6.0)
    hidden = hidden_faces([base, top])
    assert hidden[1, 0].is_empty
    marked = with_mark(base.parts[0], hidden[0, 0], "12.1.0.base", from_back=False)
    (scribe,) = marked.scribes
    assert shapely.box(1.5, 1.5, 38.5, 38.5).covers(shapely.MultiLineString(scribe.lines))


def test_a_mark_keeps_clear_of_holes_and_is_left_out_without_room():
    hole = Hole(20, 20, 36.0, None)
    part = plate(holes=(hole,))
    layers = [layer("base", part), layer("top", plate("top", 40.0))]
    face = hidden_faces(layers)[0, 0]
    assert with_mark(part, face, "1.1.0.base", from_back=False).scribes == ()


def test_a_mark_on_the_back_reads_right_on_the_back():
    part = Part("face", "face", shapely.Polygon([(0, 0), (60, 0), (60, 20), (30, 60), (0, 60)]))
    face = hidden_faces([layer("face", part, from_back=True)])[0, 0]
    marked = with_mark(part, face, "1.1.A.face", from_back=True)
    assert marked.outline.covers(shapely.MultiLineString(marked.scribes[0].lines))
    assert marked.outline.equals(part.cut_view(from_back=True).outline)


def test_a_layer_survives_as_bytes():
    part = plate(
        holes=(Hole(5, 5, 3), Hole(9, 5, 3, 2.0, "dowel")),
        pockets=(Pocket(shapely.MultiPolygon([shapely.box(1, 1, 3, 3)]), 2.0),),
        grooves=(Groove(shapely.MultiPolygon([shapely.box(5, 8, 9, 9)]), None, 60.0),),
        scribes=(Scribe((shapely.LineString([(0, 0), (1 / 3, 5)]),), 0.1),),
        letters="é",
        letter_indices=(0, 3),
        history=("joined",),
    )
    whole = layer("base", part, z=1 / 3)
    assert layer_from(layer_bytes(whole)) == whole
    assert layer_bytes(layer_from(layer_bytes(whole))) == layer_bytes(whole)


@pytest.mark.parametrize("raw", [{"is": "Popen"}, {"is": "Hole", "x": 1}, [1], {}])
def test_a_file_brings_nothing_but_layers(raw):
    data = zlib.compress(json.dumps(raw).encode())
    with pytest.raises((KeyError, TypeError, ValueError)):
        layer_from(data)


def test_the_vault_gives_back_what_it_was_given(tmp_path):
    vault = FolderVault(tmp_path)
    name = vault.write(b"knot")
    assert vault.read(name) == b"knot" == vault.path_of(name).read_bytes()
    key = "0" * 32
    assert vault.recall(key) is None
    vault.note(key, {"ok": True})
    vault.note(key, {"ok": False})
    assert vault.recall(key) == {"ok": True}
    vault.path_of(name).write_bytes(b"knit")
    with pytest.raises(LetterplyError, match="damaged"):
        vault.read(name)
    with pytest.raises(ValueError, match="no key"):
        vault.recall("../../etc/passwd")


def test_the_quote_by_hand():
    """One sheet of 10 at half use, 30 min of machine, two programs, 20 min of handwork."""
    rules = read_request(
        PriceRules,
        {"material_markup": 2, "waste_share": 0, "machine_hour": 60, "set_up_minutes": 5,
         "cutter_change_minutes": 2, "hand_hour": 30}
    )  # fmt: skip
    sheet = SheetCost(1, "mdf", 6, 200_000, 100_000, 10.0, 1800, 2)
    quote = make_quote([sheet], 20, rules, changes_by_hand=True)
    assert (quote.material, quote.machine, quote.set_ups, quote.hand) == (10, 30, 9, 10)
    assert quote.total == 59
    assert (quote.used_share, quote.wasted_area_mm2) == (0.5, 100_000)
    alone = make_quote([sheet], 20, rules, changes_by_hand=False)
    assert alone.set_ups == 5
    with pytest.raises(InputError, match="tip"):
        read_request(PriceRules, {"tip": 1}, field="prices")


def test_no_cell_of_a_table_is_a_formula():
    row = part_row(reference="=1+1", sheet=2, x_mm=-1.5, y_mm=0.0, turn_deg=90.0)
    heading, cells = csv.reader(parts_csv([row]).decode("utf-8-sig").splitlines())
    told = dict(zip(heading, cells, strict=True))
    assert (told["reference"], told["sheet"], told["x_mm"]) == ("'=1+1", "2", "-1.5")
