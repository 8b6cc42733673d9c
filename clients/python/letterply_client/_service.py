"""A private service: started for one call on a free loopback port, stopped afterwards.

It needs the engine (`letterply`) in the same environment. It stops when the block is left, and
also when the process that started it dies: it listens to the pipe that it was given as input.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from letterply_client._errors import ServiceFailed

__all__ = ["engine_is_installed", "private_service"]

_START_LIMIT_S = 60.0
_STOP_LIMIT_S = 15.0
_LOOK_EVERY_S = 0.02


def engine_is_installed() -> bool:
    """Tell whether the service can be started from this environment."""
    return importlib.util.find_spec("letterply") is not None


@contextlib.contextmanager
def private_service(
    data_folder: Path | str | None = None, *, usual_folder: bool = False
) -> Iterator[str]:
    """Run a service of your own for the length of a block; give its address.

    Args:
        data_folder: where it keeps results; None for a folder that is removed afterwards.
        usual_folder: keep results where a service with its own settings would.

    Raises:
        ServiceFailed: the engine is not installed, or the service does not come up.

    """
    if not engine_is_installed():
        raise ServiceFailed("The engine (the package letterply) is not installed here.")
    with contextlib.ExitStack() as stack:
        room = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="letterply-")))
        ready, log = room / "ready", room / "log"
        command = [sys.executable, "-m", "letterply.api.serve"]
        command += ["--host", "127.0.0.1", "--port", "0", "--stop-with-stdin"]
        command += ["--ready-file", str(ready), "--log-level", "warning"]
        if data_folder is not None or not usual_folder:
            command += ["--data-folder", str(data_folder or room / "data")]
        with log.open("wb") as log_file:
            # One client: it needs no worker for previews alone unless somebody says so.
            own = {"LETTERPLY_PREVIEW_WORKERS": "0", **os.environ}
            process = subprocess.Popen(command, stdin=subprocess.PIPE, stderr=log_file, env=own)
        try:
            yield _address(process, ready, log)
        finally:
            assert process.stdin is not None
            process.stdin.close()
            try:
                process.wait(_STOP_LIMIT_S)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _address(process: subprocess.Popen[bytes], ready: Path, log: Path) -> str:
    deadline = time.monotonic() + _START_LIMIT_S
    while not ready.exists():
        if process.poll() is not None:
            said = log.read_text(errors="replace").strip().splitlines()[-1:]
            raise ServiceFailed(f"The service stopped at once: {' '.join(said)}")
        if time.monotonic() > deadline:
            raise ServiceFailed(f"The service was not ready within {_START_LIMIT_S:g} s.")
        time.sleep(_LOOK_EVERY_S)
    return ready.read_text()
