"""Lines that mix directions: which characters run right to left, and in which order they are seen.

One line of text in, an embedding level a character out, and from the levels the visual order.
This is the Unicode Bidirectional Algorithm (Unicode Standard Annex #9, revision 46 and later,
isolates and paired brackets included) for one line that is a paragraph of its own; the rules are
named beside the code. Characters that rule X9 takes out keep their place and have the level of
what stands before them. Shaping mirrors brackets; nothing is mirrored here.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

__all__ = ["base_level", "embedding_levels", "visual_order"]

_MAX_DEPTH = 125
_MAX_BRACKETS = 63

_ISOLATES = ("LRI", "RLI", "FSI")
_REMOVED = ("LRE", "RLE", "LRO", "RLO", "PDF", "BN")
_NEUTRAL = ("B", "S", "WS", "ON", "LRI", "RLI", "FSI", "PDI")
_EVEN_OR_ODD = ("L", "R")


def base_level(text: str) -> int:
    """Return 1 when the first strong character of the line runs right to left, else 0 (P2, P3).

    >>> base_level("12 קורמורן"), base_level("!?")
    (1, 0)

    """
    return _first_strong(_classes(text), 0) or 0


def embedding_levels(text: str, base: int | None = None) -> list[int]:
    """Return the level of every character: even runs left to right, odd right to left.

    `base` is the level of the line; None asks `base_level`.

    >>> embedding_levels("No. 7 (אבג)")
    [0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 0]

    """
    original = _classes(text)
    if base is None:
        base = _first_strong(original, 0) or 0
    levels, classes = _explicit(original, base)
    kept = [i for i, c in enumerate(original) if c not in _REMOVED]
    for sequence, sos, eos in _sequences(kept, levels, original, base):
        _weak(sequence, classes, sos)
        _brackets(sequence, text, classes, original, levels, sos)
        _neutral(sequence, classes, levels, sos, eos)
        for i in sequence:  # I1, I2
            if levels[i] % 2 == 0:
                levels[i] += {"R": 1, "AN": 2, "EN": 2}.get(classes[i], 0)
            else:
                levels[i] += {"L": 1, "AN": 1, "EN": 1}.get(classes[i], 0)
    _reset_whitespace(original, levels, base)
    before = base
    for i, kind in enumerate(original):
        if kind in _REMOVED:
            levels[i] = before
        before = levels[i]
    return levels


def visual_order(levels: Sequence[int]) -> list[int]:
    """Return the logical indices in the order in which they are seen, left to right (L2).

    >>> visual_order([0, 1, 1, 2, 2, 1, 0])
    [0, 5, 3, 4, 2, 1, 6]

    """
    order = list(range(len(levels)))
    odd = [v for v in levels if v % 2]
    if not odd:
        return order
    for level in range(max(levels), min(odd) - 1, -1):
        start = None
        for place in range(len(order) + 1):
            inside = place < len(order) and levels[order[place]] >= level
            if inside and start is None:
                start = place
            elif not inside and start is not None:
                order[start:place] = order[start:place][::-1]
                start = None
    return order


def _classes(text: str) -> list[str]:
    return [unicodedata.bidirectional(c) or "L" for c in text]


def _first_strong(classes: Sequence[str], start: int, *, until_pdi: bool = False) -> int | None:
    """Return the level that the first strong class asks for, isolates skipped (P2)."""
    depth = 0
    for kind in classes[start:]:
        if kind in _ISOLATES:
            depth += 1
        elif kind == "PDI":
            if depth == 0 and until_pdi:
                return None
            depth = max(0, depth - 1)
        elif depth == 0 and kind in ("L", "R", "AL"):
            return 0 if kind == "L" else 1
    return None


# In one piece, rule after rule, so that it can be held against the text of the standard.
def _explicit(original: Sequence[str], base: int) -> tuple[list[int], list[str]]:
    """Return levels and classes after the explicit rules X1 to X8."""
    classes = list(original)
    levels = [base] * len(original)
    stack: list[tuple[int, str | None, bool]] = [(base, None, False)]
    lost_isolates = lost_embeddings = open_isolates = 0
    for i, kind in enumerate(original):
        level, override, _ = stack[-1]
        if kind in ("RLE", "LRE", "RLO", "LRO"):
            deeper = _deeper(level, odd=kind[0] == "R")
            if deeper <= _MAX_DEPTH and not lost_isolates and not lost_embeddings:
                forced = {"RLO": "R", "LRO": "L"}.get(kind)
                stack.append((deeper, forced, False))
            elif not lost_isolates:
                lost_embeddings += 1
        elif kind in _ISOLATES:
            levels[i] = level
            classes[i] = override or kind
            odd = kind == "RLI"
            if kind == "FSI":
                odd = _first_strong(original, i + 1, until_pdi=True) == 1
            deeper = _deeper(level, odd=odd)
            if deeper <= _MAX_DEPTH and not lost_isolates and not lost_embeddings:
                open_isolates += 1
                stack.append((deeper, None, True))
            else:
                lost_isolates += 1
        elif kind == "PDI":
            if lost_isolates:
                lost_isolates -= 1
            elif open_isolates:
                lost_embeddings = 0
                while not stack[-1][2]:
                    stack.pop()
                stack.pop()
                open_isolates -= 1
            levels[i] = stack[-1][0]
            classes[i] = stack[-1][1] or kind
        elif kind == "PDF":
            if lost_isolates:
                continue
            if lost_embeddings:
                lost_embeddings -= 1
            elif not stack[-1][2] and len(stack) > 1:
                stack.pop()
        elif kind == "B":
            levels[i] = base
        elif kind != "BN":
            levels[i] = level
            classes[i] = override or kind
    return levels, classes


def _deeper(level: int, *, odd: bool) -> int:
    """Return the next odd or even level above this one."""
    return level + 1 + level % 2 if odd else level + 2 - level % 2


def _sequences(
    kept: Sequence[int], levels: Sequence[int], original: Sequence[str], base: int
) -> list[tuple[list[int], str, str]]:
    """Return the isolating run sequences with what stands before and after each (X10)."""
    runs: list[list[int]] = []
    for i in kept:
        if runs and levels[runs[-1][-1]] == levels[i]:
            runs[-1].append(i)
        else:
            runs.append([i])
    partner = _matching(original)
    by_first = {run[0]: run for run in runs}
    closed = set(partner.values())
    found: list[tuple[list[int], str, str]] = []
    place = {i: n for n, i in enumerate(kept)}
    for run in runs:
        if run[0] in closed:
            continue
        sequence = list(run)
        while original[sequence[-1]] in _ISOLATES and sequence[-1] in partner:
            sequence += by_first[partner[sequence[-1]]]
        level = levels[sequence[0]]
        first, last = place[sequence[0]], place[sequence[-1]]
        before = levels[kept[first - 1]] if first else base
        open_end = original[sequence[-1]] in _ISOLATES
        after = levels[kept[last + 1]] if last + 1 < len(kept) and not open_end else base
        sos, eos = (_EVEN_OR_ODD[max(level, other) % 2] for other in (before, after))
        found.append((sequence, sos, eos))
    return found


def _matching(original: Sequence[str]) -> dict[int, int]:
    """Return isolate initiator -> its matching PDI (BD9)."""
    pairs: dict[int, int] = {}
    waiting: list[int] = []
    for i, kind in enumerate(original):
        if kind in _ISOLATES:
            waiting.append(i)
        elif kind == "PDI" and waiting:
            pairs[waiting.pop()] = i
    return pairs


# In one piece, rule after rule, so that it can be held against the text of the standard.
def _weak(sequence: Sequence[int], classes: list[str], sos: str) -> None:
    """Resolve weak classes in place (W1 to W7)."""
    before = sos
    for i in sequence:  # W1
        if classes[i] == "NSM":
            classes[i] = "ON" if before in (*_ISOLATES, "PDI") else before
        before = classes[i]
    strong = sos
    for i in sequence:  # W2
        if classes[i] in ("L", "R", "AL"):
            strong = classes[i]
        elif classes[i] == "EN" and strong == "AL":
            classes[i] = "AN"
    for i in sequence:  # W3
        if classes[i] == "AL":
            classes[i] = "R"
    for a, i, b in zip(sequence, sequence[1:], sequence[2:], strict=False):  # W4
        around = classes[a], classes[b]
        if classes[i] in ("ES", "CS") and around == ("EN", "EN"):
            classes[i] = "EN"
        elif classes[i] == "CS" and around == ("AN", "AN"):
            classes[i] = "AN"
    for way in (sequence, sequence[::-1]):  # W5
        number = False
        for i in way:
            if classes[i] == "ET" and number:
                classes[i] = "EN"
            number = classes[i] == "EN"
    strong = sos
    for i in sequence:
        if classes[i] in ("ES", "ET", "CS"):  # W6
            classes[i] = "ON"
        elif classes[i] in ("L", "R"):
            strong = classes[i]
        elif classes[i] == "EN" and strong == "L":  # W7
            classes[i] = "L"


def _brackets(
    sequence: Sequence[int],
    text: str,
    classes: list[str],
    original: Sequence[str],
    levels: Sequence[int],
    sos: str,
) -> None:
    """Resolve paired brackets in place (N0)."""
    level = _EVEN_OR_ODD[levels[sequence[0]] % 2]
    strong = [_strong(classes[i]) for i in sequence]
    for a, b in _bracket_pairs(sequence, text, classes):
        inside = {s for s in strong[a + 1 : b] if s}
        if level in inside:
            settled = level
        elif inside:
            before = next((s for s in reversed(strong[:a]) if s), sos)
            settled = before if before != level else level
        else:
            continue
        for at in (a, b):
            classes[sequence[at]] = strong[at] = settled
            for n in range(at + 1, len(sequence)):  # marks follow their bracket
                if original[sequence[n]] != "NSM":
                    break
                classes[sequence[n]] = strong[n] = settled


_CANONICAL = {"\u2329": "\u3008", "\u232a": "\u3009"}
"""Angle brackets that are canonically the same."""


def _bracket_pairs(
    sequence: Sequence[int], text: str, classes: Sequence[str]
) -> list[tuple[int, int]]:
    """Return the places in the sequence of brackets that belong together (BD16)."""
    waiting: list[tuple[str, int]] = []
    pairs: list[tuple[int, int]] = []
    for at, i in enumerate(sequence):
        bracket = _CANONICAL.get(text[i], text[i])
        # An override has taken the bracket's class away.
        kind = unicodedata.category(bracket) if classes[i] == "ON" else ""
        if kind not in ("Ps", "Pe") or not unicodedata.mirrored(bracket):
            continue
        if kind == "Ps":
            if len(waiting) == _MAX_BRACKETS:
                return []
            waiting.append((_closing(bracket), at))
            continue
        for n in range(len(waiting) - 1, -1, -1):
            if waiting[n][0] == bracket:
                pairs.append((waiting[n][1], at))
                del waiting[n:]
                break
    return sorted(pairs)


_CLOSING = {"(": ")", "[": "]", "{": "}", "\u298d": "\u2990", "\u298f": "\u298e"}


def _closing(bracket: str) -> str:
    """Return the bracket that closes this one: the next code point but for a few (BidiBrackets)."""
    return _CLOSING.get(bracket, chr(ord(bracket) + 1))


def _strong(kind: str) -> str | None:
    """Return the direction that a class has among neutrals: numbers run as R (N0, N1)."""
    return "R" if kind in ("R", "AN", "EN") else "L" if kind == "L" else None


def _neutral(
    sequence: Sequence[int], classes: list[str], levels: Sequence[int], sos: str, eos: str
) -> None:
    """Resolve what is still neutral in place (N1, N2)."""
    at = 0
    while at < len(sequence):
        if classes[sequence[at]] not in _NEUTRAL:
            at += 1
            continue
        end = at
        while end < len(sequence) and classes[sequence[end]] in _NEUTRAL:
            end += 1
        before = _strong(classes[sequence[at - 1]]) if at else sos
        after = _strong(classes[sequence[end]]) if end < len(sequence) else eos
        for i in sequence[at:end]:
            same = before if before == after else None
            classes[i] = same or _EVEN_OR_ODD[levels[i] % 2]
        at = end


def _reset_whitespace(original: Sequence[str], levels: list[int], base: int) -> None:
    """Put separators, and white space before them and at the end, on the base level (L1)."""
    trailing = True
    for i in range(len(original) - 1, -1, -1):
        kind = original[i]
        if kind in ("B", "S"):
            levels[i] = base
            trailing = True
        elif kind in ("WS", *_ISOLATES, "PDI") or kind in _REMOVED:
            if trailing:
                levels[i] = base
        else:
            trailing = False
