"""What both clients talk and wait with."""

from __future__ import annotations

from typing import Any

import httpx

__all__ = ["DEFAULT_URL", "LIMIT_S", "ORDER_LIMIT_S", "options"]

DEFAULT_URL = "http://127.0.0.1:8467"

LIMIT_S = 600.0
"""How long a result is waited for when nothing is said."""

ORDER_LIMIT_S = 86_400.0
"""How long an order is waited for when nothing is said."""

_TIMEOUT = httpx.Timeout(60.0, connect=5.0)


def options(
    url: str, api_key: str | None, transport: Any, timeout_s: float | None
) -> dict[str, Any]:
    """Return the options of an httpx client."""
    headers = {"Authorization": f"Bearer {api_key}"} if api_key else {}
    timeout = _TIMEOUT if timeout_s is None else httpx.Timeout(timeout_s, connect=min(timeout_s, 5))
    options = {"base_url": url, "headers": headers, "timeout": timeout}
    return options if transport is None else {**options, "transport": transport}
