"""The `letterply` command: a recipe in, files and a readable answer out.

Exit codes: 0 it can be made, 1 it cannot as it is (blockers, or a proof that fails), 2 something
is wrong with the input, 3 the service is not reachable or fails.

Imports of what only one command needs are inside the functions: workers of `letterply serve`
import this module again.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import json
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from letterply_client._folders import result_in
from letterply_client._library_command import add_library, run_library
from letterply_client._offer_command import add_offer, run_offer
from letterply_client._order_command import (
    SEARCH,
    SHOP,
    USE_COUNTERS,
    add_order,
    commit_order,
    in_words,
    mistakes_in_words,
    run_order,
    show_commit,
    show_estimate,
    with_counters,
)
from letterply_client._piece_command import add_piece, make_piece
from letterply_client._progress import shown
from letterply_client._prove_command import add_prove, prove_folder, show_proof
from letterply_client._recipe_files import (
    BadInput,
    add_new,
    new_recipe,
    read_file,
    read_file_if,
)
from letterply_client._shop_command import add_shop, read_shop, run_shop
from letterply_client._size_command import add_size, ask_size, show_size
from letterply_client._survey_command import add_survey, ask_survey
from letterply_client._webhook_command import add_webhooks, run_webhooks

if TYPE_CHECKING:
    from letterply_client import Client, Result
    from letterply_client._wishes import CheckedWishes

__all__ = ["main"]

FINE, NOT_AS_IT_IS, BAD_INPUT, NO_SERVICE = 0, 1, 2, 3

_KINDS = {"build": "stack", "check": "check", "plan": "plan"}
_DOING = {
    "stack": "making the layers",
    "check": "checking",
    "plan": "planning and proving",
    "survey": "looking at the font",
    "test-piece": "making the test piece",
    "size": "trying sizes",
}
_ENGINE_HELP = {
    "serve": "run the service",
    "worker": "run a worker for orders",
    "keys": "make, list and revoke API keys of a service",
    "migrate": "bring the tables of a store to this version",
    "doctor": "see what is missing for the service to run",
    "backup": "copy everything that is stored into a new folder",
    "restore": "fill an empty store from such a folder",
    "sweep": "remove what nobody holds any more",
}
_ENGINE_COMMANDS = {
    name: {"serve": "letterply.api.serve", "worker": "letterply.api.work"}.get(
        name, "letterply.api.operate"
    )
    for name in _ENGINE_HELP
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return the exit code."""
    given = sys.argv[1:] if arguments is None else list(arguments)
    if given[:1] and given[0] in _ENGINE_COMMANDS:
        return _engine_command(given)
    options = _parser().parse_args(given)
    run: Callable[[argparse.Namespace], int] = options.run
    from letterply_client import (
        ClientError,
        InputProblem,
        NotFoundProblem,
        Problem,
    )

    try:
        return run(options)
    except BadInput as exc:
        return _complain(str(exc), BAD_INPUT)
    except (InputProblem, NotFoundProblem) as exc:
        return _complain("\n".join(mistakes_in_words(exc)) or in_words(exc), BAD_INPUT)
    except Problem as exc:
        return _complain(in_words(exc), BAD_INPUT if exc.status < 500 else NO_SERVICE)
    except ClientError as exc:
        return _complain(str(exc), NO_SERVICE)
    except KeyboardInterrupt:
        return _complain("stopped before it was done", NO_SERVICE)


def _parser() -> argparse.ArgumentParser:
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument(
        "--url",
        default=os.environ.get("LETTERPLY_URL"),
        help="service to ask (LETTERPLY_URL); without it a private one runs for the call",
    )
    common.add_argument(
        "--api-key",
        default=os.environ.get("LETTERPLY_API_KEY"),
        help="secret of an API key (LETTERPLY_API_KEY)",
    )
    common.add_argument("--json", action="store_true", help="print the answer as JSON")

    parser = argparse.ArgumentParser(
        prog="letterply", description="Turns lettering into cut-ready layered parts."
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for name, about in _ENGINE_HELP.items():
        commands.add_parser(name, help=about, add_help=False)
    says = {
        "build": "make the layers of a recipe",
        "check": "say what stands in the way of cutting a recipe",
        "plan": "make sheets, programs and their proof",
    }
    for name, kind in _KINDS.items():
        command = commands.add_parser(name, help=says[name], parents=[common])
        command.add_argument("recipe", help="recipe file (JSON or TOML), - for standard input")
        command.add_argument("-o", "--out", type=Path, help="folder to write the files to")
        command.add_argument("--shop", help=SHOP)
        if kind != "stack":
            command.add_argument("--limits", help="file (JSON or TOML) with limits of your own")
            command.add_argument("--use", help="file that says how people use the sign")
        if kind == "check":
            command.add_argument(
                "--repair", action="store_true", help="repair what stands in the way, check again"
            )
            command.add_argument(
                "--raise-size",
                action="store_true",
                help="with --repair: make the lettering larger where nothing else helps",
            )
        if kind == "plan":
            command.add_argument(
                "--commit", action="store_true", help="take its sheets out of the shop's stock"
            )
            command.add_argument("--use-counters", action="store_true", help=USE_COUNTERS)
            command.add_argument("--search", type=int, metavar="S", help=SEARCH)
            command.add_argument(
                "--accept-unproved",
                action="store_true",
                help="also write programs that have not passed their proof, at your own risk",
            )
        command.set_defaults(run=_make, kind=kind, accept_unproved=False)
    add_order(commands, common).set_defaults(run=_order)
    add_offer(commands, common).set_defaults(run=_offer)
    add_survey(commands, common).set_defaults(run=_survey, kind="survey")
    add_piece(commands, common, SHOP).set_defaults(run=_piece)
    add_size(commands, common).set_defaults(run=_size, kind="size")
    add_new(commands, common).set_defaults(run=_new)
    add_prove(commands, common).set_defaults(run=_prove)
    add_shop(commands, common).set_defaults(run=_shop)
    add_webhooks(commands, common).set_defaults(run=_webhooks)
    for library in add_library(commands, common):
        library.set_defaults(run=_library)
    return parser


def _engine_command(given: list[str]) -> int:
    """Run a command that the engine itself has."""
    from letterply_client import engine_is_installed

    if not engine_is_installed():
        return _complain("the engine (the package letterply) is not installed here", NO_SERVICE)
    module, takes_name = _ENGINE_COMMANDS[given[0]], given[0] not in ("serve", "worker")
    run: Callable[[list[str]], int] = importlib.import_module(module).main
    return run(given if takes_name else given[1:])


def _order(options: argparse.Namespace) -> int:
    from letterply_client._tables import show_result

    with _client(options) as client:
        try:
            moved = commit_order(options, client)
            if moved is not None:
                (_print_json if options.json else show_commit)(moved)
                return FINE
            result, estimate = run_order(options, client, read_file)
        except OSError as exc:
            raise BadInput(f"{options.list} cannot be read: {exc}") from exc
        except ValueError as exc:
            raise BadInput(str(exc)) from exc
        if result is None:
            (_print_json if options.json else show_estimate)(estimate)
            return FINE if all(m["enough"] for m in estimate["materials"]) else NOT_AS_IT_IS
        written = _download(client, result, options)
    if options.json:
        _print_json(result.document)
    else:
        show_result(result, options.out, written)
        print(f"order {result.id}")
        if any((result.document.get("lost") or {}).values()):
            print(f"make what the service lost with: letterply order --again {result.id}")
    return FINE if result.ready else NOT_AS_IT_IS


def _make(options: argparse.Namespace) -> int:
    from letterply_client._tables import show_result

    recipe = read_file(options.recipe, "recipe")
    if getattr(options, "raise_size", False) and not options.repair:
        raise BadInput("--raise-size needs --repair: add it")
    wishes: CheckedWishes = {}
    if options.kind != "stack":
        wishes = {
            "shop": with_counters(read_shop(options.shop), options),
            "limits": read_file_if(options.limits, "limits"),
            "use": read_file_if(options.use, "use"),
        }
    with _client(options) as client, shown(_DOING[options.kind]) as progress:
        if options.kind == "stack":
            own = read_shop(options.shop)
            result = client.build_stack(recipe, shop=own, progress=progress)
        elif options.kind == "check":
            result = client.check(
                recipe,
                repair={"raise_size": options.raise_size} if options.repair else None,
                progress=progress,
                **wishes,
            )
        else:
            result = client.make_plan(recipe, progress=progress, search_s=options.search, **wishes)
        written = _download(client, result, options)
        commit = options.kind == "plan" and options.commit and result.ready
        moved = client.commit_plan(result.id) if commit else None
    if options.json:
        _print_json({**result.document, **({"commit": moved} if moved else {})})
    else:
        show_result(result, options.out, written)
        if moved is not None:
            show_commit(moved)
    return FINE if result.ready else NOT_AS_IT_IS


def _offer(options: argparse.Namespace) -> int:
    run_offer(options, _client, _print_json)
    return FINE


def _prove(options: argparse.Namespace) -> int:
    with _client(options) as client:
        document = prove_folder(options.folder, client, read_shop(options.shop))
    (_print_json if options.json else show_proof)(document)
    return FINE if document["passed"] else NOT_AS_IT_IS


def _new(options: argparse.Namespace) -> int:
    new_recipe(options, _client, _print_json)
    return FINE


def _webhooks(options: argparse.Namespace) -> int:
    run_webhooks(options, _client, _print_json)
    return FINE


def _shop(options: argparse.Namespace) -> int:
    run_shop(options, _client, _print_json)
    return FINE


def _size(options: argparse.Namespace) -> int:
    with _client(options) as client, shown(_DOING[options.kind]) as progress:
        result = ask_size(options, client, progress)
        written = _download(client, result, options)
    if options.json:
        _print_json(result.document)
    else:
        show_size(result, options.out, written)
    return FINE if result.ready else NOT_AS_IT_IS


def _piece(options: argparse.Namespace) -> int:
    from letterply_client._tables import show_result

    with _client(options) as client, shown(_DOING["test-piece"]) as progress:
        result = make_piece(options, client, read_shop(options.shop), progress)
        written = _download(client, result, options)
    if options.json:
        _print_json(result.document)
    else:
        show_result(result, options.out, written)
        print(f"test piece {result.id}")
    return FINE if result.ready else NOT_AS_IT_IS


def _survey(options: argparse.Namespace) -> int:
    from letterply_client._tables import show_survey

    with _client(options) as client, shown(_DOING[options.kind]) as progress:
        result = ask_survey(options, client, progress)
        written = _download(client, result, options)
    if options.json:
        _print_json(result.document)
    else:
        show_survey(result, options.out, written)
    return FINE if result.ready else NOT_AS_IT_IS


def _download(client: Client, result: Result, options: argparse.Namespace) -> tuple[Path, ...]:
    if options.out is None:
        return ()
    unproved = getattr(options, "accept_unproved", False)
    try:
        earlier = result_in(options.out)
        written = client.download(result, options.out, accept_unproved=unproved)
    except OSError as exc:
        raise BadInput(f"{options.out} cannot be written: {exc}") from exc
    if earlier not in (None, result.id):
        print(f"letterply: replaced an earlier result in {options.out}", file=sys.stderr)
    return written


def _library(options: argparse.Namespace) -> int:
    run_library(options, _client, _print_json)
    return FINE


@contextlib.contextmanager
def _client(options: argparse.Namespace) -> Iterator[Client]:
    from letterply_client import Client, private_service

    with contextlib.ExitStack() as stack:
        url = options.url or stack.enter_context(private_service(usual_folder=True))
        yield stack.enter_context(Client(url, api_key=options.api_key))


def _print_json(value: Any) -> None:
    json.dump(value, sys.stdout, indent=2, ensure_ascii=False)
    print()


def _complain(message: str, code: int) -> int:
    print(f"letterply: {message}", file=sys.stderr)
    return code


if __name__ == "__main__":
    sys.exit(main())
