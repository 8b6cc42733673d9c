"""Signing calls as Standard Webhooks has it, which libraries of many languages can check.

Source: Standard Webhooks 1.0.0, "Signature scheme" (symmetric): HMAC-SHA256, keyed with the bytes
that the secret has after `whsec_` in base64, over id, time and body, joined by full stops.
"""

from __future__ import annotations

import base64
import hashlib
import hmac

__all__ = ["signed"]


def signed(event: str, at_s: int, body: bytes, secret: str) -> dict[str, str]:
    """Return the headers that go with a body, sent at a time (seconds of the epoch)."""
    key = base64.b64decode(secret.removeprefix("whsec_"))
    mac = hmac.digest(key, b".".join((event.encode(), str(at_s).encode(), body)), hashlib.sha256)
    return {
        "webhook-id": event,
        "webhook-timestamp": str(at_s),
        "webhook-signature": f"v1,{base64.b64encode(mac).decode()}",
    }
