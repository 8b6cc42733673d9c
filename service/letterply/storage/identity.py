"""Identity of bytes and values: JSON values in, digests out.

Terms: a *digest* is BLAKE2b with 16 bytes, 32 characters of hex; the *canonical form* of a value
is JSON with sorted keys and no white space, so that equal values give equal bytes.
"""

from __future__ import annotations

import hashlib
import json
import re
from typing import Any

from letterply.errors import InputError

__all__ = ["canonical_json", "digest", "is_digest"]

_DIGEST_BYTES = 16
_DIGEST = re.compile(r"[0-9a-f]{32}")


def digest(data: bytes) -> str:
    """Return the digest of `data`: 32 characters, lower-case hex.

    >>> digest(b"") == digest(b""), len(digest(b""))
    (True, 32)

    """
    return hashlib.blake2b(data, digest_size=_DIGEST_BYTES).hexdigest()


def is_digest(text: str) -> bool:
    """Tell whether `text` has the form of a digest."""
    return _DIGEST.fullmatch(text) is not None


def canonical_json(value: Any) -> bytes:
    r"""Return the canonical form of a JSON value, UTF-8.

    Raises:
        InputError: `not-json` for NaN, infinities, lone surrogates and values JSON cannot hold.

    >>> canonical_json({"b": 1, "a": [1.5, "é"]})
    b'{"a":[1.5,"\xc3\xa9"],"b":1}'

    """
    try:
        text = json.dumps(
            value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
        )
        return text.encode()
    except (TypeError, ValueError, RecursionError) as exc:
        raise InputError(
            "The request holds a value that JSON cannot carry.",
            code="not-json",
            expected="finite numbers, well-formed text, lists and objects",
        ) from exc
