"""Where a webhook may go: an address in, the numbers that may be connected to out.

Whoever has a key chooses an address, and this machine may reach what they may not: itself, the
shop's other machines, what a hosting company tells its machines. So only public addresses are
connected to, by https, unless the operator names a network as allowed. A name is looked up each
time, all that it stands for is vetted, and what was vetted is what is connected to: a name that
stands for something else a moment later gains nothing.
"""

from __future__ import annotations

import asyncio
import ipaddress
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

from letterply.errors import InputError

__all__ = ["Address", "Network", "Target", "may_be_reached", "read_target", "vet"]

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network

_MOST_CHARACTERS = 2000
_PORTS = {"https": 443, "http": 80}
_UNICAST = ipaddress.ip_network("2000::/3")
"""All that is handed out for the public of IPv6 (RFC 4291, section 2.4; IANA's registry)."""
_LEFT_OUT = tuple(ipaddress.ip_network(n) for n in ("2002::/16", "2001::/32", "3fff::/20"))
"""6to4 (RFC 3056) and Teredo (RFC 4380), where the true address is inside and may be any; examples
(RFC 9637), which `ipaddress` does not know everywhere."""


@dataclass(frozen=True, slots=True)
class Target:
    """An address taken apart: `host` is a name or a number, `path` has the query with it."""

    scheme: str
    host: str
    port: int
    path: str

    @property
    def named(self) -> str:
        """Host and port as the `Host` header has them."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.port == _PORTS[self.scheme] else f"{host}:{self.port}"


def read_target(url: str) -> Target:
    """Return an address taken apart; raises `InputError` (`bad-webhook`)."""
    try:
        parts = urlsplit(url)
        host = parts.hostname or ""
        port = parts.port or _PORTS.get(parts.scheme, 0)
    except ValueError as exc:
        raise _refused("The address of the webhook cannot be read.") from exc
    if len(url) > _MOST_CHARACTERS or not url.isascii() or not url.isprintable() or " " in url:
        raise _refused("The address of the webhook cannot be read.")
    if parts.scheme not in _PORTS or not host:
        raise _refused("The address of the webhook is none of the web.")
    if "@" in parts.netloc or parts.fragment:
        raise _refused("The address of the webhook has a user or a fragment in it.")
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Target(parts.scheme, host, port, path)


def may_be_reached(address: Address) -> bool:
    """Tell whether an address is one of the public.

    >>> known = ("9.9.9.9", "127.0.0.1", "::ffff:10.0.0.1", "169.254.169.254", "fe80::1")
    >>> [may_be_reached(ipaddress.ip_address(a)) for a in known]
    [True, False, False, False, False]

    """
    address = _plain(address)
    if isinstance(address, ipaddress.IPv6Address) and (
        address not in _UNICAST or any(address in network for network in _LEFT_OUT)
    ):
        return False
    return address.is_global and not address.is_multicast and not address.is_reserved


async def vet(target: Target, allowed: Sequence[Network]) -> str:
    """Return the number to connect to.

    Args:
        target: where it is to go.
        allowed: networks beside the public that it may go to, by http as well.

    Raises:
        InputError: `bad-webhook`: the name stands for nothing, or for what may not be reached.

    """
    loop = asyncio.get_running_loop()
    try:
        found = await loop.getaddrinfo(target.host, target.port, type=socket.SOCK_STREAM)
    except OSError as exc:
        raise _refused(f"There is no {target.host} to be found.") from exc
    addresses = [_plain(ipaddress.ip_address(str(f[4][0]).partition("%")[0])) for f in found]
    within = [any(_within(a, network) for network in allowed) for a in addresses]
    for address, inside in zip(addresses, within, strict=True):
        if not inside and not may_be_reached(address):
            raise _refused(f"{target.host} is not an address that webhooks may go to.")
    if target.scheme != "https" and not all(within):
        raise _refused("What goes to the public goes by https.")
    return str(addresses[0])


def _within(address: Address, network: Network) -> bool:
    return address.version == network.version and address in network


def _plain(address: Address) -> Address:
    """Return the IPv4 address that one of IPv6 stands for, else the same."""
    mapped = address.ipv4_mapped if isinstance(address, ipaddress.IPv6Address) else None
    return mapped or address


def _refused(message: str) -> InputError:
    return InputError(
        message,
        code="bad-webhook",
        field="url",
        expected="an https address that is public, or in a network that the operator allows",
    )
