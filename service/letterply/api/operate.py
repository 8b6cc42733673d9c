"""Operating: what an operator does to a store from the command line, each by one command.

`letterply keys`, `migrate`, `doctor`, `backup`, `restore` and `sweep` read the environment as the
service does and work on the store itself, beside a service that runs or without one: keys made or
revoked here count at once.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from letterply.api.doctor import findings
from letterply.api.settings import Settings, read_settings
from letterply.errors import LetterplyError
from letterply.orders import prepare_queues
from letterply.storage import (
    SCOPES,
    AccessKey,
    Store,
    SweepRules,
    backup,
    layout_of,
    newest_layout,
    restore,
    sweep,
    utc_text,
)

__all__ = ["COMMANDS", "main", "opened_store", "rules_of"]

COMMANDS = ("keys", "migrate", "doctor", "backup", "restore", "sweep")


@contextlib.contextmanager
def opened_store(settings: Settings) -> Iterator[Store]:
    """Give the store of these settings; raises `LetterplyError`, naming the setting at fault."""
    try:
        store = Store(settings.data_folder, settings.database_url, settings.bucket_url)
    except OSError as exc:
        raise LetterplyError(
            f"LETTERPLY_DATA_FOLDER: {settings.data_folder} cannot be made or written: "
            f"{exc.strerror or exc}",
            code="bad-settings",
        ) from exc
    except LetterplyError as exc:
        name = (
            "LETTERPLY_BUCKET_URL" if exc.code == "store-unreachable" else _database_name(settings)
        )
        raise LetterplyError(f"{name}: {exc.message}", code=exc.code, data=exc.data) from exc
    except Exception as exc:
        # A driver that is not there, a server that refuses the password: each says it in its way.
        said = str(exc).strip().splitlines()[0]
        raise LetterplyError(f"{_database_name(settings)}: {said}", code="bad-settings") from exc
    try:
        yield store
    finally:
        store.close()


def _database_name(settings: Settings) -> str:
    return "LETTERPLY_DATABASE_URL" if settings.database_url else "LETTERPLY_DATA_FOLDER"


def rules_of(settings: Settings) -> SweepRules:
    """Return what goes in a sweep."""
    keep_s = None if settings.keep_days is None else settings.keep_days * 86_400.0
    return SweepRules(keep_s=keep_s, keep_bytes=settings.keep_bytes)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one of the commands; return 0, 1 when something is not as it should be, or 2."""
    given = _parser().parse_args(arguments)
    try:
        over = {} if given.data_folder is None else {"data_folder": given.data_folder}
        return int(given.run(read_settings(**over), given))
    except (LetterplyError, OSError) as exc:
        print(f"letterply: {exc}", file=sys.stderr)
        return 2


def _parser() -> argparse.ArgumentParser:
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument("--data-folder", type=Path, help="where results and fonts are kept")
    parser = argparse.ArgumentParser(prog="letterply", description=__doc__)
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def add(name: str, says: str, run: Any, to: Any = commands) -> argparse.ArgumentParser:
        command: argparse.ArgumentParser = to.add_parser(name, help=says, parents=[common])
        command.set_defaults(run=run)
        return command

    keys = commands.add_parser("keys", help="make, list and revoke API keys")
    doing = keys.add_subparsers(required=True, metavar="make | list | revoke")
    make = add("make", "make a key and show its secret, once", _make_key, doing)
    make.add_argument("name", help="who holds it; goes to the log")
    make.add_argument("--owner", help="whose things it reaches; the name when left out")
    make.add_argument("--scopes", default="read,write", help=f"some of {','.join(SCOPES)}")
    make.add_argument("--days", type=float, help="how long it opens anything; for ever if left out")
    add("list", "list the keys, revoked ones too", _list_keys, doing)
    revoke = add("revoke", "end a key at once", _revoke_key, doing)
    revoke.add_argument("id", help="as `letterply keys list` shows it")

    add("migrate", "bring the tables to this version", _migrate)
    add("doctor", "see what is missing for the service to run", _doctor)
    for name, says, run in (
        ("backup", "copy everything that is stored into a new folder", _backup),
        ("restore", "fill an empty store from such a folder", _restore),
    ):
        add(name, says, run).add_argument("folder", type=Path)
    add("sweep", "remove what nobody holds any more", _sweep)
    return parser


def _make_key(settings: Settings, given: argparse.Namespace) -> int:
    ends = None
    if given.days is not None:
        ends = utc_text(datetime.now(UTC) + timedelta(days=given.days))
    with opened_store(settings) as store:
        key, secret = store.access.make(
            given.name, given.owner or given.name, given.scopes.split(","), ends
        )
    print(_line(key), file=sys.stderr)
    print(secret)
    return 0


def _list_keys(settings: Settings, given: argparse.Namespace) -> int:
    with opened_store(settings) as store:
        for key in store.access.listed():
            print(_line(key))
    return 0


def _revoke_key(settings: Settings, given: argparse.Namespace) -> int:
    with opened_store(settings) as store:
        print(_line(store.access.revoke(given.id)))
    return 0


def _line(key: AccessKey) -> str:
    state = "valid" if key.valid else "revoked" if key.revoked_at else "expired"
    ends = f", until {key.expires_at}" if key.expires_at else ""
    scopes = ",".join(s for s in SCOPES if s in key.scopes)
    return f"{key.id}  {state:8}  owner {key.owner}, {key.name}: {scopes}{ends}"


def _migrate(settings: Settings, given: argparse.Namespace) -> int:
    url = settings.database_url or f"sqlite:///{settings.data_folder / 'index.sqlite'}"
    with contextlib.suppress(Exception):  # opening it says in words what is the matter
        before = layout_of(url)
    with opened_store(settings) as store:
        prepare_queues(store.database)
    print(f"tables: {before or 'none'} -> {newest_layout()}")
    return 0


def _doctor(settings: Settings, given: argparse.Namespace) -> int:
    ill = False
    for finding in findings(settings):
        print(f"{finding.state:7} {finding.what}: {finding.said}")
        ill = ill or finding.state == "missing"
    return 1 if ill else 0


def _backup(settings: Settings, given: argparse.Namespace) -> int:
    with opened_store(settings) as store:
        facts = backup(store, given.folder)
    rows = sum(facts.rows.values())
    print(f"{rows} rows, {facts.blobs} files and {facts.answers} answers are in {given.folder}")
    if facts.lost:
        print(f"lost before: {json.dumps(facts.lost)}", file=sys.stderr)
    return 1 if facts.lost else 0


def _restore(settings: Settings, given: argparse.Namespace) -> int:
    with opened_store(settings) as store:
        facts = restore(given.folder, store)
    rows = sum(facts.rows.values())
    print(f"{rows} rows, {facts.blobs} files and {facts.answers} answers were restored")
    return 0


def _sweep(settings: Settings, given: argparse.Namespace) -> int:
    with opened_store(settings) as store:
        # The copies that a service works with are not named by any row.
        keep = [store.keep_file(path.read_bytes())[0] for path in settings.catalogue_files]
        swept = sweep(store, rules_of(settings), keep)
    print(
        f"{len(swept.jobs)} jobs, {len(swept.orders)} orders, {swept.answers} answers and "
        f"{swept.blobs} files went, {swept.freed_bytes / 1e6:.1f} MB"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
