"""Questions of size: what is answered is held against checks, plans and layers made anew."""

from __future__ import annotations

import copy
import json
import re
from functools import cache
from typing import Any

import pytest

import boathouse
from jobs.whole import all_files
from letterply.errors import InputError
from letterply.jobs.files import make_files
from letterply.jobs.resources import Resources
from letterply.jobs.run import normalise_request, run_job
from letterply.storage import Finished


def letters(text: str = "HO", font: str = "oswald", **lettering: Any) -> dict[str, Any]:
    """Return a recipe of one layer."""
    return {
        "title": "Letters",
        "lettering": {"text": text, "font": font, "size": {"cap_height": 40}, **lettering},
        "layers": [
            {"name": "face", "material": "acrylic-cast", "thickness": 3,
             "outline": {"kind": "lettering"}},
        ],
    }  # fmt: skip


def on_backer(text: str) -> dict[str, Any]:
    """Return a recipe of two layers that are glued."""
    recipe = letters(text)
    backer = {"kind": "lettering", "grow": 2}
    layer = {"name": "backer", "material": "mdf", "thickness": 3, "outline": backer}
    return recipe | {"layers": [layer, *recipe["layers"]]}


@cache
def _answered(asked: str) -> Finished:
    return run_job("size", json.loads(asked), Resources())


def _files(asked: str, path: str) -> str:
    answer = _answered(asked).answer
    assert answer is not None
    return make_files(answer, [path])[path].decode()


def answered(recipe: dict[str, Any], **asked: Any) -> dict[str, Any]:
    files = _answered(json.dumps({"recipe": recipe, **asked}, sort_keys=True)).artifacts
    found: dict[str, Any] = json.loads(files["size.json"])
    return found


def drawn_in_boxes(svg: str) -> list[tuple[float, float, float]]:
    """Return the width of each box of a picture, and from where to where its letter goes in x."""
    cells = []
    for cell in svg.split('<rect x="')[1:]:
        x, _, wide = (float(n) for n in re.findall(r"[\d.]+", cell)[:3])
        drawn = "".join(
            re.findall(r'<path d="([^"]+)" fill="#\w+" fill-rule="evenodd" stroke', cell)
        )
        across = [float(n) for n in re.findall(r"(-?[\d.]+) -?[\d.]+", drawn)]
        if across:
            assert x <= min(across) + 0.01
            assert max(across) <= x + wide + 0.01
            cells.append((wide, min(across), max(across)))
    return cells


def sized(recipe: dict[str, Any], cap_height: float, text: str | None = None) -> dict[str, Any]:
    found = copy.deepcopy(recipe)
    found["lettering"]["size"] = {"cap_height": cap_height}
    if text is not None:
        found["lettering"]["text"] = text
    return found


def blockers(recipe: dict[str, Any]) -> int:
    """Count what the check finds: blockers, and pieces narrower than 3 mm acrylic may be at all."""
    checked = run_job("check", {"recipe": recipe}, Resources()).artifacts["findings.json"]
    return sum(
        f["severity"] == "blocker" or (f["code"] == "crumb" and f["measured"] < 3)
        for f in json.loads(checked)["findings"]
    )


def extents(recipe: dict[str, Any]) -> tuple[float, float]:
    made = run_job("stack", {"recipe": recipe}, Resources()).artifacts["stack.json"]
    stack = json.loads(made)
    return stack["width_mm"], stack["height_mm"]


@pytest.mark.parametrize(
    ("recipe", "least"),
    [
        (on_backer("n"), 0),
        (letters("kt", "playfair-display"), 10),
        (boathouse.locker_tag(), 0),
    ],
)
def test_the_smallest_size_passes_its_check_and_two_percent_below_does_not(
    recipe: dict[str, Any], least: float
) -> None:
    answer = answered(recipe, smallest=True)["answer"]
    size = answer["cap_height_mm"]
    assert size > least
    assert answer["holds"]
    assert blockers(sized(recipe, size)) == 0
    if answer["fails_at_mm"] is None:
        assert size == 2.0
    else:
        assert blockers(sized(recipe, round(0.98 * size, 4))) > 0


def test_weight_and_axes_of_the_font_count() -> None:
    """A lighter weight of the same font needs a larger size."""
    light, heavy = (
        answered(letters("n", features={"wght": wght}), smallest=True)["answer"]["cap_height_mm"]
        for wght in (200, 700)
    )
    assert light > 1.5 * heavy


def test_what_no_size_takes_away_is_told_apart() -> None:
    recipe = letters()
    recipe["layers"][0]["thickness"] = 60
    found = answered(recipe, smallest=True)
    assert found["at_any_size"]
    assert found["summary"].startswith("As it is, it cannot be cut at any size")


@pytest.mark.parametrize("box", [(25.0, 90.0)])
def test_each_letter_is_as_large_as_its_box_takes(box: tuple[float, float]) -> None:
    recipe = letters("Hn H", "playfair-display")
    found = answered(recipe, fit={"width": box[0], "height": box[1]}, each=True)
    assert [x["text"] for x in found["letters"]] == ["H", "n"]
    for letter in found["letters"]:
        sides = extents(sized(recipe, letter["cap_height_mm"], letter["text"]))
        assert all(s <= b + 0.006 for s, b in zip(sides, box, strict=True))
        larger = extents(sized(recipe, letter["cap_height_mm"] + 0.15, letter["text"]))
        assert any(s > b for s, b in zip(larger, box, strict=True))
        assert letter["holds"] is (
            blockers(sized(recipe, letter["cap_height_mm"], letter["text"])) == 0
        )
    shown = _files(json.dumps({"recipe": recipe, "fit": {"width": 25.0, "height": 90.0},
                               "each": True}, sort_keys=True), "letters.svg")  # fmt: skip
    cells = drawn_in_boxes(shown)
    for (wide, left, right), letter in zip(cells, found["letters"], strict=True):
        assert wide == box[0]
        assert right - left == pytest.approx(letter["width_mm"], abs=0.02)
        assert f"{letter['text']}: capitals {letter['told']}" in shown
    assert shown.count("does not hold") == sum(not x["holds"] for x in found["letters"])
    alike = answered(recipe, fit={"width": box[0], "height": box[1]})
    least = min(x["cap_height_mm"] for x in found["letters"])
    assert alike["answer"]["cap_height_mm"] == least


def test_the_largest_on_a_sheet_goes_and_a_little_larger_does_not() -> None:
    recipe, shop = letters("HI"), {"machine": "bench-router"}
    found = answered(recipe, sheets=1, shop=shop)
    size = found["answer"]["cap_height_mm"]
    assert {s["sheets"] for s in found["sheets"]} == {1}

    assert size in [t["cap_height_mm"] for t in found["tried"] if t["yes"]]
    larger = [t["cap_height_mm"] for t in found["tried"] if not t["yes"]]
    assert size < min(larger) < 1.02 * size


def test_a_width_is_told_with_what_would_make_it_hold() -> None:
    recipe = letters("kt", "playfair-display")
    found = answered(recipe, width="20 mm", shop={"units": "inch"})
    assert not found["answer"]["holds"]
    assert found["answer"]["width_mm"] == 20.0
    assert "mm" not in found["summary"]
    ways = {w["way"]: w for w in found["ways"]}
    assert ways["size"]["holds"]
    assert ways["size"]["width_mm"] > 20
    wider = copy.deepcopy(recipe)
    wider["lettering"]["size"] = {"width": ways["size"]["width_mm"] + 0.01}
    assert blockers(wider) == 0
    assert ways["size"]["text"] in found["summary"]
    assert answered(recipe, width="300 mm")["summary"].endswith("it holds.")


def test_the_recipe_of_the_answer_goes_on_and_files_are_there() -> None:
    request = {"recipe": letters("n"), "fit": "2 in"}
    files = all_files("size", request, Resources())
    recipe = json.loads(files["sized_recipe.json"])
    size = json.loads(files["size.json"])["answer"]["cap_height_mm"]
    assert recipe["lettering"]["size"]["cap_height"] == size
    assert run_job("check", {"recipe": recipe}, Resources()).headline["ready"]
    assert files["stack.png"].startswith(b"\x89PNG")
    assert files["letters.png"].startswith(b"\x89PNG")
    ((box, left, right),) = drawn_in_boxes(files["letters.svg"].decode())
    assert right - left == pytest.approx(json.loads(files["size.json"])["letters"][0]["width_mm"],
                                         abs=0.01)  # fmt: skip
    assert box == 50.8
    assert all_files("size", request, Resources()) == files


@pytest.mark.parametrize(
    ("asked", "code", "field"),
    [
        ({}, "bad-size", None),
        ({"fit": 60, "sheets": 1}, "bad-size", "sheets"),
        ({"smallest": True, "width": 5}, "bad-size", "width"),
        ({"fit": "wide"}, "bad-length", "fit.width"),
        ({"fit": {"width": 5}}, "missing-field", "fit.height"),
        ({"fit": -3}, "out-of-range", "fit.width"),
        ({"sheets": 0}, "out-of-range", "sheets"),
        ({"sheets": 2.5}, "bad-value", "sheets"),
        ({"smallest": False}, "unknown-choice", "smallest"),
        ({"width": 0}, "out-of-range", "width"),
        ({"width": 50, "each": True}, "bad-value", "each"),
        ({"fit": 50, "each": "yes"}, "bad-value", "each"),
        ({"fit": 50, "heigth": 3}, "unknown-field", "heigth"),
    ],
)
def test_a_bad_question_is_refused_at_its_field(
    asked: dict[str, Any], code: str, field: str | None
) -> None:
    with pytest.raises(InputError) as caught:
        normalise_request("size", {"recipe": letters(), **asked})
    assert (caught.value.code, caught.value.field or None) == (code, field), caught.value.message


def test_what_fits_nowhere_is_told() -> None:
    assert (
        answered(letters(), fit=1)["summary"]
        == "H and O do not fit in a box of 1 × 1 mm at any size."
    )
    with pytest.raises(InputError) as caught:
        run_job("size", {"recipe": letters(tracking=30), "width": 20}, Resources())
    assert caught.value.field == "width"
