"""Text that goes into XML: whatever people write as a title comes out harmless."""

from __future__ import annotations

import re

from letterply.names import visible

__all__ = ["attribute", "clean", "text"]

_ILLEGAL = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""All but the characters that XML 1.0 (fifth edition, production 2) allows."""

_MAX_TEXT = 2000


def clean(value: str, *, limit: int = _MAX_TEXT) -> str:
    r"""Return text on one line that XML 1.0 can hold, at most `limit` characters.

    Bidi controls are left out: a name looks like what it is.
    Characters that XML cannot hold become U+FFFD, so that their place is seen.

    >>> clean("Avocet\x00\nrack")
    'Avocet� rack'

    """
    held = _ILLEGAL.sub("\ufffd", visible(value[: 4 * limit]))
    line = " ".join(held.split())
    return line if len(line) <= limit else line[: limit - 1] + "…"


def text(value: str) -> str:
    """Return text for the content of an element, cleaned and escaped.

    >>> text("<script> & ]]>")
    '&lt;script&gt; &amp; ]]&gt;'

    """
    return clean(value).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def attribute(value: str) -> str:
    """Return text for the value of an attribute, cleaned, escaped and in quotation marks."""
    return '"' + text(value).replace('"', "&quot;").replace("'", "&#39;") + '"'
