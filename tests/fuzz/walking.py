"""A walk through the service that remembers what it made and what it deleted.

`python tests/fuzz/walking.py --steps 2000 --seed 1` starts a service of its own. Each step asks for
an operation of the published description, of something made or deleted before, at random. Answers
are held against the description as in `described.py`, and against what is remembered: what is there
is found, what was deleted is not, whatever was done to its neighbours meanwhile.
"""

from __future__ import annotations

import argparse
import collections
import contextlib
import random
import re
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import schemathesis
from schemathesis.checks import CHECKS

sys.path.insert(0, str(Path(__file__).parents[1]))

from api.conftest import running
from fuzz.described import CHECKED, HEADERS, SETTINGS, described, mismatches
from letterply.lettering import shipped_faces

MADE_BY_JOBS = ("stacks", "checks", "plans", "sizes", "test-pieces", "surveys")
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="{}mm" height="9mm"><path d="M0 0H9V9Z"/></svg>'
)
SHOPS = [
    {"units": "inch"},
    {"hold_down": "tape", "cutters": ["flat-3175", "vbit-60"]},
    {"cutters": "a mistake"},
]


@dataclass
class Walk:
    """What is known of the service.

    Attributes:
        there, gone: kind of thing -> name -> what was told of it.
        reached: how often an operation was answered with success.
        wrong: (operation, what) -> the request.
        steps: how many were taken.

    """

    dice: random.Random
    steps: int = 0
    there: dict[str, dict[str, Any]] = field(default_factory=lambda: collections.defaultdict(dict))
    gone: dict[str, dict[str, Any]] = field(default_factory=lambda: collections.defaultdict(dict))
    reached: collections.Counter = field(default_factory=collections.Counter)
    statuses: collections.Counter = field(default_factory=collections.Counter)
    wrong: dict = field(default_factory=dict)

    def one_of(self, kind):
        """Return the name of something there, now and then of something gone; None of nothing."""
        pool = self.gone if self.gone[kind] and self.dice.random() < 0.15 else self.there
        return self.dice.choice(sorted(pool[kind])) if pool[kind] else None

    def document(self, kind):
        """Return what was told of something there, or None."""
        found = [d for d in self.there[kind].values() if d]
        return self.dice.choice(found) if found else None

    def keep(self, kind, name, told):
        """Remember what was made, once more where it had been deleted."""
        self.gone[kind].pop(name, None)
        self.there[kind][name] = told or self.there[kind].get(name)

    def drop(self, kind, name):
        """Remember that something was deleted, and with it the offers that showed it."""
        self.gone[kind][name] = self.there[kind].pop(name, None)
        for offer in self.offers_of(name):
            self.drop("offers", offer)

    def offers_of(self, name, states=("open", "agreed", "withdrawn")):
        """Return the offers that show something, those in these states."""
        told = self.there["offers"].items()
        return [k for k, o in told if o["source"]["id"] == name and o["state"] in states]


def recipe(dice):
    """Return one of a few small recipes, so that twins meet; some hold a mistake."""
    text, font = dice.choice("iol"), dice.choice(["lobster", "pacifico", "no-such-font"])
    outline = dice.choice([{"kind": "lettering"}, {"kind": "plate", "margin": "8 mm"}])
    return {
        "title": "Knot",
        "lettering": {"text": text, "font": font, "size": {"cap_height": "20 mm"}},
        "layers": [{"name": "face", "material": "mdf", "thickness": 3, "outline": outline}],
    }


def job_body(walk):
    body = {"recipe": recipe(walk.dice)}
    shop = walk.one_of("shops")
    return body | {"shop": shop} if shop and walk.dice.random() < 0.3 else body


def order_body(walk):
    good = {**recipe(walk.dice), "title": "Tags"}
    good["lettering"] |= {"text": "{text}", "font": "lobster"}
    lines = [{"text": t, "quantity": 1} for t in walk.dice.sample("iolv", 2)]
    shop = walk.one_of("shops")
    placed = {"title": "Racks", "recipe": "tag", "recipes": {"tag": good}, "lines": lines}
    return placed | ({"shop": shop} if shop else {})


def offer_body(walk):
    kind = walk.dice.choice(["check", "plan", "order"])
    return {kind: walk.one_of(f"{kind}s") or "0" * 32, "price": 40, "currency": "EUR"}


def proof_body(walk):
    plan = walk.document("plans") or {"id": "0" * 32}
    return {"plan": plan["id"], "programs": {"sheet-1-1-flat-3175.nc": "G21 G90\nM30\n"}}


def piece_body(walk):
    return {
        "kind": "diameter",
        "cutter": "flat-3175",
        "material": "birch-plywood",
        "thickness": 6.5,
    }


def measured_body(walk):
    piece = walk.one_of("test-pieces") or "0" * 32
    sides = {"outside_x": 30.02, "outside_y": 30.02, "inside_x": 29.98, "inside_y": 29.98}
    return {"piece": piece, "readings": sides}


def survey_body(walk):
    return {"font": "lobster", "words": ["i"], "material": "mdf", "thickness": "3 mm",
            "cutters": ["flat-1"], "cap_height": "20 mm"}  # fmt: skip


BODIES = {
    "/v1/stacks": job_body,
    "/v1/checks": job_body,
    "/v1/plans": job_body,
    "/v1/sizes": lambda walk: job_body(walk) | {"fit": {"width": "60 mm"}},
    "/v1/surveys": survey_body,
    "/v1/test-pieces": piece_body,
    "/v1/previews": lambda walk: {"recipe": recipe(walk.dice), "client": "walk"},
    "/v1/proofs": proof_body,
    "/v1/orders": order_body,
    "/v1/offers": offer_body,
    "/v1/shops": lambda walk: {"name": f"shed-{walk.dice.randrange(3)}", **walk.dice.choice(SHOPS)},
    "/v1/shops/{name}": lambda walk: walk.dice.choice(SHOPS),
    "/v1/shops/{name}/measured": measured_body,
    "/v1/keys": lambda walk: {"name": f"bench {walk.dice.randrange(9)}", "owner": "boathouse"},
    "/v1/webhooks": lambda walk: {"url": f"https://boathouse.example/{walk.dice.randrange(3)}"},
    "/v1/artworks": lambda walk: SVG.format(walk.dice.randrange(9, 12)).encode(),
    "/v1/fonts": lambda walk: shipped_faces()[
        walk.dice.choice(["pacifico", "lobster"])
    ].path.read_bytes(),
}
TYPES = {"/v1/artworks": "image/svg+xml", "/v1/fonts": "font/ttf"}


@schemathesis.serializer(*TYPES.values())
def as_it_is(context, value):
    """Send a file as its bytes."""
    return value


def kind_of(path):
    parts = path.split("/")
    return parts[2] if path.startswith("/v1/") and len(parts) > 2 else ""


def filled(walk, path):
    """Return values for the names in a path, or None where there is nothing to call yet."""
    kind, dice = kind_of(path), walk.dice
    told: dict[str, Any] = {}
    for name in re.findall(r"{(\w+)", path):
        if name in ("id", "key", "name") and "key" not in told:
            if kind in ("cutters", "machines", "materials", "stock", "templates"):
                told[name] = dice.choice(sorted(walk.there[kind]) or ["flat-3175"])
            elif kind == "jobs":
                told[name] = walk.one_of(dice.choice(MADE_BY_JOBS))
            elif path.startswith(("/docs", "/page")):
                told[name] = dice.choice(["docs.css", "page.css", "page.js"])
            elif "/stock/" in path and name == "key":
                told[name] = dice.choice(["offcut-1", "offcut-2", "birch-6"])
            else:
                told[name] = walk.one_of(kind)
        elif name == "path":
            files = (walk.there[kind].get(told["id"]) or {}).get("files", [])
            told[name] = dice.choice([f["path"] for f in files] or ["none.json"])
        elif name == "suffix":
            told[name] = dice.choice(["svg", "png", "pdf", "zip", "toml", "json"])
        elif name == "token":
            link = (walk.document("offers") or {}).get("link")
            told[name] = urlsplit(link).path.split("/")[2] if link else "t" * 43
        else:
            told[name] = {"number": 1, "rest": "x", "code": "not-found"}[name]
    return None if None in told.values() else told


def ends_by_itself(walk, path, told):
    """Tell whether an answer to this comes to an end: a stream of what runs goes on for long."""
    if not path.endswith("/events"):
        return True
    found = [walk.there[kind].get(told["id"]) for kind in (*MADE_BY_JOBS, "orders")]
    return any(d and d.get("state", "done") in ("done", "failed", "cancelled") for d in found)


def step(walk, url, operation, checks):
    """Ask for an operation once; note what comes back. Return whether it could be asked for."""
    path, method = operation.path, operation.method.upper()
    told = filled(walk, path)
    if told is None or not ends_by_itself(walk, path, told):
        return False
    values: dict[str, Any] = {"path_parameters": told} if told else {}
    if path in BODIES and method in ("POST", "PUT"):
        values |= {"body": BODIES[path](walk)}
        values["media_type"] = TYPES.get(path, "application/json")
    case = operation.Case(**values)
    answer = case.call(base_url=url, timeout=600, headers=HEADERS)
    walk.statuses[answer.status_code] += 1
    found = list(mismatches(case, answer, checks))
    found += remembered(walk, method, path, told, answer)
    for what in found:
        walk.wrong.setdefault((operation.label, what), case.as_curl_command())
    if answer.status_code < 400:
        walk.reached[operation.label] += 1
        learn(walk, method, path, told, answer)
    return True


def remembered(walk, method, path, told, answer):
    """Yield what an answer says otherwise than what is known."""
    kind, name = kind_of(path), next(iter(told.values()), None)
    if method == "DELETE" and kind in (*MADE_BY_JOBS, "orders", "jobs") and "/files" not in path:
        held = bool(walk.offers_of(name, ("open", "agreed")))
        if held and answer.status_code < 300:
            yield "deleted, though a customer is shown it"
        if not held and b'"offer-open"' in answer.content:
            yield "not deleted, though no customer is shown it"
    if method != "GET" or not re.fullmatch(r"/v1/[\w-]+/{(id|key|name)}", path) or kind == "jobs":
        return
    if answer.status_code in (429, 503):
        return
    if name in walk.there[kind] and answer.status_code >= 400:
        yield f"{answer.status_code} for what is there"
    # A key that was revoked is still told of, as one that was.
    if name in walk.gone[kind] and kind != "keys" and answer.status_code != 404:
        yield f"{answer.status_code} for what was deleted"


def learn(walk, method, path, told, answer):
    """Remember what was made, seen or deleted."""
    kind, name = kind_of(path), next(iter(told.values()), None)
    if method == "DELETE" and re.fullmatch(r"/v1/[\w-]+/{\w+}", path):
        if kind == "jobs":
            for one in MADE_BY_JOBS:
                if name in walk.there[one]:
                    walk.drop(one, name)
        elif name in walk.there[kind]:
            walk.drop(kind, name)
        return
    if not any("json" in told for told in answer.headers.get("content-type", ())):
        return
    document = answer.json()
    if method == "GET" and path in ("/v1/cutters", "/v1/machines", "/v1/materials", "/v1/stock",
                                    "/v1/templates", "/v1/fonts"):  # fmt: skip
        for item in document["items"]:
            walk.there[kind].setdefault(item["key"], None)
    elif (path == f"/v1/{kind}" and method == "POST") or path == "/v1/shops/{name}":
        made = document.get("id") or document.get("key") or document.get("name")
        if made and "dry" not in answer.request.url and kind not in ("previews", "proofs"):
            walk.keep(kind, made, document)
    elif name in walk.there[kind] and (
        path == f"/v1/{kind}/{{id}}/withdraw" or (method, path) == ("GET", f"/v1/{kind}/{{id}}")
    ):
        walk.keep(kind, name, document)


def walked(url, steps, seed, pattern=""):
    """Walk so many steps over operations whose paths match; return what is known then."""
    schemathesis.checks.load_all_checks()
    checks = [CHECKS.get_one(name) for name in CHECKED]
    operations = [o for o in described(url) if re.search(pattern, o.path)]
    walk = Walk(random.Random(seed))
    making = [o for o in operations if o.path in BODIES and o.method.upper() in ("POST", "PUT")]
    deleting = [o for o in operations if o.method.upper() == "DELETE"]
    with contextlib.suppress(KeyboardInterrupt):  # what was found so far is told
        while walk.steps < steps:
            dice = walk.dice.random()
            pool = making if dice < 0.3 else deleting if dice < 0.34 else operations
            walk.steps += step(walk, url, walk.dice.choice(pool), checks)
    return walk


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder, running(Path(folder), **SETTINGS) as url:
        walk = walked(url, given.steps, given.seed)
    for (label, what), command in sorted(walk.wrong.items()):
        print(f"{label}\n    {what}\n    {command[:600]}")
    print(
        f"{walk.steps} steps in {time.monotonic() - began:.0f} s, {len(walk.reached)} operations "
        f"reached, {len(walk.wrong)} kinds of mismatch, "
        f"statuses {dict(sorted(walk.statuses.items()))}"
    )
    return 1 if walk.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
