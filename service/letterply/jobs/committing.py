"""Orders and plans committed to a shop: its stock kept true, once, and undone again.

A commit reads the shop, works out what becomes of it, and stores both in one transaction that
begins with the shop still being what was read: of two at once one begins again with what the other
left. So no sheet is taken twice. Committing twice is the same as once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from letterply.catalogue import Shop
from letterply.cutting import CutPlan
from letterply.errors import Conflict, LetterplyError, NotFound
from letterply.jobs.files import Answer
from letterply.jobs.left_overs import left_overs
from letterply.jobs.packing import unpack
from letterply.jobs.shops import Shops
from letterply.jobs.stock_moves import CutSheet, back_in, moved_words, taken_out
from letterply.proof import Motion, SheetProof
from letterply.storage import Along, Commit, CommitBook, JobRecord, JobState, ShopRecord, Store
from letterply.units import speaking

__all__ = ["Committing", "commit_document", "not_to_be_cut"]

Document = dict[str, Any]

_TURNS = 50
"""How often it is begun again where others change the shop all the time."""


class Committing:
    """Commits orders and plans of one owner. Any thread may call it; it may take seconds."""

    def __init__(self, store: Store, shops: Shops) -> None:
        self._store = store
        self._shops = shops
        self.book = CommitBook(store)

    def commit_plan(self, plan: str) -> Document:
        """Commit a plan; errors as `commit`.

        Raises:
            NotFound: `plan-not-found`.
            Conflict: `not-to-be-cut`, its programs have not passed their proof.

        """
        record = self._plan(plan)
        if not (record.headline or {}).get("ready"):
            raise not_to_be_cut("plan")
        answer = unpack(self._store.read_answer(record))
        assert isinstance(answer, Answer)
        pairs = zip(answer.plans, answer.proofs, strict=True)
        return self.commit("plan", plan, record.request.get("shop"), pairs)

    def commit(
        self,
        kind: str,
        subject: str,
        wish: Mapping[str, Any] | None,
        made: Iterable[tuple[CutPlan, SheetProof]],
    ) -> Document:
        """Take what was made out of the stock of its shop.

        Args:
            kind: `order` or `plan`.
            subject: its id.
            wish: its settled shop.
            made: its sheets; what is left of them is read off their proofs.

        Raises:
            NotFound: `shop-not-found`.
            Conflict: `no-stored-shop`, `nothing-to-take`, `stock-gone`, `shop-changed`.

        """
        known = self.book.standing(kind, subject)
        if known is not None:
            return self.document(known)
        if not wish or not wish.get("version"):
            raise Conflict(
                f"The {kind} was made in no shop that is stored, so there is no stock to keep.",
                code="no-stored-shop",
                expected="a shop that is stored (letterply shop put), named when it is made",
            )
        name = str(wish["name"])
        least = self._shops.resolved(name)[2].least_offcut_mm
        cut = [
            CutSheet(plan.sheet.stock, left_overs(plan.sheet, _motion(proof), least))
            for plan, proof in made
            if not plan.sheet.of_blanks and not plan.sheet.fixture
        ]
        if not cut:
            raise Conflict(
                f"The {kind} takes no sheet of stock.",
                code="nothing-to-take",
                expected="an order or a plan that cuts sheets",
            )

        def move(written: Mapping[str, Any], shop: Shop) -> tuple[Document, Along]:
            document, moved = taken_out(written, shop, cut, self._next_number(name, shop))
            return document, self.book.writing(name, kind, subject, moved)

        self._change(name, kind, subject, move)
        found = self.book.standing(kind, subject)
        if found is None:  # undone by somebody else in the same moment
            raise Conflict("It was undone just now.", code="shop-changed")
        return self.document(found)

    def undo(self, kind: str, subject: str) -> Document:
        """Undo a commit: its sheets come back, what was left of them goes.

        Raises:
            NotFound: `commit-not-found`, there is none, or none any more.
            Conflict: `commit-built-on`, a left-over was used since.

        """
        found = self.book.standing(kind, subject)
        if found is None:
            raise NotFound("commit", subject)

        def move(written: Mapping[str, Any], shop: Shop) -> tuple[Document, Along]:
            try:
                return back_in(written, shop, found.moved), self.book.undoing(found)
            except Conflict as conflict:
                raise self._built_on(found, conflict) from conflict

        self._change(found.shop, kind, subject, move, undo=True)
        done = next(c for c in self.book.of_shop(found.shop) if c.number == found.number)
        return self.document(done)

    def document(self, commit: Commit) -> Document:
        """Return a commit for people and programs, in the units of its shop."""
        _, shop, _ = self._shops.resolved(commit.shop)
        with speaking(shop.units):
            return commit_document(commit)

    def _plan(self, plan: str) -> JobRecord:
        self._store.require("plan", plan)
        record = self._store.job(plan)
        if record.state is not JobState.DONE:
            raise not_to_be_cut("plan")
        return record

    def _change(self, name: str, kind: str, subject: str, move: Any, *, undo: bool = False) -> None:
        """Change a shop as `move` says, on top of what it is when that counts."""
        for turn in range(_TURNS):
            record = self._shops.shelf.find(name)
            _, shop, _ = self._shops.resolved(name)
            with speaking(shop.units):
                try:
                    document, along = move(self._shops.written(record), shop)
                except Conflict:
                    # Done by somebody else meanwhile, who took the sheets that it misses.
                    if (self.book.standing(kind, subject) is None) == undo:
                        return
                    raise
            try:
                self._shops.put(name, document, may=_unless_changed(record), along=along)
            except Conflict as conflict:
                if conflict.code != "shop-changed" or turn + 1 == _TURNS:
                    raise
            if (self.book.standing(kind, subject) is None) == undo:
                return

    def _next_number(self, name: str, shop: Shop) -> int:
        """Return the next number of a left-over: none is given twice, for it stands on the wood."""
        keys = [a["key"] for c in self.book.of_shop(name) for a in c.moved["added"]]
        keys += [s.key for s in shop.stock]
        ends = [k.removeprefix("offcut-") for k in keys if k.startswith("offcut-")]
        return 1 + max((int(e) for e in ends if e.isdecimal()), default=0)

    def _built_on(self, commit: Commit, conflict: Conflict) -> LetterplyError:
        """Say who used what came of a commit."""
        gone = set(conflict.data["gone"])
        later: Sequence[Commit] = [
            c
            for c in self.book.of_shop(commit.shop)
            if c.undone_at is None and gone & {t["key"] for t in c.moved["taken"]}
        ]
        if not later:
            return conflict
        named = [{"kind": c.kind, "id": c.subject} for c in later]
        words = ", ".join(f"{c.kind} {c.subject}" for c in later)
        return Conflict(
            f"{conflict} It was used by: {words}.",
            code=conflict.code,
            expected="to undo that first",
            data={**conflict.data, "used_by": named},
        )


def commit_document(commit: Commit) -> Document:
    """Return a commit as a document, in the units that are spoken."""
    words = moved_words(commit.moved)
    undone = "Undone: " if commit.undone_at else ""
    stock = f"/v1/shops/{commit.shop}/stock"
    return {
        "summary": f"{undone}{words}.",
        "shop": commit.shop,
        "kind": commit.kind,
        "id": commit.subject,
        "at": commit.created_at,
        "undone_at": commit.undone_at,
        "version": commit.version,
        "taken": [{k: t[k] for k in ("key", "count", "left")} for t in commit.moved["taken"]],
        "added": [
            {
                **{k: a[k] for k in ("key", "material", "thickness_mm", "width_mm", "height_mm")},
                "holes": max(0, len(a.get("outline_mm", ())) - 1),
                "links": {s: f"{stock}/{a['key']}.{s}" for s in ("svg", "dxf", "png")},
            }
            for a in commit.moved["added"]
        ],
    }


def not_to_be_cut(kind: str) -> Conflict:
    """Return the refusal of what nobody should have cut."""
    return Conflict(
        f"The {kind} is not ready to be cut: no sheet is taken for it.",
        code="not-to-be-cut",
        expected=f"a finished {kind} whose programs all passed their proof",
    )


def _motion(proof: SheetProof) -> Motion:
    if proof.motion is None:
        raise LetterplyError(
            "It was proved by an earlier version of the service: ask for it again.",
            code="answer-outdated",
        )
    return proof.motion


def _unless_changed(record: ShopRecord) -> Any:
    def may(version: str | None) -> None:
        if version != record.version:
            raise Conflict(
                f"The shop {record.name!r} was changed by somebody else just now.",
                code="shop-changed",
                expected="the same again, on top of what is stored now",
            )

    return may
