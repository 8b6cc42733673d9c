"""Where a webhook may go. Ranges: IANA's registries of special addresses, RFC 6890 and 4291."""

import asyncio
import socket
from ipaddress import ip_address, ip_network

import pytest

from letterply.api.hooks.addresses import may_be_reached, read_target, vet
from letterply.errors import InputError

PRIVATE = [
    "0.0.0.0", "10.1.2.3", "100.64.0.1", "127.0.0.1", "127.255.255.254", "169.254.169.254",
    "172.16.0.1", "172.31.255.255", "192.0.0.1", "192.0.2.1", "192.168.1.1", "198.18.0.1",
    "198.51.100.1", "203.0.113.9", "224.0.0.1", "239.255.255.250", "240.0.0.1",
    "255.255.255.255", "::", "::1", "::127.0.0.1", "::ffff:127.0.0.1", "::ffff:169.254.169.254",
    "::ffff:10.0.0.1", "64:ff9b::7f00:1", "64:ff9b:1::1", "100::1", "2001::1", "2001:db8::1",
    "2002:7f00:1::", "2002:a00:1::1", "fc00::1", "fd12:3456::1", "fe80::1", "fec0::1", "ff02::1",
    "ff0e::1", "3fff::1", "4000::1",
]  # fmt: skip
PUBLIC = ["1.1.1.1", "8.8.4.4", "172.32.0.1", "100.128.0.1", "2606:4700::1111", "::ffff:9.9.9.9"]


@pytest.mark.parametrize("address", PRIVATE)
def test_no_other_address_than_a_public_one_is_reached(address):
    assert not may_be_reached(ip_address(address))


@pytest.mark.parametrize("address", PUBLIC)
def test_public_addresses_are_reached(address):
    assert may_be_reached(ip_address(address))


@pytest.mark.parametrize(
    "url",
    [
        "", "boathouse.example", "ftp://boathouse.example/", "file:///etc/passwd", "https://",
        "https:///path", "https://user@boathouse.example/", "https://a:b@boathouse.example/",
        "https://boathouse.example/#there", "https://boathouse.example:0x50/",
        "https://boathouse.example:99999/", "https://[::1/", "https://boathouse.example/a b",
        "https://boathouse.example/\r\nX: y", "https://bööthaus.example/",
        "https://boathouse.example/" + "x" * 2000,
    ],
)  # fmt: skip
def test_what_is_no_address_of_the_web_is_refused(url):
    with pytest.raises(InputError) as caught:
        read_target(url)
    assert (caught.value.code, caught.value.field) == ("bad-webhook", "url")


def test_an_address_is_taken_apart():
    plain = read_target("https://Boathouse.example/orders?of=tern")
    assert (plain.host, plain.port, plain.path) == ("boathouse.example", 443, "/orders?of=tern")
    assert plain.named == "boathouse.example"
    other = read_target("http://[::1]:8080")
    assert (other.host, other.port, other.path, other.named) == ("::1", 8080, "/", "[::1]:8080")


def vetted(url, *allowed):
    return asyncio.run(vet(read_target(url), [ip_network(a) for a in allowed]))


@pytest.mark.parametrize(
    "host", ["127.0.0.1", "127.1", "2130706433", "0x7f000001", "localhost", "[::ffff:127.0.0.1]"]
)
def test_whatever_this_machine_is_called_it_is_refused(host):
    with pytest.raises(InputError):
        vetted(f"https://{host}/")


def test_an_allowed_network_is_reached_by_http_and_by_its_name():
    assert vetted("http://127.0.0.1:9/", "127.0.0.0/8") == "127.0.0.1"
    assert vetted("http://localhost:9/", "127.0.0.0/8", "::1/128") in ("127.0.0.1", "::1")
    assert vetted("https://[::ffff:127.0.0.1]:9/", "127.0.0.0/8") == "127.0.0.1"


def test_in_public_nothing_goes_without_encryption():
    with pytest.raises(InputError):
        vetted("http://1.1.1.1/")
    assert vetted("https://1.1.1.1/") == "1.1.1.1"


def test_a_name_that_stands_for_a_private_address_beside_a_public_one_is_refused(monkeypatch):
    async def looked_up():
        loop = asyncio.get_running_loop()

        async def found(host, port, **kind):
            rest = (socket.AF_INET, socket.SOCK_STREAM, 6, "")
            return [(*rest, ("1.1.1.1", port)), (*rest, ("10.0.0.1", port))]

        monkeypatch.setattr(loop, "getaddrinfo", found)
        await vet(read_target("https://boathouse.example/"), [])

    with pytest.raises(InputError):
        asyncio.run(looked_up())
