"""A shop that speaks in inches gets no millimetre to read, one that speaks in mm no inch.

Every file of a plan, a check and a survey is walked: sentences of documents, captions of pictures,
comments of programs, tables. Fields of JSON stay in mm, as do the drawings themselves.
"""

import json

import pytest

from jobs.whole import all_files
from letterply.errors import InputError
from letterply.jobs.files import make_files
from letterply.jobs.resources import Resources
from letterply.jobs.run import run_job
from read_units import SPOKEN, STRAY, read_in, strings_of, without_names

RECIPE = {
    "title": "Tern",
    "lettering": {"text": "Tern", "font": "dancing-script", "size": {"cap_height": 16}},
    "layers": [
        {
            "name": "board",
            "material": "birch-plywood",
            "thickness": 6.5,
            "outline": {"kind": "plate", "margin": 10, "corner": 5},
            "features": [
                {"kind": "holes", "diameter": 4, "at": "top-corners", "inset": 6},
                {"kind": "recess", "depth": 1.5},
                {
                    "kind": "groove_lettering",
                    "lettering": {"text": "BOAT HOUSE", "font": "oswald", "size": {"em": 12}},
                    "place": {"anchor": "bottom", "inset": 0, "y": -4},
                },
            ],
        },
        {
            "name": "face",
            "material": "acrylic-cast",
            "thickness": 3,
            "outline": {"kind": "lettering"},
        },
    ],
}


def asked(kind, units):
    shop = {"units": units, "cautions": ["Ear protection hangs by the door."]}
    if kind == "survey":
        return {"font": "dancing-script", "text": "Tern", "compare": ["oswald"], "shop": shop}
    return {"recipe": RECIPE, "shop": shop}


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("kind", ["plan", "check", "survey"])
def test_no_word_is_in_other_units(kind, units):
    files = all_files(kind, asked(kind, units))
    texts = [(path, without_names(t)) for path, data in files.items() for t in read_in(path, data)]
    stray = {text for _, text in texts if STRAY[units].search(text)}
    assert not stray
    spoken = {path.rpartition(".")[2] for path, text in texts if SPOKEN[units].search(text)}
    wanted = {"plan": {"json", "svg", "nc"}, "check": {"json", "svg"}, "survey": {"json", "csv"}}
    assert wanted[kind] <= spoken


@pytest.mark.parametrize(
    ("kind", "units"),
    [("diameter", "inch"), ("fit", "inch"), ("angle", "inch"), ("feed", "inch"), ("line", "inch"),
     ("flatness", "inch"), ("feed", "mm")],
)  # fmt: skip
def test_no_word_of_a_test_piece_is_in_other_units(kind, units):
    tried = {"diameter": "flat-3175", "angle": "vbit-60", "feed": "flat-3175", "line": "drag-120"}
    more = {"dowel": 6} if kind == "fit" else {"cutter": tried[kind]} if kind in tried else {}
    piece = {"kind": kind, "material": "birch-plywood", "thickness": 6.5, **more}
    made = run_job("test-piece", {**piece, "shop": {"units": units}}, Resources())
    papers = ["piece.pdf", "piece.svg"]
    drawn = {p: d for p, d in make_files(made.answer, papers).items() if p in papers}
    files = {**made.artifacts, **drawn}
    files.pop("recipe.json")  # what is cut, not what is read
    texts = [(path, without_names(t)) for path, data in files.items() for t in read_in(path, data)]
    assert not {text for _, text in texts if STRAY[units].search(text)}
    spoken = {path.rpartition(".")[2] for path, text in texts if SPOKEN[units].search(text)}
    assert {"json", "pdf", "nc"} <= spoken


def test_fields_of_json_are_the_same_in_either(tmp_path):
    in_mm, in_inches = (
        json.loads(run_job("check", asked("check", u), Resources()).artifacts["findings.json"])
        for u in ("mm", "inch")
    )
    for one, other in zip(in_mm["findings"], in_inches["findings"], strict=True):
        assert (one["code"], one["measured"], one["limit"], one["unit"], one["where"]) == (
            other["code"], other["measured"], other["limit"], other["unit"], other["where"]
        )  # fmt: skip


def test_what_is_remembered_in_one_is_not_told_in_the_other(tmp_path):
    shared = Resources(shared_folder=str(tmp_path))
    for units in ("mm", "inch", "mm"):
        told = run_job("check", asked("check", units), shared).artifacts["findings.json"]
        texts = [without_names(t) for t in strings_of(json.loads(told))]
        assert not [t for t in texts if STRAY[units].search(t)]


def test_errors_speak_in_the_units_of_the_shop():
    plate = {"kind": "plate", "width": "2 in", "height": "1 in"}
    layer = {**RECIPE["layers"][0], "outline": plate, "features": []}
    layer["features"] = [{"kind": "slots", "length": 5, "width": 10, "at": "centre"}]
    recipe = {"title": "Slot", "layers": [layer]}
    with pytest.raises(InputError) as caught:
        run_job("check", {"recipe": recipe, "shop": {"units": "inch"}}, Resources())
    assert caught.value.expected == "at most its length, 0.1969 in"
