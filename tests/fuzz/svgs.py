"""Mutated drawings: hostile ones by rule, and sound ones damaged by chance."""

from __future__ import annotations

import random
import re

__all__ = ["HOSTILE", "mutated_svg"]

_NAMES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
_RECT = '<rect x="5" y="5" width="40" height="30" rx="4"/>'

_SOUND = f"""<svg {_NAMES} width="100mm" height="80mm" viewBox="0 0 200 160">
<title>Oars</title><style>.a{{fill:none;stroke:#024;stroke-width:3;stroke-dasharray:9 4}}</style>
<defs><symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="4"/></symbol>
<clipPath id="c"><path d="M0 0H90V90H0z" clip-rule="evenodd"/></clipPath></defs>
<g transform="translate(10 20) rotate(15)" clip-path="url(#c)">{_RECT}
<path class="a" d="M10 80C10 10 90 10 90 80S120 150 150 80A30 20 30 1 0 60 60z"/></g>
<use href="#s" x="20" y="30" width="50" height="50"/>
<text x="20" y="150" font-size="12pt" text-anchor="middle">Avocet <tspan dy="3">Knot</tspan></text>
<polygon points="50,5 95,95 5,40" stroke="#000" stroke-width="2mm" stroke-linejoin="round"/>
<ellipse cx="50%" cy="40" rx="20" ry="9" style="fill:red;opacity:.5"/></svg>"""

_FIGURES = (
    "nan", "inf", "-inf", "1e308", "-1e308", "1e-308", "1e9999", "0", "-0", "-1", "99999999999",
    "0.0000001", "1e15", "%", "1e5%", "1e7mm", "", "x", "0x10", "1" * 400, "1.1" * 200, "٣",
)  # fmt: skip
_ADDRESSES = (
    "http://127.0.0.1:9/x.svg#a", "file:///etc/hostname", "//example.invalid/x", "data:,x", "#",
    "\\\\example.invalid\\x", "ftp://example.invalid/a", "javascript:1", "/etc/hostname",
)  # fmt: skip


def _wrap(body: str, head: str = "") -> str:
    return f"{head}<svg {_NAMES} width='100' height='100'>{_RECT}{body}</svg>"


def _entities(rng: random.Random) -> str:
    levels = rng.randrange(2, 40)
    chain = "".join(
        f'<!ENTITY e{i} "{"&e" + str(i - 1) + ";" if i else "x"}'
        f'{"&e" + str(i - 1) + ";" if i else "x"}">'
        for i in range(levels)
    )
    return _wrap(f"<text>&e{levels - 1};</text>", f"<!DOCTYPE svg [{chain}]>")


def _outside(rng: random.Random) -> str:
    address = rng.choice(_ADDRESSES)
    kind = rng.randrange(5)
    if kind == 0:
        return _wrap("<text>&x;</text>", f'<!DOCTYPE svg [<!ENTITY x SYSTEM "{address}">]>')
    if kind == 1:
        return _wrap("", f'<!DOCTYPE svg SYSTEM "{address}">')
    if kind == 2:
        return _wrap("", f'<?xml-stylesheet href="{address}"?>')
    if kind == 3:
        return _wrap(f"<style>@import url({address}); rect{{fill:url({address})}}</style>")
    return _wrap(
        f'<image href="{address}"/><use xlink:href="{address}"/><rect width="9" height="9" '
        f'clip-path="url({address})" fill="url({address})" mask="url({address})"/>'
        f'<script href="{address}"/><a href="{address}">{_RECT}</a>'
    )


def _deep(rng: random.Random) -> str:
    tag = rng.choice(("g", "svg", "a", "switch", "symbol", "clipPath", "text", "unknown"))
    depth = rng.choice((10, 90, 100, 101, 1000, 40_000))
    return _wrap(f"<{tag}>" * depth + _RECT + f"</{tag}>" * depth)


def _loops(rng: random.Random) -> str:
    n = rng.randrange(1, 30)
    body = "".join(f'<g id="u{i}"><use href="#u{(i + 1) % n}"/>{_RECT}</g>' for i in range(n))
    clip = '<clipPath id="k" clip-path="url(#k)"><use href="#k"/></clipPath>'
    return _wrap(f'{body}{clip}<rect width="9" height="9" clip-path="url(#k)"/>')


def _growing(rng: random.Random) -> str:
    levels, width = rng.randrange(5, 15), rng.randrange(4, 12)
    body = f'<g id="u0">{_RECT}</g>'
    for i in range(levels):
        body += f'<g id="u{i + 1}">' + f'<use href="#u{i}" x="{i}"/>' * width + "</g>"
    return _wrap(body)


def _bombs(rng: random.Random) -> str:
    kind, attribute = rng.choice(
        (("clipPath", "clip-path"), ("mask", "mask"), ("marker", "marker-mid"), ("pattern", "fill"))
    )
    levels, width = rng.randrange(3, 40), rng.randrange(2, 100)
    body = ""
    for i in range(levels):
        held = f'<path d="M0 0h9v9h-9" style="fill:white" {attribute}="url(#b{i + 1})"/>' * width
        body += f'<{kind} id="b{i}" width="1" height="1">{held}</{kind}>'
    return _wrap(f'{body}<path d="M0 0{"h9v9" * width}" {attribute}="url(#b0)"/>')


def _sheets(rng: random.Random) -> str:
    n = rng.choice((10, 300, 3000))
    rules = (
        "* * * * * * z{fill:none}", "g ~ g ~ g ~ rect{fill:none}", ".a{fill:red}",
        ":not(:not(a)){}", "rect:nth-child(2n+1){opacity:.5}", "@media all{rect{fill:none}}",
        "rect{fill:((((", "[a=b]{",
    )  # fmt: skip
    rule = rng.choice(rules)
    inner = rng.choice(("<g/>", '<g class="a">', '<rect class="a" width="9" height="9"/>')) * n
    ends = "" if inner.endswith("/>") else "</g>" * n
    return _wrap(f"<style>{rule * n}</style>{inner}{_RECT}{ends}")


def _gigantic(rng: random.Random) -> str:
    n = rng.choice((100, 5000, 80_000, 400_000))
    step = rng.choice(("L1 2", "l1 1", "h9", "q1 2 3 4", "a5 5 0 1 1 2 3", "z", "M0 0", "T9 9"))
    style = rng.choice(("", 'stroke="#000" stroke-width="3"', 'stroke="#000" stroke-dasharray="1"'))
    return _wrap(f'<path d="M0 0{step * n}" {style}/>')


def _figures(rng: random.Random) -> str:
    def figure(_: re.Match[str]) -> str:
        return rng.choice(_FIGURES) if rng.random() < 0.25 else _[0]

    return re.sub(r"(?<=[\" ,(])-?\d+\.?\d*", figure, _SOUND)


def _long(rng: random.Random) -> str:
    value = rng.choice(("a", "/*", "@", "{", "(", "1.", "url(", "-", "\u202e", "&amp;")) * 100_000
    name = rng.choice(("d", "points", "style", "transform", "class", "id", "viewBox", "clip-path"))
    if rng.random() < 0.3:
        return _wrap(f"<style>{value}</style>")
    return _wrap(f'<path d="M0 0L9 9L0 9z" {name}2="" /><polygon {name}="{value}"/>')


def _chance(rng: random.Random) -> str:
    text = list(_SOUND)
    for _ in range(rng.choice((1, 5, 40))):
        at = rng.randrange(len(text))
        match rng.randrange(4):
            case 0:
                text[at] = chr(rng.choice((0, 1, 34, 60, 62, 38, 55, 0x202E, 0xFFFD, 0x1F6A3)))
            case 1:
                del text[at : at + rng.randrange(1, 60)]
            case 2:
                text[at:at] = text[at : at + rng.randrange(1, 200)]
            case _:
                text[at:at] = list(rng.choice(_FIGURES))
        if not text:
            break
    return "".join(text)


HOSTILE = (
    _entities, _outside, _deep, _loops, _growing, _gigantic, _figures, _long, _chance, _chance,
    _bombs, _sheets,
)  # fmt: skip


def mutated_svg(seed: int) -> bytes:
    """Return a hostile or damaged drawing; the same for the same seed."""
    rng = random.Random(seed)
    data = HOSTILE[seed % len(HOSTILE)](rng).encode("utf-8", "replace")
    if rng.random() < 0.05:
        data = data[: rng.randrange(len(data))]
    if rng.random() < 0.03:
        data = data.decode("utf-8", "replace").encode("utf-16")
    return data
