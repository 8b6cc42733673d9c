"""Shop files broken in many ways: one answer each, with every mistake, its field and its line."""
# ruff: noqa: E501 (a table is read by its rows)

import json
import tomllib
from dataclasses import fields

import pytest

from letterply.catalogue import Cutter, Machine, Material, Stock, load_catalogue, read_shop
from letterply.catalogue.kept_clear import KeptClear
from letterply.catalogue.shop import resolve_shop
from letterply.errors import InputError
from letterply.requests.own_catalogue import CatalogueTables
from letterply.requests.shop_document import CatalogueFile

WHOLE = """\
units = "inch"
machine = "ours"
cutters = ["eighth", "vbit-90"]
stock = [
  {material = "birch-plywood", thickness = "1/4 in", width = "48 in", height = "24 in", count = 2},
  {material = "mdf", thickness = "1/4 in", width = "24 in", height = "24 in", offcut = true},
]
hold_down = "tape"
[catalogue.machines.ours]
like = "plain-router-inch"
bed = ["24 in", "16 in"]
max_feed = "100 in/min"
[catalogue.cutters.eighth]
like = "flat-3175"
diameter = "0.1246 in"
[feeds.eighth]
feed = "80 in/min"
[prices]
machine_hour = 40
"""

BROKEN = {
    # what is written in place of what -> code, field and line of every mistake
    "a unit of no length": ("48 in", "48 parsec", [("unknown-unit", "stock.0.width", 5)]),
    "no number": ('"1/4 in", width = "24 in"', '"thin", width = "24 in"',
                  [("bad-length", "stock.1.thickness", 6)]),
    "divided by nought": ('"0.1246 in"', '"1/0 in"',
                          [("bad-length", "catalogue.cutters.eighth.diameter", 15)]),
    "below nought": ('"0.1246 in"', "-3", [("out-of-range", "catalogue.cutters.eighth.diameter", 15)]),
    "too long a bed": ('["24 in", "16 in"]', '["24 km", "16 in"]',
                       [("unknown-unit", "catalogue.machines.ours.bed.0", 11)]),
    "one side": ('["24 in", "16 in"]', '["24 in"]',
                 [("empty-value", "catalogue.machines.ours.bed", 11)]),
    "three sides": ('["24 in", "16 in"]', "[1, 2, 3]",
                    [("too-long", "catalogue.machines.ours.bed", 11)]),
    "text for sides": ('["24 in", "16 in"]', '"24 x 16"',
                       [("bad-value", "catalogue.machines.ours.bed", 11)]),
    "a feed in mm": ("100 in/min", "100 mm", [("unknown-unit", "catalogue.machines.ours.max_feed", 12)]),
    "a feed too fast": ("80 in/min", "400 in/min", [("out-of-range", "feeds.eighth.feed", 17)]),
    "feeds of no cutter": ("[feeds.eighth]", "[feeds.ninth]", [("unknown-cutter", "feeds.ninth", 16)]),
    "an unknown feed": ('feed = "80', 'fead = "80', [("unknown-field", "feeds.eighth.fead", 17)]),
    "an unknown machine": ('machine = "ours"', 'machine = "theirs"', [("unknown-machine", "machine", 2)]),
    "a machine that is a number": ('machine = "ours"', "machine = 3", [("bad-value", "machine", 2)]),
    "an unknown cutter": ('"vbit-90"]', '"vbit-91"]', [("unknown-cutter", "cutters.1", 3)]),
    "two unknown cutters": ('["eighth", "vbit-90"]', '["a", "b"]',
                            [("unknown-cutter", "cutters.0", 3), ("unknown-cutter", "cutters.1", 3)]),
    "no cutter": ('["eighth", "vbit-90"]', "[]", [("empty-value", "cutters", 3)]),
    "cutters in one text": ('["eighth", "vbit-90"]', '"eighth"', [("bad-value", "cutters", 3)]),
    "an unknown material": ('"mdf"', '"gold"', [("unknown-material", "stock.1.material", 6)]),
    "a count of halves": ("count = 2", "count = 1.5", [("bad-value", "stock.0.count", 5)]),
    "a count below nought": ("count = 2", "count = -2", [("out-of-range", "stock.0.count", 5)]),
    "yes for true": ("offcut = true", 'offcut = "yes"', [("bad-value", "stock.1.offcut", 6)]),
    "margins that leave nothing": ("offcut = true", 'margin = "13 in"', [("bad-shop", "stock.1", 6)]),
    "an unknown sheet": ('{material = "mdf", thickness = "1/4 in", width = "24 in", '
                         'height = "24 in", offcut = true}', '"mdf-99"', [("unknown-stock", "stock.1", 6)]),
    "no height": (', height = "24 in", count = 2', "", [("missing-field", "stock.0.height", 5)]),
    "glue": ('"tape"', '"glue"', [("unknown-choice", "hold_down", 8)]),
    "a beam's bed on a router": ('"tape"', '"bed"', [("unknown-choice", "hold_down", 8)]),
    "feet": ('units = "inch"', 'units = "feet"', [("unknown-choice", "units", 1)]),
    "a word misspelt": ("hold_down", "holddown", [("unknown-field", "holddown", 8)]),
    "like nothing": ('"plain-router-inch"', '"no-router"',
                     [("unknown-machine", "catalogue.machines.ours.like", 10)]),
    "like itself": ('like = "flat-3175"', 'like = "other"\n[catalogue.cutters.other]\nlike = "eighth"',
                    [("bad-value", "catalogue.cutters.eighth.like", 14),
                     ("bad-value", "catalogue.cutters.other.like", 16)]),
    "a cutter with nothing to be like": ('like = "flat-3175"', 'kind = "flat"',
                                         [("missing-field", "catalogue.cutters.eighth.name", 13),
                                          ("missing-field", "catalogue.cutters.eighth.flutes", 13),
                                          ("missing-field", "catalogue.cutters.eighth.cutting_length", 13)]),
    "a wrong figure in a cutter that lacks others": (
        'like = "flat-3175"\ndiameter = "0.1246 in"', 'kind = "flat"\nflutes = -1',
        [("out-of-range", "catalogue.cutters.eighth.flutes", 15)]
        + [("missing-field", f"catalogue.cutters.eighth.{name}", 13)
           for name in ("name", "diameter", "cutting_length")]),
    "a word misspelt in a machine that lacks it": (
        'bed = ["24 in", "16 in"]\nmax_feed', 'on_top = 1\nbed = ["24 in", "16 in"]\nmaxfeed',
        [("unknown-field", "catalogue.machines.ours.on_top", 11),
         ("unknown-field", "catalogue.machines.ours.maxfeed", 13)]),
    "a tip as wide as the bit": ('like = "flat-3175"', 'like = "vbit-90"\ntip_diameter = "1 in"',
                                 [("bad-entry", "catalogue.cutters.eighth", 13)]),
    "no flutes": ('diameter = "0.1246 in"', "flutes = 0", [("bad-entry", "catalogue.cutters.eighth", 13)]),
    "a kind of no cutter": ('diameter = "0.1246 in"', 'kind = "saw"',
                            [("unknown-choice", "catalogue.cutters.eighth.kind", 15)]),
    "a table of no catalogue": ("[catalogue.cutters.eighth]", "[catalogue.tools.eighth]",
                                [("unknown-field", "catalogue.tools", 13),
                                 ("unknown-cutter", "cutters.0", 3),
                                 ("unknown-cutter", "feeds.eighth", 16)]),
    "a fire under PVC": ("[feeds.eighth]", '[catalogue.materials.ours]\nlike = "pvc-sheet"\n'
                         'beam = "allowed"\nbeam_reason = ""\n[feeds.eighth]',
                         [("beam-refused", "catalogue.materials.ours.beam", 18)]),
    "a name that a field once had": ('like = "plain-router-inch"',
                                     'like = "plain-router-inch"\njunction_deviation_mm = 0.05',
                                     [("unknown-field", "catalogue.machines.ours.junction_deviation_mm", 11)]),
    "power of a router": ("[prices]", '[[power]]\nmaterial = "mdf"\nthickness = 3\ncut = 90\n[prices]',
                          [("bad-shop", "power", 18)]),
    "a price below nought": ("machine_hour = 40", "machine_hour = -40",
                             [("out-of-range", "prices.machine_hour", 19)]),
    "a price of no such name": ("machine_hour = 40", "machine_hours = 40",
                                [("unknown-field", "prices.machine_hours", 19)]),
    "on top of something": ('units = "inch"', 'on_top_of = "theirs"', [("unknown-choice", "on_top_of", 1)]),
    "on top of nothing": ('units = "inch"', 'on_top_of = "nothing"',
                          [("unknown-cutter", "cutters.1", 3),
                           ("unknown-material", "stock.0.material", 5),
                           ("unknown-material", "stock.1.material", 6)]),
    "many things": ("48 in", '48 parsec", hight = "3', [
        ("unknown-unit", "stock.0.width", 5), ("unknown-field", "stock.0.hight", 5)]),
}  # fmt: skip


def told(text, *, toml=True):
    with pytest.raises(InputError) as caught:
        read_shop(tomllib.loads(text) if toml else json.loads(text), text=text, toml=toml)
    error = caught.value
    one = {"code": error.code, "field": error.field, "line": error.data.get("line"),
           "expected": error.expected, "message": error.message}  # fmt: skip
    return error.data.get("mistakes", [one])


def test_the_whole_one_is_taken():
    shop = read_shop(tomllib.loads(WHOLE), text=WHOLE)
    file = shop.catalogue_file()
    assert file["machines"]["ours"]["bed_mm"] == [609.6, 406.4]
    assert shop.stock[0].width_mm == pytest.approx(1219.2)
    assert shop.normal() == type(shop).model_validate(shop.normal(), by_name=False).normal()


@pytest.mark.parametrize("name", BROKEN)
def test_every_mistake_comes_at_once_with_field_and_line(name):
    right, wrong, expected = BROKEN[name]
    assert WHOLE.count(right) >= 1
    broken = WHOLE.replace(right, wrong, 1)
    mistakes = told(broken)
    assert sorted((m["code"], m["field"], m["line"]) for m in mistakes) == sorted(expected)
    for mistake in mistakes:
        assert mistake["message"].endswith(".")
        assert mistake["expected"]
    # The same as JSON: its lines are counted here while it is written.
    text, lines = in_json(tomllib.loads(broken))
    in_the_other = sorted((m["code"], m["field"], m["line"]) for m in told(text, toml=False))
    assert in_the_other == sorted((code, at, line_in(lines, at)) for code, at, _ in expected)


def in_json(document):
    """Return a document as JSON, a value a line, and the line of each path in it."""
    written, lines = [], {}

    def write(value, path, lead, tail):
        lines[".".join(map(str, path))] = len(written) + 1
        if not isinstance(value, dict | list) or not value:
            written.append(f"{lead}{json.dumps(value)}{tail}")
            return
        opened, closed = "{}" if isinstance(value, dict) else "[]"
        written.append(lead + opened)
        items = list(value.items() if isinstance(value, dict) else enumerate(value))
        for key, one in items:
            name = f"{json.dumps(key)}: " if isinstance(value, dict) else ""
            write(one, (*path, key), name, "," if key != items[-1][0] else "")
        written.append(closed + tail)

    write(document, (), "", "")
    return "\n".join(written), lines


def line_in(lines, path):
    """Return the line of a path, or of the nearest above it that is there."""
    while path not in lines:
        path = path.rpartition(".")[0]
    return lines[path]


def test_there_are_forty_ways():
    assert len({(right, wrong) for right, wrong, _ in BROKEN.values()}) >= 40


def test_mistakes_of_every_kind_come_together():
    text = WHOLE.replace("48 in", "48 parsec").replace('"vbit-90"]', '"vbit-91"]')
    text = text.replace("80 in/min", "400 in/min").replace('"mdf"', '"gold"')
    mistakes = told(text.replace("machine_hour = 40", 'machine_hour = "x"'))
    assert [(m["line"], m["code"]) for m in mistakes] == [
        (3, "unknown-cutter"), (5, "unknown-unit"), (6, "unknown-material"), (17, "out-of-range"),
        (19, "bad-value"),
    ]  # fmt: skip


def test_a_name_whose_own_entry_is_wrong_is_not_told_as_unknown():
    mistakes = told(WHOLE.replace('"0.1246 in"', '"thin"'))
    assert [m["field"] for m in mistakes] == ["catalogue.cutters.eighth.diameter"]


def test_the_operators_file_tells_all_mistakes_with_file_and_line(tmp_path):
    own = tmp_path / "boathouse.toml"
    own.write_text('[cutters.flat-6]\ndiameter = -1\n[stock.acrylic-3]\nmaterial = "gold"\n')
    with pytest.raises(InputError) as caught:
        load_catalogue(own)
    assert caught.value.code == "bad-catalogue"
    found = [(m["file"], m["line"], m["code"]) for m in caught.value.data["mistakes"]]
    assert found == [("boathouse.toml", 2, "out-of-range")]
    own.write_text('[stock.acrylic-3]\nmaterial = "gold"\n[stock.mdf-3]\nmaterial = "tin"\n')
    with pytest.raises(InputError) as caught:
        load_catalogue(own)
    assert [m["line"] for m in caught.value.data["mistakes"]] == [2, 4]
    assert "boathouse.toml, line 4" in caught.value.message


def test_an_entry_that_is_like_another_keeps_its_sources_and_owns_its_figures(tmp_path):
    own = tmp_path / "boathouse.json"
    own.write_text('{"cutters": {"eighth": {"like": "flat-3175", "diameter": "0.1246 in"}}}')
    cutter = load_catalogue(own).cutters["eighth"]
    shipped = load_catalogue().cutters["flat-3175"]
    assert cutter.diameter_mm == pytest.approx(0.1246 * 25.4)
    assert cutter.sources["diameter_mm"].status == "own"
    assert cutter.sources["flutes"] == shipped.sources["flutes"]
    assert (cutter.flutes, cutter.name) == (shipped.flutes, shipped.name)


@pytest.mark.parametrize(
    ("table", "value"),
    [("materials", Material), ("cutters", Cutter), ("machines", Machine), ("stock", Stock)],
)
def test_a_file_can_say_every_figure_of_a_value(table, value):
    entry = CatalogueTables.model_fields[table].annotation.__args__[1]
    given = {f.name for f in fields(value) if f.metadata.get("given", True)}
    assert set(entry.model_fields) - {"like"} == (given | {"name"}) - {"key"}


CLAMPED = """\
stock = ["bench", "mdf-6"]
[catalogue.stock.bench]
like = "mdf-6"
count = 1
keep_clear = [
  {kind = "clamp", x = 0, y = "1 in", width = 40, height = 25},
  {kind = "screw", x = 150, y = 110, diameter = "3/8 in"},
]
"""


def test_sheets_of_a_shop_may_have_clamps_and_screws_on_them():
    document = read_shop(tomllib.loads(CLAMPED), text=CLAMPED)
    again = read_shop(document.normal())
    for one in (document, again):
        catalogue = load_catalogue(CatalogueFile.model_validate(one.catalogue_file()))
        shop = resolve_shop(one.wishes(), catalogue)
        bench, whole = sorted(shop.stock, key=lambda s: s.key)
        assert bench.keep_clear == (
            KeptClear("clamp", 0.0, 25.4, 40.0, 25.0),
            KeptClear("screw", 150.0, 110.0, diameter_mm=9.525),
        )
        assert not whole.keep_clear


@pytest.mark.parametrize(
    ("old", "new", "field", "line"),
    [
        ('y = "1 in"', 'y = "60 in"', "catalogue.stock.bench", 2),
        ("width = 40, ", "", "catalogue.stock.bench.keep_clear.0", 6),
        ('kind = "screw"', 'kind = "knob"', "catalogue.stock.bench.keep_clear.1.kind", 7),
    ],
)
def test_a_place_that_is_no_place_of_the_sheet_is_refused(old, new, field, line):
    text = CLAMPED.replace(old, new)
    with pytest.raises(InputError) as caught:
        read_shop(tomllib.loads(text), text=text)
    assert caught.value.field == field
    assert caught.value.data["line"] == line


def test_a_catalogue_on_top_of_nothing_holds_what_is_in_it_alone(tmp_path):
    own = tmp_path / "boathouse.toml"
    own.write_text('on_top_of = "nothing"\n[cutters.eighth]\nlike = "flat-3175"\n')
    catalogue = load_catalogue(own)
    assert list(catalogue.cutters) == ["eighth"]
    assert not catalogue.machines
