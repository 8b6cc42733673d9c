"""Values of headers: text from outside in, media types and their parameters out (RFC 9110).

Never an error: what is not well formed is not there. A parameter `charset*` (RFC 2231, for mail)
is another name than `charset` and means nothing here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

__all__ = ["read_media_type", "read_quality"]

_TOKEN = r"[!#$%&'*+.^_`|~0-9A-Za-z-]+"
_PARAMETER = re.compile(rf';\s*({_TOKEN})\s*=\s*(?:({_TOKEN})|"((?:[^"\\]|\\.)*)")')
_QUALITY = re.compile(r"0(?:\.[0-9]{0,3})?|1(?:\.0{0,3})?")


def read_media_type(header: str) -> tuple[str, Mapping[str, str]]:
    r"""Return the media type in a header, in small letters, and its parameters by name.

    >>> read_media_type('Text/CSV; Charset="cp1252"; charset=utf-8')
    ('text/csv', {'charset': 'cp1252'})
    >>> read_media_type("text/csv; charset*=utf-8''koi8-r; =; ;")
    ('text/csv', {'charset*': "utf-8''koi8-r"})

    """
    kind, _, rest = header.partition(";")
    found: dict[str, str] = {}
    for name, token, quoted in _PARAMETER.findall(f";{rest}"):
        found.setdefault(name.lower(), token or re.sub(r"\\(.)", r"\1", quoted))
    return kind.strip().lower(), found


def read_quality(text: str) -> float:
    """Return how much a range of `Accept` is wanted, 0 to 1; 0 for what is no quality.

    >>> read_quality("0.5"), read_quality("1.000"), read_quality("nan"), read_quality("²")
    (0.5, 1.0, 0.0, 0.0)

    """
    return float(text) if _QUALITY.fullmatch(text) else 0.0
