"""What a maker reads: every sentence of findings and problems is held against plain rules.

The texts come from the real functions, over recipes of the rowing club in which much is wrong.
`python tests/test_texts.py` prints them, to be read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

import pytest

from boathouse import changed, locker_tag, rack_letters, rack_sign
from letterply.api.http.problem_types import PROBLEM_TYPES
from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.shop import resolve_shop
from letterply.checks.repair.remedies import repair_recipe
from letterply.checks.run import check_stack
from letterply.checks.signs.stack import find_sign_advice
from letterply.errors import InputError
from letterply.findings import FINDING_CODES, Finding, summarise
from letterply.lettering.fonts.library import FontLibrary
from letterply.requests.limits import Limits
from letterply.requests.mistakes import read_request
from letterply.requests.recipe import parse_recipe
from letterply.requests.sign_use import SignUse
from letterply.requests.survey import SurveyRequest
from letterply.stacks.build import build_stack

BEAM = {"machine": "bench-beam", "cutters": ["beam-015"]}


def stencil(text: str = "BO8") -> dict[str, Any]:
    """Return a plate from which the middles of the letters drop out."""
    feature = {"kind": "through_lettering"}
    plate = {"kind": "plate", "shape": "rectangle", "margin": "15 mm"}
    recipe = rack_letters(text)
    base = {"name": "stencil", "material": "mdf", "thickness": "3 mm", "outline": plate}
    return recipe | {"layers": [base | {"features": [feature]}], "align": {"kind": "none"}}


def over_the_edge() -> dict[str, Any]:
    """Return a board with a deep recess, and carving that runs over its edge."""
    words = {"text": "RIVERBANK", "font": "archivo-black", "size": {"cap_height": "60 mm"}}
    deep = {"kind": "recess", "depth": "8.8 mm"}
    carved = {"kind": "groove_lettering", "lettering": words}
    recipe = rack_sign("Dunlin")
    recipe["layers"][0]["features"] += [deep, carved]
    return recipe


RECIPES: dict[str, tuple[dict[str, Any], dict[str, Any] | None]] = {
    "a small script sign": (
        changed(rack_sign("Jay"), lettering__size={"cap_height": "12 mm"}), None
    ),
    "a script sign beyond every sheet": (
        changed(rack_sign("Sandpiper"), lettering__size={"cap_height": "900 mm"}), None
    ),
    "letters that are taken for others": (
        changed(rack_letters("OIlid", 1), align={"kind": "none"}), None
    ),
    "a stencil": (stencil(), None),
    "work over the edge": (over_the_edge(), None),
    "a tag without a drag point": (locker_tag(), {"cutters": ["flat-3175"]}),
    "a tag under a beam": (locker_tag(), BEAM),
    "a sign under a beam without power": (rack_letters("A"), BEAM),
    "PVC under a beam": (
        changed(rack_letters("A"), layers__0__material="pvc-sheet", layers__1__material="mdf"),
        BEAM,
    ),
    "large cutters only": (rack_letters("Bay"), {"cutters": ["flat-6"]}),
}  # fmt: skip


@dataclass(frozen=True)
class Text:
    """One text with where it comes from and what it is."""

    source: str
    kind: str
    text: str


@cache
def findings() -> tuple[tuple[str, Finding], ...]:
    found: list[tuple[str, Finding]] = []
    catalogue, library = load_catalogue(), FontLibrary()
    for name, (raw, wish) in RECIPES.items():
        recipe = parse_recipe(raw)
        stack = build_stack(recipe, catalogue, library)
        shop = resolve_shop(wish, catalogue)
        found += [(name, f) for f in check_stack(stack, catalogue, shop)]
        for use in (
            SignUse(raised=True, braille=False, baseline_height=1000, bevel=1, border=2),
            SignUse(raised=False, viewing_distance=9000, baseline_height=900),
        ):
            found += [(name, f) for f in find_sign_advice(recipe, stack, library, use)]
    return tuple(found)


def finding_texts() -> Iterator[Text]:
    for code, words in FINDING_CODES.items():
        yield Text(code, "heading", words)
    for name, f in findings():
        yield Text(f"{name}, {f.code}", "why", f.why)
        yield from (Text(f"{name}, {f.code}", "remedy", r.text) for r in f.remedies)
    for name, (raw, _) in RECIPES.items():
        mine = tuple(f for n, f in findings() if n == name)
        yield Text(name, "summary", summarise(mine))
        repair = repair_recipe(parse_recipe(raw).model_dump(mode="json"), mine)
        yield from (Text(name, "remedy", u.why) for u in repair.left)
        yield from (Text(name, "remedy", a.text) for a in repair.applied)


def wrong_requests() -> Iterator[Any]:
    sign, letters = rack_sign(), rack_letters()
    for path, value in (
        ("title", 7), ("copies", 1.5), ("copies", 0), ("copies", "many"), ("lettering", []),
        ("layers", {}), ("layers", []), ("layers", [3]), ("layers__0__thickness", "3 parsec"),
        ("layers__0__thickness", "thin"), ("layers__0__thickness", "1/0 in"),
        ("layers__0__thickness", 10**13), ("layers__0__thickness", None),
        ("layers__0__outline", {"kind": "cloud"}), ("layers__0__outline", {}),
        ("layers__0__outline__shape", "heart"), ("layers__0__line_end", 1),
        ("layers__0__name", "face"), ("layers__0__name", "\n"), ("layers__0__name", ""),
        ("layers__0__features__0__inset", [1]), ("layers__0__features__1__lettering__text", ""),
        ("lettering__size", {}), ("lettering__size", {"cap_height": 5, "em": 7}),
        ("lettering__features", {"wght": "bold"}), ("align", "dowels"), ("align__diameter", -1),
        ("lettering__text", "x" * 5000), ("lettering__baseline", {"kind": "path", "data": "M"}),
    ):  # fmt: skip
        yield lambda p=path, v=value: parse_recipe(changed(sign, **{p: v}))
    catalogue, library = load_catalogue(), FontLibrary()
    for path, value in (
        ("lettering__text", "鷸"), ("lettering__text", " "), ("lettering__font", "none"),
        ("lettering__features", {"zzzz": True}), ("layers__0__material", "gold"),
        ("lettering__baseline", {"kind": "path", "data": "M0 0 L10 0"}),
        ("lettering__baseline", {"kind": "path", "data": "over there"}),
        ("layers__0__outline__grow", "-40 mm"),
    ):  # fmt: skip
        yield lambda p=path, v=value: build_stack(
            parse_recipe(changed(letters, **{p: v})), catalogue, library
        )
    for shop in (
        [], {"machine": "none"}, {"machine": 1}, {"hold_down": "glue"}, {"hold_down": "bed"},
        {"cutters": "flat-6"}, {"feeds": {"flat-6": {"feed": "1000 m/min"}}},
        {"feeds": {"flat-6": {"pass_depth": 3}}}, {"power": [{"material": "mdf"}]},
        {"stock": [{"material": "mdf", "thickness": 3, "width": 20, "height": 20, "margin": 30}]},
    ):  # fmt: skip
        yield lambda s=shop: resolve_shop(s, catalogue)
    for limits in ({"materials": {"mdf": {"min_web_mm": -1}}}, {"webs": []}, {"neck_ratio": "a"}):
        yield lambda v=limits: read_request(Limits, v, field="limits")
    for survey in ({}, {"font": "archivo-black", "set": "runes"}, {"font": "archivo-black"}):
        yield lambda v=survey: read_request(SurveyRequest, v)


def problem_texts() -> Iterator[Text]:
    for code, kind in PROBLEM_TYPES.items():
        yield Text(code, "heading", kind.title)
        yield Text(code, "advice", kind.advice)
    for number, ask in enumerate(wrong_requests()):
        try:
            ask()
        except InputError as error:
            mistakes = error.data.get("mistakes") or [
                {"message": error.message, "expected": error.expected}
            ]
            for mistake in mistakes:
                where = f"request {number}, {error.code}"
                yield Text(where, "message", mistake["message"])
                yield Text(where, "expected", mistake["expected"] or "")


NOUNS = "part|sheet|place|layer|blocker|caution|bridge|link|gap|piece|entry|font|letter|pair|glyph"
RULES = {
    "an inner name": re.compile(
        r"\b[a-z]+_[a-z_]+\b|\b(?:flat|vbit|drill|drag)-\d|\b\d+\.[a-z][\w-]*\.\w|\bface\.\w"
    ),
    "broken English": re.compile(
        r"(?<![Tt]here )\bis no [a-z]+\b|\bno object\b|\bare no\b|\bnone of the\b"
    ),
    "two spaces": re.compile(r"  |\s$|^\s"),
    "nothing as a length": re.compile(r"(?<![\d.,])-?0 mm\b"),
    "more digits than can be used": re.compile(r"\d\.\d{3}|\d{4,}\.\d|\de[+-]\d"),
    "a wrong plural": re.compile(
        rf"(?<![\d.,])1 (?:{NOUNS})s\b|(?<![\d./])(?:0|[2-9]|[1-9]\d+) (?:{NOUNS})\b(?!-)"
    ),
    "a doubled stop": re.compile(r"\.\.(?!\.)|[:;,]\.|,,"),
    "another word of the glossary": re.compile(
        r"\b(?:snaps? it|fills up|reading of the program|is taken whole|island)\b"
    ),
}
QUOTED = re.compile(r"'[^']*'|\"[^\"]*\"|`[^`]*`|\{[^}]*\}")


def faults(text: Text) -> list[str]:
    bare = text.text if text.kind == "expected" else QUOTED.sub("''", text.text)
    found = [name for name, rule in RULES.items() if rule.search(bare)]
    if text.kind == "expected" and "an inner name" in found:
        found.remove("an inner name")  # it says what is to be typed
    if "Standards" in text.text and "more digits than can be used" in found:
        found.remove("more digits than can be used")  # limits in inches, exact
    whole = text.kind in ("why", "message", "summary", "advice")
    if whole != text.text.endswith((".", "!")):
        found.append("a missing full stop" if whole else "a full stop too many")
    if text.kind in ("why", "message", "summary", "advice") and text.text[:1].islower():
        found.append("a small first letter")
    if not text.text:
        found.append("nothing said")
    return found


@pytest.mark.parametrize("texts", [finding_texts, problem_texts])
def test_every_text_keeps_the_rules(texts: Any) -> None:
    wrong = {(name, t.source, t.kind, t.text) for t in texts() for name in faults(t)}
    assert not sorted(wrong)


def test_the_recipes_reach_most_findings() -> None:
    told = {f.code for _, f in findings()}
    assert told >= {
        "island", "neck", "stroke", "slot", "corner", "web", "depth", "room", "movement",
        "look-alike", "tactile", "reading", "uncut", "edge", "refused", "power",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("7 N at its far end snap it.", "another word of the glossary"),
        ("The shop is no object.", "broken English"),
        ("1.face.i-2 is too small.", "an inner name"),
        ("The line_end is wrong.", "an inner name"),
        ("It is at most 0 mm deep.", "nothing as a length"),
        ("It leaves 4.399 mm2.", "more digits than can be used"),
        ("It takes 1 sheets.", "a wrong plural"),
        ("It takes 3 sheet.", "a wrong plural"),
        ("It stands still", "a missing full stop"),
    ],
)
def test_the_rules_find_what_they_are_for(text: str, fault: str) -> None:
    assert fault in faults(Text("", "why", text))


if __name__ == "__main__":
    for made in (finding_texts, problem_texts):
        for each in dict.fromkeys(made()):
            print(f"{each.kind:9}{each.text}\n         [{each.source}] {faults(each) or ''}")
