"""Serving: settings in, a listening service until it is told to stop.

`python -m letterply.api.serve` reads the environment; arguments override it. With `--ready-file`
the address is written to a file once the service answers, with `--stop-with-stdin` it stops when
whoever started it closes the pipe or dies: together they make a private service.

Imports are inside the functions: worker processes import this module again.
"""

from __future__ import annotations

import argparse
import os
import socket
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

_ABOUT = (
    "Run the service: the bench page at its address, its documents at /docs. Settings come from "
    "the environment; what is given here goes before them. Ctrl-C stops it."
)

if TYPE_CHECKING:
    from letterply.api.settings import Settings

__all__ = ["main", "serve"]

_GRACE_S = 10


def serve(
    settings: Settings,
    *,
    on_ready: Callable[[str], None] = lambda url: None,
    stop: threading.Event | None = None,
    log_level: str = "info",
) -> None:
    """Run the service until it is told to stop by a signal or by `stop`.

    Args:
        settings: what the operator decided.
        on_ready: told the address once the service answers.
        stop: setting it ends the service.
        log_level: `debug`, `info`, `warning` or `error`.

    """
    from letterply.workers import imported_to_stay

    with imported_to_stay():
        import uvicorn

        from letterply.api.app import create_app
        from letterply.api.http.connections import patient_protocol
        from letterply.api.http.logs import set_up_logging

    set_up_logging(log_level)
    _vet_store(settings)
    app = create_app(settings)
    config = uvicorn.Config(
        app,
        http=patient_protocol(settings.header_wait_s),
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=_GRACE_S,
    )
    listening = _listen(settings.host, settings.port)
    host, port = listening.getsockname()[:2]
    shown = f"[{host}]" if ":" in host else host

    class Server(uvicorn.Server):
        async def startup(self, sockets: list[object] | None = None) -> None:  # type: ignore[override]
            await super().startup(sockets=sockets)  # type: ignore[arg-type]
            if not self.should_exit:
                on_ready(f"http://{shown}:{port}")

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            app.state.app_state.stopping.set()  # what would go on for long ends now
            await super().shutdown(sockets)

    server = Server(config)
    if stop is not None:

        def watch(stop: threading.Event = stop) -> None:
            stop.wait()
            server.should_exit = True

        threading.Thread(target=watch, daemon=True).start()
    server.run(sockets=[listening])


def _vet_store(settings: Settings) -> None:
    """Open the store once, before anything listens: what is wrong with it is said in a sentence.

    Raises:
        LetterplyError: it cannot be opened; or the service would listen beyond this machine
            (`keys-needed`) and there is no key.

    """
    from letterply.api.operate import opened_store
    from letterply.errors import LetterplyError

    with opened_store(settings) as store:
        if settings.open_to_all and not settings.api_keys and not store.access.any():
            raise LetterplyError(
                f"listening on {settings.host} needs API keys: make one with `letterply keys make` "
                "or set LETTERPLY_API_KEYS; without them the service answers on this machine only",
                code="keys-needed",
            )


def _listen(host: str, port: int) -> socket.socket:
    """Return a bound socket; raises `OSError`."""
    family, kind, _, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    # asyncio sends small answers without delay only on sockets that say they are TCP.
    listening = socket.socket(family, kind, socket.IPPROTO_TCP)
    try:
        if os.name != "nt":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
    except BaseException:
        listening.close()
        raise
    return listening


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the service from the command line; return the exit code."""
    from letterply.errors import LetterplyError
    from letterply.workers import imported_to_stay

    with imported_to_stay():
        from letterply.api.settings import read_settings

    os.umask(0o077)  # what is stored is read by nobody else
    parser = argparse.ArgumentParser(prog="letterply serve", description=_ABOUT)
    parser.add_argument("--host", help="address to listen on")
    parser.add_argument("--port", type=int, help="port to listen on; 0 for any free one")
    parser.add_argument("--data-folder", type=Path, help="where results and fonts are kept")
    parser.add_argument("--workers", type=int, help="worker processes that compute")
    parser.add_argument("--log-level", default=os.environ.get("LETTERPLY_LOG_LEVEL", "info"))
    parser.add_argument("--ready-file", type=Path, help="write the address here when ready")
    parser.add_argument("--stop-with-stdin", action="store_true", help="stop when stdin closes")
    given = vars(parser.parse_args(arguments))
    level, ready_file = given.pop("log_level"), given.pop("ready_file")
    stop = threading.Event() if given.pop("stop_with_stdin") else None
    if stop is not None:
        threading.Thread(target=_set_at_end_of_stdin, args=(stop,), daemon=True).start()

    def announce(url: str) -> None:
        if ready_file is None:
            print(f"letterply listens on {url}", flush=True)
        else:
            waiting = ready_file.with_suffix(".part")
            waiting.write_text(url)
            waiting.replace(ready_file)

    try:
        settings = read_settings(**{k: v for k, v in given.items() if v is not None})
        serve(settings, on_ready=announce, stop=stop, log_level=level)
    except (LetterplyError, OSError) as exc:
        print(f"letterply: {exc}", file=sys.stderr)
        return 2
    return 0


def _set_at_end_of_stdin(stop: threading.Event) -> None:
    while os.read(0, 4096):
        pass
    stop.set()


if __name__ == "__main__":
    sys.exit(main())
