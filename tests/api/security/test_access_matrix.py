"""Who may do what: every operation of the app, by every kind of key.

The operations come from the app's own routes, so that none can be forgotten: a new one is tried
by itself, and fails here as long as nothing is known of how to call it.
"""

import asyncio
import re
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import httpx
import pytest

from letterply.api.app import _ROUTERS, create_app
from letterply.api.security.guard import OWNER_HEADER, needed_scope
from letterply.api.settings import Settings
from letterply.jobs import Shops
from letterply.jobs.left_overs import LeftOver
from letterply.jobs.stock_moves import CutSheet, taken_out
from letterply.lettering import shipped_faces
from letterply.offers.book import OfferBook
from letterply.requests import shipped_templates
from letterply.storage import CommitBook, Finished, UploadKind, Webhooks, utc_text
from offers.test_model import OFFER

CUSTOMERS = "/offer/"
"""Below it an unguessable link is the key, whoever asks: here it is one that opens nothing."""

SHOP = "boathouse"
JOB = "1" * 32
ORDER = "2" * 32
OPEN = {
    ("GET", path)
    for path in (
        "/", "/page/{name}", "/docs", "/docs/{name}", "/openapi.json", "/problems",
        "/problems/{code}", "/health/live", "/health/ready",
    )
}  # fmt: skip
"""Operations that need no key."""

SHARED = ("/v1/cutters", "/v1/machines", "/v1/materials", "/v1/stock", "/v1/templates", "/v1/keys")
"""What is the same for every owner, or is the administrator's."""

HALF_KEPT = {
    ("POST", "/v1/orders/{id}/again"),
    ("GET", "/v1/orders/{id}/offers"),
    ("GET", "/v1/offers/{id}.pdf"),
}
"""The order that is kept here has no list of lines, the offer no picture: they are said to be
damaged."""

FILES = {
    UploadKind.FONT: shipped_faces()["pacifico"].path.read_bytes(),
    UploadKind.ARTWORK: b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm">'
    b'<path d="M0 0H9V9Z"/></svg>',
}
DRAWN = {"ink": {"width_mm": 9.0, "height_mm": 9.0, "pieces": 1}, "left_out": []}
FINISHED = Finished("it.json", {"it.json": b'{"summary": "fine"}', "x.svg": b"<svg/>"}, {})


@asynccontextmanager
async def service(folder):
    """Give the app, running, without its worker processes: nothing here computes."""
    app = create_app(Settings(data_folder=folder, workers=1, order_worker="none"))
    async with app.router.lifespan_context(app):
        transport = httpx.ASGITransport(app=app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            yield app, client


def operations(app):
    """Return all operations: those of the routers, and those that the app has by itself."""
    own = [route for route in app.routes if hasattr(route, "path")]
    included = [route for module in _ROUTERS for route in module.router.routes]
    assert len(app.routes) == len(own) + len(_ROUTERS)
    found = {(m, route.path) for route in own + included for m in route.methods}
    return sorted(operation for operation in found if operation[0] != "HEAD")


def called(method, path, shown):
    """Return the address of an operation, with names of things that are there put in."""
    kind = path.removeprefix("/v1").split("/")[1]
    values = {
        "id": shown.get(kind, JOB),
        "key": shown.get(kind, ""),
        "suffix": "svg"
        if "/stock/" in path
        else {"fonts": "svg", "artworks": "svg", "templates": "toml", "shops": "toml"}.get(
            kind, "json"
        ),
        "path": "it.json",
        "name": {"shops": SHOP, "docs": "docs.css"}.get(kind, "style.css"),
        "code": "not-found",
        "token": "t" * 43,
        "number": "1",
        "rest": "x",
    }
    return re.sub(r":(path|int)", "", path).format(**values)


def fill(store, owner):
    """Keep one of each kind of thing for an owner; return their names."""
    mine, shown = store.of(owner), {}
    kinds = ("stack", "check", "plan", "survey", "size", "test-piece", "order")
    for number, kind in enumerate(kinds):
        id_ = f"{owner}{number}".encode().hex().ljust(32, "0")[:32]
        shown[f"{kind}s"] = id_
        if kind != "order":
            mine.save_done(id_, kind, {"recipe": {}}, FINISHED)
    shown["jobs"] = shown["stacks"]
    for kind in UploadKind:
        id_ = f"{'own' if kind is UploadKind.FONT else 'artwork'}-{owner}"
        mine.add_upload(kind, id_, FILES[kind], owner, DRAWN if kind is UploadKind.ARTWORK else {})
        shown[f"{kind}s"] = id_
    shops = Shops(mine)
    for subject in ("plan", "order"):
        shown["shops"] = commit(shops, CommitBook(mine), subject, shown[f"{subject}s"])
    shops.shelf.use(SHOP)
    hooks = Webhooks(store.database, owner)
    shown["webhooks"] = (hooks.listed() or hooks.add(f"https://{owner}.invalid/"))[0].id
    shown["offers"] = shown["stacks"]
    book = OfferBook(store.database).of(owner)
    offer = replace(OFFER, id=shown["offers"], job=shown["stacks"], title=owner)
    book.add(offer, f"token of {owner}")
    return shown


def commit(shops, book, kind, id_):
    """Have a sheet of the shop taken for a plan or an order; return what is left of it by name."""
    kept = SHOP in [record.name for record in shops.shelf.page(limit=9)[0]]
    sheets = shops.resolved(SHOP)[1].stock if kept else ()
    if book.standing(kind, id_) is not None and any(s.key == "offcut-1" for s in sheets):
        return "offcut-1"
    shops.put(SHOP, {"units": "inch"})
    _, shop, _ = shops.resolved(SHOP)
    left = LeftOver(100.0, 80.0, (), 8000.0)
    document, moved = taken_out({"units": "inch"}, shop, [CutSheet(shop.stock[0], (left,))], 1)
    if book.standing(kind, id_) is None:
        shops.put(SHOP, document, along=book.writing(SHOP, kind, id_, moved))
    else:
        shops.put(SHOP, document)
    return "offcut-1"


def fill_order(service_, owner, id_):
    """Keep a cancelled order for an owner, without asking any worker for it."""
    book = service_.book
    book.accept(
        id_, {"title": owner}, "0" * 32, lines=1, designs=1, generation=1,
        start=lambda db, attempt: None, owner=owner,
    )  # fmt: skip
    from letterply.orders import OrderPhase
    from letterply.orders.pipeline.answers import Problem
    from letterply.orders.service import _CANCELLED

    book.end(id_, OrderPhase.CANCELLED, Problem.of(_CANCELLED))


@pytest.fixture(scope="module")
def matrix(tmp_path_factory):
    """Try all operations by all keys; return (operation, key) -> status, code."""

    async def go():
        async with service(tmp_path_factory.mktemp("matrix")) as (app, client):
            state = app.state.app_state
            store, access = state.job_service.store, app.state.access
            soon = utc_text(datetime.now(UTC) + timedelta(seconds=0.5))
            secrets = {
                "none": None,
                "wrong": "lp_wrong",
                "read": access.make("reader", "club", ["read"])[1],
                "metrics": access.make("watcher", "club", ["metrics"])[1],
                "expired": access.make("late", "club", expires_at=soon)[1],
                "other": access.make("stranger", "other")[1],
                "write": access.make("rower", "club")[1],
                "admin": access.make("steward", "steward", ["admin"])[1],
            }
            revoked, secrets["revoked"] = access.make("gone", "club")
            access.revoke(revoked.id)
            spare, _ = access.make("spare", "club", ["read"])
            await asyncio.sleep(0.6)
            answers, shown = {}, None
            for operation in operations(app):
                for who, secret in secrets.items():
                    if shown is None or operation[0] == "DELETE":  # one may have deleted it
                        shown = fill(store, "club")
                        fill_order(state.order_service, "club", shown["orders"])
                        shown |= {"keys": spare.id, "templates": shipped_templates()[0].key}
                        for name in ("cutters", "machines", "materials", "stock"):
                            shown[name] = next(iter(getattr(state.catalogue, name)))
                    headers = {"Authorization": f"Bearer {secret}"} if secret else {}
                    if who == "admin":
                        headers[OWNER_HEADER] = "club"
                    answer = await client.request(
                        operation[0], called(*operation, shown), headers=headers
                    )
                    code = None
                    if "problem+json" in answer.headers.get("content-type", ""):
                        code = answer.json()["code"]
                    answers[operation, who] = answer.status_code, code
                    if who == "other" and answer.status_code == 200:
                        assert "club" not in answer.text, operation
            return operations(app), answers

    return asyncio.run(go())


def test_all_operations_are_tried(matrix):
    found, answers = matrix
    assert len(found) > 60
    assert len(answers) == len(found) * 9


@pytest.mark.parametrize("who", ["none", "wrong", "expired", "revoked"])
def test_without_a_valid_key_only_open_paths_answer(matrix, who):
    found, answers = matrix
    for operation in found:
        status, code = answers[operation, who]
        if operation[1].startswith(CUSTOMERS):
            assert status in (200, 404, 429), operation
        elif operation in OPEN:
            # Whether a worker is up yet is told as well, and needs no key.
            assert status < 400 or (operation[1], status) == ("/health/ready", 503), operation
        else:
            assert (status, code) == (401, "missing-key"), operation


@pytest.mark.parametrize(
    ("who", "scopes"),
    [("read", {"read"}), ("metrics", {"metrics"}), ("write", {"read", "write"})],
)
def test_a_key_reaches_as_far_as_its_scopes(matrix, who, scopes):
    found, answers = matrix
    for operation in found:
        if operation[1].startswith(CUSTOMERS):
            continue
        status, code = answers[operation, who]
        needed = needed_scope(operation[1], operation[0])
        assert (code == "insufficient-scope") == (needed is not None and needed not in scopes), (
            operation
        )
        assert (status == 403) == (code == "insufficient-scope"), operation
        assert status != 401, operation
        assert status != 404, (operation, code)
        assert status < 500 or operation in HALF_KEPT, (operation, code)


def test_an_administrator_reaches_all_for_the_owner_it_names(matrix):
    found, answers = matrix
    for operation in found:
        if operation[1].startswith(CUSTOMERS):
            continue
        status, _ = answers[operation, "admin"]
        assert status not in (401, 403), operation
        assert status != 404, operation
        assert status < 500 or operation in HALF_KEPT, operation


def test_to_another_owner_a_thing_is_not_there(matrix):
    found, answers = matrix
    tried = 0
    for operation in found:
        if (
            operation in OPEN
            or operation[1].startswith((*SHARED, CUSTOMERS))
            or "{" not in operation[1]
            or operation == ("PUT", "/v1/shops/{name}")  # makes one of their own
        ):
            continue
        assert answers[operation, "other"][0] == 404, operation
        tried += 1
    assert tried > 30


def test_what_needs_writing_is_not_done_by_reading(matrix):
    """Nothing that deletes or makes is reached by GET: the scope follows the method."""
    found, _ = matrix
    for method, path in found:
        if path.startswith("/v1") and method != "GET" and not path.startswith("/v1/keys"):
            assert needed_scope(path, method) == "write"
