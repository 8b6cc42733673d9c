"""`letterply webhooks`: addresses that are told when an order ends or a customer replies."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from letterply_client import Client

__all__ = ["add_webhooks", "run_webhooks"]


def add_webhooks(commands: Any, common: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """Add the command and what it does; return its parser."""
    webhooks: argparse.ArgumentParser = commands.add_parser(
        "webhooks", help="have an address told when orders end and customers reply"
    )
    acts = webhooks.add_subparsers(required=True, metavar="ACTION")

    def act(name: str, says: str) -> argparse.ArgumentParser:
        parser: argparse.ArgumentParser = acts.add_parser(name, help=says, parents=[common])
        parser.set_defaults(act=name)
        return parser

    add = act("add", "register an address and show the secret of its calls, once")
    add.add_argument("address", help="where to send it, https")
    add.add_argument("--events", nargs="+", metavar="EVENT", help="as order.done; all without")
    act("list", "list the addresses")
    for name, says in (
        ("remove", "forget an address"),
        ("calls", "show what became of telling it, the newest first"),
        ("test", "have it told that this is a test"),
    ):
        act(name, says).add_argument("id", help="as `letterply webhooks list` shows it")
    return webhooks


def run_webhooks(
    options: argparse.Namespace,
    opened: Callable[[argparse.Namespace], AbstractContextManager[Client]],
    print_json: Callable[[Any], None],
) -> None:
    """Do what is asked for; raises what the client raises."""
    with opened(options) as client:
        found = _answer(options, client)
    if options.json:
        print_json(found)
        return
    if options.act == "add":
        print(_line(found), file=sys.stderr)
        print(found["secret"])
    elif options.act == "list":
        for hook in found:
            print(_line(hook))
    elif options.act == "calls":
        for call in found:
            said = f": {call['said']}" if call["said"] else ""
            print(f"{call['created_at']}  {call['event']}  {call['type']}  {call['state']}{said}")
    elif options.act == "test":
        print(found["event"])


def _answer(options: argparse.Namespace, client: Client) -> Any:
    match options.act:
        case "add":
            return client.add_webhook(options.address, options.events)
        case "list":
            return client.webhooks()
        case "calls":
            return client.webhook_calls(options.id)
        case "test":
            return {"event": client.try_webhook(options.id)}
        case _:
            client.remove_webhook(options.id)
            return {"removed": options.id}


def _line(hook: Any) -> str:
    return f"{hook['id']}  {hook['url']}  {' '.join(hook['events'])}"
