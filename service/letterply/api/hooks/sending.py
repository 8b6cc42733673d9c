"""The sender: takes calls that are due out of the store, sends them, notes what came of them.

One in each process of the service; they share the work (`letterply.storage.webhooks`). Any answer
of the 200s is a delivery; its body is not read, and no redirect is followed.
"""

from __future__ import annotations

import asyncio
import json
import logging
import time
from collections.abc import Sequence

import httpx

from letterply import __version__
from letterply.api.hooks.addresses import Network, read_target, vet
from letterply.api.hooks.signing import signed
from letterply.errors import InputError
from letterply.storage import RETRY_S, DueCall, Webhooks

__all__ = ["Sender"]

_log = logging.getLogger(__name__)

_AT_ONCE = 16
_LIMIT_S = 15.0
"""Of one call, the look-up of its name included."""
_LOOK_EVERY_S = 1.0
_KINDS = ("order", "offer", "webhook")


class Sender:
    """Sends what is due, for as long as it runs.

    Args:
        webhooks: of whatever owner: calls of all are sent.
        allowed: networks beside the public that calls may go to.
        base_url: what links begin with; nothing for paths alone.
        retry_s: pause after a call that failed for the first time.
        limit_s: how long a call may take.

    """

    def __init__(
        self,
        webhooks: Webhooks,
        allowed: Sequence[Network] = (),
        base_url: str = "",
        retry_s: float = RETRY_S,
        limit_s: float = _LIMIT_S,
    ) -> None:
        self._webhooks = webhooks
        self._allowed = tuple(allowed)
        self._base_url = base_url.rstrip("/")
        self._retry_s = retry_s
        self._limit_s = limit_s

    async def run(self) -> None:
        """Send until the task is cancelled: what was cut off is sent again."""
        running: dict[str, asyncio.Task[None]] = {}
        # A connection belongs to one call: the next one to its number may go by another name.
        async with httpx.AsyncClient(
            verify=httpx.create_ssl_context(),
            trust_env=False,
            timeout=self._limit_s,
            limits=httpx.Limits(max_keepalive_connections=0),
            headers={"User-Agent": f"letterply/{__version__}"},
        ) as http:
            try:
                while True:
                    running = {hook: task for hook, task in running.items() if not task.done()}
                    due = await self._due(_AT_ONCE - len(running), running)
                    for call in due:
                        running[call.webhook] = asyncio.create_task(self._deliver(http, call))
                    if not due:
                        await asyncio.sleep(_LOOK_EVERY_S)
            finally:
                for task in running.values():
                    task.cancel()
                await asyncio.gather(*running.values(), return_exceptions=True)

    async def _due(self, most: int, busy: dict[str, asyncio.Task[None]]) -> tuple[DueCall, ...]:
        try:
            return await asyncio.to_thread(self._webhooks.claim, most, list(busy)) if most else ()
        except Exception:  # the database is away, say: it is looked again
            _log.exception("calls to webhooks could not be looked up")
            return ()

    async def _deliver(self, http: httpx.AsyncClient, call: DueCall) -> None:
        status, said = await self._send(http, call)
        _log.info(
            "webhook called",
            extra={"webhook": call.webhook, "event": call.event, "status": status, "said": said},
        )
        try:
            await asyncio.to_thread(self._webhooks.settle, call, status, said, self._retry_s)
        except Exception:  # it is sent again once the claim has run out
            _log.exception("what came of a call to a webhook could not be noted")

    async def _send(self, http: httpx.AsyncClient, call: DueCall) -> tuple[int | None, str | None]:
        """Return the status of the answer and, unless it was delivered, what was wrong."""
        if not call.secret:
            return None, "Its secret is derived from LETTERPLY_WEBHOOK_KEY, which is not set."
        body = self._body(call)
        try:
            async with asyncio.timeout(self._limit_s):
                target = read_target(call.url)
                number = await vet(target, self._allowed)
                headers = {"Host": target.named, "Content-Type": "application/json",
                           **signed(call.event, int(time.time()), body, call.secret)}  # fmt: skip
                host = f"[{number}]" if ":" in number else number
                url = f"{target.scheme}://{host}:{target.port}{target.path}"
                async with http.stream(
                    "POST",
                    url,
                    content=body,
                    headers=headers,
                    extensions={"sni_hostname": target.host},  # whose certificate it has to be
                ) as answer:
                    status = answer.status_code
        except InputError as refusal:
            return None, refusal.message
        except TimeoutError:
            return None, f"There was no answer within {self._limit_s:g} s."
        except (httpx.HTTPError, httpx.InvalidURL) as exc:
            return None, f"It could not be reached: {exc or type(exc).__name__}"[:300]
        return status, None if 200 <= status < 300 else f"It answered with status {status}."

    def _body(self, call: DueCall) -> bytes:
        told = json.loads(call.body)
        told["links"] = {
            kind: f"{self._base_url}/v1/{kind}s/{told[kind]}" for kind in _KINDS if kind in told
        }
        return json.dumps(told, ensure_ascii=False).encode()
