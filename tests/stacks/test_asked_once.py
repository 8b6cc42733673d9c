"""What takes longest is asked for once: a change of something else asks the same questions."""

import json
from pathlib import Path

from letterply.catalogue import load_catalogue
from letterply.jobs.packing import pack
from letterply.lettering import FontLibrary
from letterply.requests import parse_recipe
from letterply.stacks import build_stack
from letterply.storage import digest

SIGN = json.loads(
    (Path(__file__).parents[2] / "deploy/recipes/avocet-rack-sign.json").read_text("utf-8")
)


class Answers:
    """Remembers answers, and which questions were new."""

    def __init__(self):
        self.known = {}
        self.new = []

    def once(self, question, find_out):
        """Return the answer to a question."""
        key = digest(pack(question))
        if key not in self.known:
            self.new.append(question[0])
            self.known[key] = find_out()
        return self.known[key]


def asked(change):
    """Return the questions that are new once the sign was built, and what was built either way."""
    answers, catalogue, library = Answers(), load_catalogue(), FontLibrary()
    build_stack(parse_recipe(SIGN), catalogue, library, once=answers.once)
    answers.new.clear()
    recipe = json.loads(json.dumps(SIGN))
    change(recipe)
    warm = build_stack(parse_recipe(recipe), catalogue, library, once=answers.once)
    return answers.new, warm, build_stack(parse_recipe(recipe), catalogue, FontLibrary())


def test_another_thickness_finds_outlines_and_dowels_again():
    new, warm, cold = asked(lambda r: r["layers"][0].update(thickness=12))
    assert new == []
    assert pack(warm) == pack(cold)


def test_another_growth_finds_the_other_outlines_again():
    def grow(recipe):
        recipe["layers"][1]["outline"]["grow"] = 5.0

    new, warm, cold = asked(grow)
    assert new.count("outline") <= 1
    assert pack(warm) == pack(cold)


def test_another_size_is_another_question_throughout():
    def enlarge(recipe):
        recipe["lettering"]["size"] = {"cap_height": 63}

    new, warm, cold = asked(enlarge)
    assert "outline" in new
    assert pack(warm) == pack(cold)
