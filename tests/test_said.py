"""What the service says to a maker: every sentence is there in German, with all that it tells."""

import ast
import json
import pickle
import re
from pathlib import Path

import pytest

from boathouse import changed, locker_tag, rack_sign
from letterply.catalogue import load_catalogue
from letterply.catalogue.model import Beam
from letterply.exports import findings_document
from letterply.findings import FINDING_CODES, RemedyAction
from letterply.jobs import packing
from letterply.jobs.resources import Resources
from letterply.jobs.run import run_job
from letterply.names import in_sentence, key_words, sentence
from letterply.said import Said, as_it_is, say, say_together
from letterply.units import counted

HERE = Path(__file__).parents[1]
SERVICE = HERE / "service" / "letterply"
GERMAN = json.loads((HERE / "clients/browser/src/findings-german.json").read_text("utf-8"))
UNSAID = {"proof"}
"""Codes whose sentences have no words yet: what the proof finds is told as it is."""

_BRACES = re.compile(r"\{(\w+)\}")


def calls(name):
    """Yield every call of a function in what tells its words, with its module."""
    for path in sorted(SERVICE.rglob("*.py")):
        text = path.read_text("utf-8")
        if "letterply.said" not in text:
            continue
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == name:
                yield path.relative_to(SERVICE).as_posix(), node


def templates():
    """Return every template of the service, with one of the modules that have it."""
    found = {}
    for module, call in calls("say"):
        assert isinstance(call.args[0], ast.Constant), f"{module}:{call.lineno}"
        found[call.args[0].value] = module
    for module, call in calls("counted"):
        noun = call.args[1]
        for one in (noun.body, noun.orelse) if isinstance(noun, ast.IfExp) else (noun,):
            more = call.args[2].value if len(call.args) > 2 else f"{one.value}s"
            found |= {f"{{count}} {one.value}": module, f"{{count}} {more}": module}
    return found


def test_every_sentence_is_there_in_german_and_none_that_nobody_says():
    assert set(GERMAN["sentences"]) == set(templates())


def test_every_value_of_a_sentence_is_in_the_german_one():
    for english, german in GERMAN["sentences"].items():
        assert german, english
        assert set(_BRACES.findall(german)) == set(_BRACES.findall(english)), english
        assert german.count("{{") == english.count("{{"), english


def test_every_code_and_remedy_of_the_service_is_said_by_templates():
    codes, actions = set(), set()
    for _, call in calls("Finding"):
        given = {k.arg: k.value for k in call.keywords}
        code = given.get("code", call.args[0] if call.args else None)
        codes |= {one.value for one in ast.walk(code) if isinstance(one, ast.Constant)}
    for name in ("Refusal", "Advice"):
        codes |= {c.args[0].value for _, c in calls(name) if isinstance(c.args[0], ast.Constant)}
    codes |= {code for path in SERVICE.rglob("*.py") for code in added(path.read_text("utf-8"))}
    for _, call in calls("Remedy"):
        actions |= {one.attr for one in ast.walk(call.args[0]) if isinstance(one, ast.Attribute)}
    assert set(FINDING_CODES) - codes == set()
    assert {a.name for a in RemedyAction} - actions <= {"MERGE_LAYERS"}  # offered nowhere yet


def added(text):
    """Return the codes of the findings that a module of the planner adds."""
    return re.findall(r"\.add_finding\(\s*\"([a-z-]+)\"", text)


def test_what_is_shipped_has_the_name_in_sentences_that_it_has_in_lists():
    shipped = load_catalogue()
    names = {str(in_sentence(m.name)) for m in shipped.materials.values()}
    names |= {str(in_sentence(c.name)) for c in shipped.cutters.values()}
    names |= {str(m.kind) for m in shipped.materials.values()}
    names |= {str(key_words(key)) for key in shipped.materials}
    refused = [m for m in shipped.materials.values() if m.beam_reason and m.beam is Beam.REFUSED]
    names |= {text for m in refused for text in (m.name, m.beam_reason)}
    assert names - set(GERMAN["names"]) == set()


@pytest.fixture(scope="module")
def answers():
    """Give the findings of many recipes, in both units."""
    thin = rack_sign("Avocet")
    stencil = changed(
        locker_tag(), layers__0__features=[{"kind": "through_lettering"}], lettering__text="BOo"
    )
    large = changed(rack_sign("Oystercatcher"), lettering__size={"cap_height": "400 mm"})
    dowels = changed(rack_sign("Il"), align={"kind": "dowels", "diameter": "3 mm"})
    recipes = [thin, stencil, large, dowels, locker_tag()]
    shops = [{}, {"units": "inch"}, {"machine": "bench-beam"}]
    found = []
    for recipe in recipes:
        for shop in shops:
            request = {"recipe": recipe, "shop": shop}
            done = run_job("check", request, Resources())
            found.append(json.loads(done.artifacts["findings.json"]))
    return found


def english_of(told):
    """Return the English sentence that words make, by a second and plainer way."""
    if isinstance(told, list):
        *most, end = map(english_of, told)
        return f"{', '.join(most)} and {end}" if most else end
    if not isinstance(told, dict):
        return str(told)
    text = told["text"].format(**{k: english_of(v) for k, v in told["values"].items()})
    return str(sentence(text)) if told.get("whole") else text


def words_in(told):
    """Yield a document of words and all that stand in it."""
    if isinstance(told, list):
        for one in told:
            yield from words_in(one)
    elif isinstance(told, dict):
        yield told
        yield from words_in(list(told["values"].values()))


def test_words_make_the_sentence_that_is_told(answers):
    seen = set()
    for document in answers:
        assert english_of(document["summary_words"]) == document["summary"]
        for finding in document["findings"]:
            seen.add(finding["code"])
            assert english_of(finding["words"]) == finding["why"]
            for remedy in finding["remedies"]:
                assert english_of(remedy["words"]) == remedy["text"]
    assert {"neck", "island", "corner", "room", "refused"} <= seen


def test_no_word_of_english_is_left_in_what_is_told(answers):
    own = {"board", "backer", "face", "tag"}  # names of layers
    for document in answers:
        for finding in document["findings"]:
            assert finding["code"] not in UNSAID
            for told in words_in([finding["words"], *(r["words"] for r in finding["remedies"])]):
                known = GERMAN["sentences"] | GERMAN["names"]
                bare = _BRACES.sub("", told["text"])
                assert told["text"] in known or not re.search("[a-z]", bare), told
                for value in told["values"].values():
                    plain = re.findall("[A-Za-z]{3,}", value) if isinstance(value, str) else []
                    if "{field}" in told["text"]:
                        plain = []  # what is to be written into a shop is the same everywhere
                    letters = ("Avocet", "Oystercatcher", "BOo", "Il")
                    plain = [p for p in plain if not any(p in text for text in letters)]
                    assert set(plain) <= own | {"ADA", "Standards"}, told


def test_a_text_with_its_words_is_a_text_like_any_other():
    told = say("{what} of {wide}", what=say("a gap"), wide="2 mm")
    assert told == "a gap of 2 mm"
    assert json.dumps(told) == '"a gap of 2 mm"'
    assert f"{told}!" == "a gap of 2 mm!"


def test_both_sides_of_a_sum_keep_their_words():
    for told in (say("a gap") + " here", "here " + say("a gap"), say_together("a", say("gap"))):
        assert isinstance(told, Said)
        assert any(getattr(v, "template", "") for v in told.values.values())


def test_a_whole_sentence_keeps_its_words():
    told = sentence(say("{count} left", count=counted(2, "part")))
    assert (told, told.template, told.whole) == ("2 parts left.", "{count} left", True)
    assert sentence(as_it_is("so be it")).template == ""


@pytest.mark.parametrize("way", [packing.pack, pickle.dumps])
def test_words_outlast_being_stored(way):
    told = say("{names} and {what}", names=("a", say("a gap")), what=say("a hole"))
    back = packing.unpack(way(told)) if way is packing.pack else pickle.loads(way(told))
    assert (back, back.template) == (told, told.template)
    first, second = back.values["names"]
    assert (first, second, second.template) == ("a", "a gap", "a gap")
    assert back.values["what"].template == "a hole"


def test_a_document_tells_nothing_of_what_stays_as_it_is():
    assert findings_document([])["summary_words"] == {
        "text": "Nothing stands in the way.",
        "values": {},
    }
