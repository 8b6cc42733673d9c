"""Identity: JSON values in, digests out.

Terms: a *digest* is BLAKE2b with 16 bytes, 32 characters of hex; the *canonical form* of a value
is JSON with sorted keys and no white space, so that equal values give equal bytes. The *id* of a
job is the digest of everything that decides its bytes: kind, normalised request, engine version,
and the digests of the fonts and catalogue files of the shop that it draws on.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from letterply import ENGINE_VERSION
from letterply.errors import InputError

__all__ = ["canonical_json", "digest", "is_digest", "job_id", "texts_in"]

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


def job_id(kind: str, request: Mapping[str, Any], sources: Iterable[str] = ()) -> str:
    """Return the id of a job.

    Args:
        kind: kind of job.
        request: normalised request.
        sources: digests of own fonts and catalogue files, in any order.

    """
    facts = {
        "kind": kind,
        "request": request,
        "engine": ENGINE_VERSION,
        "sources": sorted(set(sources)),
    }
    return digest(canonical_json(facts))


def texts_in(value: Any) -> Iterator[str]:
    """Yield every text value in a JSON value; the names of members are left out."""
    waiting = [value]
    while waiting:
        item = waiting.pop()
        if isinstance(item, str):
            yield item
        elif isinstance(item, Mapping):
            waiting.extend(item.values())
        elif isinstance(item, list | tuple):
            waiting.extend(item)
