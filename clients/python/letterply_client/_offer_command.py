"""`letterply offer`: show a customer what they will get; what they said to it."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from letterply_client._progress import shown
from letterply_client._recipe_files import BadInput, read_file, read_file_if

if TYPE_CHECKING:
    from letterply_client import Client, Offer, OfferWishes

__all__ = ["add_offer", "run_offer"]

_Clients = Callable[[argparse.Namespace], AbstractContextManager["Client"]]


def add_offer(commands: Any, common: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """Add the command and its arguments; return its parser."""
    offer: argparse.ArgumentParser = commands.add_parser(
        "offer", help="show a customer what they will get, and hear what they say"
    )
    actions = offer.add_subparsers(required=True, metavar="ACTION", dest="action")
    make = actions.add_parser(
        "make", help="make an offer, and the link for the customer", parents=[common]
    )
    make.add_argument("recipe", nargs="?", help="recipe file (JSON or TOML), - for standard input")
    make.add_argument("--order", metavar="ID", help="offer an order instead")
    make.add_argument("--lines", nargs="+", type=int, help="numbers of lines of the order")
    make.add_argument("--shop", help="file (JSON or TOML) with machine, cutters, stock")
    make.add_argument("--price", type=float, help="what it costs; without it, what the quote says")
    make.add_argument("--currency", help="of the price, as EUR")
    make.add_argument("--prices", help="file (JSON or TOML) with price rules for the quote")
    make.add_argument("--title", help="what the customer reads first")
    make.add_argument("--maker", help="who offers it")
    make.add_argument("--note", help="what else the customer should read")
    make.add_argument("--days", type=int, help="how many days the customer has; 14 without it")
    listed = actions.add_parser("list", help="list the offers, newest first", parents=[common])
    listed.add_argument("--order", metavar="ID", help="only those of this order")
    show = actions.add_parser("show", help="say what the customer said", parents=[common])
    show.add_argument("id", help="id of the offer")
    show.add_argument("--recipe", help="recipe file: say whether the offer is of it as it is now")
    show.add_argument("-o", "--out", type=Path, help="file for the offer on paper (PDF)")
    withdraw = actions.add_parser("withdraw", help="take an offer back", parents=[common])
    withdraw.add_argument("id", help="id of the offer")
    return offer


def run_offer(
    options: argparse.Namespace, client: _Clients, print_json: Callable[[Any], None]
) -> None:
    """Run the command.

    Raises:
        BadInput: something is missing, or a file cannot be read or written.

    """
    if options.action == "list":
        with client(options) as service:
            listed = service.offers(of=options.order)
        if options.json:
            print_json([dict(offer.document) for offer in listed])
        elif not listed:
            print("no offers")
        else:
            print("\n".join(f"{offer.id}  {_in_short(offer)}" for offer in listed))
        return
    if options.action == "make":
        _require_makeable(options)
    work = {"make": _make, "show": _show, "withdraw": _withdraw}
    with client(options) as service:
        found = work[options.action](options, service)
    if options.json:
        print_json(dict(found.document))
    else:
        _tell(found, options)


def _require_makeable(options: argparse.Namespace) -> None:
    if (options.recipe is None) == (options.order is None):
        raise BadInput("name a recipe, or --order and the id of an order")
    if options.url is None:
        raise BadInput(
            "the customer's link needs a service that goes on running: start letterply serve, and "
            "name it with --url"
        )


def _make(options: argparse.Namespace, client: Client) -> Offer:
    wishes: OfferWishes = {
        "order": options.order,
        "lines": options.lines,
        "title": options.title,
        "maker": options.maker,
        "note": options.note,
        "price": options.price,
        "currency": options.currency,
        "prices": read_file_if(options.prices, "price rules"),
        "days": options.days,
    }
    if options.recipe is not None:
        recipe, shop = read_file(options.recipe, "recipe"), read_file_if(options.shop, "shop")
        # A quote counts sheets and minutes, so it takes a plan; a price of one's own does not.
        if options.price is None:
            with shown("planning and proving") as progress:
                wishes["plan"] = client.make_plan(recipe, shop=shop, progress=progress).id
        else:
            with shown("checking") as progress:
                wishes["check"] = client.check(recipe, shop=shop, progress=progress).id
    return client.make_offer(**wishes)


def _show(options: argparse.Namespace, client: Client) -> Offer:
    found = client.offer(options.id)
    if options.out is not None:
        try:
            options.out.parent.mkdir(parents=True, exist_ok=True)
            options.out.write_bytes(client.offer_pdf(options.id))
        except OSError as exc:
            raise BadInput(f"{options.out} cannot be written: {exc.strerror or exc}") from exc
    if options.recipe is not None:
        with shown("making the layers") as progress:
            stack = client.build_stack(read_file(options.recipe, "recipe"), progress=progress)
        options.same = stack.document["recipe_version"] in {
            piece["version"] for piece in found.document["pieces"]
        }
    return found


def _withdraw(options: argparse.Namespace, client: Client) -> Offer:
    return client.withdraw_offer(options.id)


_STATES = {
    "open": "no yes yet",
    "agreed": "YES",
    "ended": "ended without a yes",
    "withdrawn": "withdrawn",
}


def _in_short(offer: Offer) -> str:
    wishes = sum(r.kind == "wish" for r in offer.replies)
    wished = f", {wishes} {'wish' if wishes == 1 else 'wishes'}" if wishes else ""
    price = f"{offer.price:.2f} {offer.currency}"
    return f"{offer.title}: {price}, {_STATES.get(offer.state, offer.state)}{wished}"


def _tell(offer: Offer, options: argparse.Namespace) -> None:
    print(f"{_in_short(offer)} (version {offer.version[:8]}, until {offer.ends_at})")
    for reply in offer.replies:
        print(f"  {reply.kind} from {reply.name}, {reply.given_at}")
        for line in reply.text.splitlines():
            print(f"    {line}")
    if options.action == "show" and options.recipe is not None:
        if options.same:
            print("this recipe is the one that was shown")
        else:
            print("this recipe is NOT the one that was shown: a yes to that is no yes to this")
    if options.action == "make":
        print(f"offer {offer.id}")
        print("for the customer (told this once, keep it):")
        print(offer.link)
        if offer.document.get("link_reaches") == "machine":
            print("the service answers on this machine only: nobody else can open the link")
