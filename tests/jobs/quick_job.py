"""A job that is quick: for tests of what is done with jobs, not of what they make.

Workers import it by name, as they import `letterply.jobs.run`.
"""

import json
import time

from letterply.errors import GlyphMissing
from letterply.lettering.fonts.library import FontLibrary
from letterply.storage.records import Finished
from letterply.workers import tell

FINDINGS = {"summary": "Nothing stands in the way.", "counts": {"blocker": 0}, "findings": []}


def run_quick_job(kind, request, resources):
    """Answer with the text of the request; `sleep 3` takes three seconds, `plan 3` for a plan."""
    lettering = request["recipe"]["lettering"]
    FontLibrary(resources.font_files).load(lettering["font"])
    text = lettering["text"]
    if not text.isascii():
        raise GlyphMissing(text[-1], len(text) - 1, lettering["font"], field="recipe")
    if text.startswith("sleep ") or (kind == "plan" and text.startswith("plan ")):
        time.sleep(float(text.partition(" ")[2]))
    files = {
        "stack.json": json.dumps({"summary": text}).encode(),
        "findings.json": json.dumps(FINDINGS).encode(),
    }
    headline = {"title": request["recipe"]["title"], "summary": text, "ready": True}
    return Finished("stack.json", files, headline)


def draw_for_ever_or_at_once(recipe, resources, units, measured, quick):
    """Draw what is titled `for ever` until nobody wants it; the rest at once."""
    while recipe["title"] == "for ever":
        tell("layers", 0.0)
    return json.dumps({"title": recipe["title"]}).encode()
