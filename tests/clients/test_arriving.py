"""Files that arrive piece by piece, and asking again when it was not the time."""

import asyncio
import hashlib
import itertools
import tracemalloc
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import httpx
import pytest

from letterply_client import AsyncClient, BadAnswer, Client, File, NotReachable, Problem
from letterply_client._arriving import pause_s

PIECE, PIECES = bytes(64_000), 500
DIGEST = hashlib.blake2b(PIECE * PIECES, digest_size=16).hexdigest()
LARGE = File("films/1.gz", "/v1/files/1", "application/gzip", len(PIECE) * PIECES, DIGEST, False)


class Pieces(httpx.SyncByteStream, httpx.AsyncByteStream):
    """A long body that is nowhere whole; `cut` leaves it after so many pieces."""

    def __init__(self, cut=PIECES):
        self.cut = cut

    def __iter__(self):
        for number in range(PIECES):
            if number == self.cut:
                raise httpx.ReadError("the connection was lost")
            yield PIECE

    async def __aiter__(self):
        for piece in self:
            yield piece


def sending(*answers):
    left = list(answers)
    asked = []

    def answer(request):
        asked.append(request)
        return left.pop(0)

    return httpx.MockTransport(answer), asked


def not_now(status, after="0"):
    return httpx.Response(
        status,
        json={"code": "service-busy", "title": "busy", "status": status},
        headers={"content-type": "application/problem+json", "retry-after": after},
    )


def save(transport, where, kind):
    if kind == "sync":
        with Client(transport=transport) as client:
            return client.save(LARGE, where)

    async def go():
        async with AsyncClient(transport=transport) as client:
            await client.save(LARGE, where)

    return asyncio.run(go())


@pytest.mark.parametrize("kind", ["sync", "async"])
def test_a_large_file_is_never_whole_in_memory(tmp_path, kind):
    transport, _ = sending(httpx.Response(200, stream=Pieces()))
    tracemalloc.start()
    save(transport, tmp_path / "1.gz", kind)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert (tmp_path / "1.gz").stat().st_size == len(PIECE) * PIECES
    assert most < len(PIECE) * PIECES / 8


@pytest.mark.parametrize("kind", ["sync", "async"])
@pytest.mark.parametrize(
    ("answer", "error"),
    [
        (lambda: httpx.Response(200, content=b"something else"), BadAnswer),
        (lambda: httpx.Response(200, stream=Pieces(cut=7)), NotReachable),
    ],
)
def test_what_is_not_whole_leaves_what_was_there(tmp_path, kind, answer, error):
    where = tmp_path / "1.gz"
    where.write_bytes(b"earlier")
    transport, _ = sending(answer())
    with pytest.raises(error):
        save(transport, where, kind)
    assert [p.name for p in tmp_path.iterdir()] == ["1.gz"]
    assert where.read_bytes() == b"earlier"


@pytest.mark.parametrize("kind", ["sync", "async"])
@pytest.mark.parametrize("status", [429, 503])
def test_a_file_is_asked_for_again_when_it_was_not_the_time(tmp_path, kind, status):
    transport, asked = sending(
        not_now(status), not_now(status), httpx.Response(200, stream=Pieces())
    )
    save(transport, tmp_path / "1.gz", kind)
    assert len(asked) == 3
    assert (tmp_path / "1.gz").stat().st_size == LARGE.size_bytes


def test_it_is_asked_again_so_often_and_no_more():
    transport, asked = sending(*[not_now(429) for _ in range(9)])
    with Client(transport=transport) as client, pytest.raises(Problem) as caught:
        client.version()
    assert (caught.value.status, len(asked)) == (429, 6)


def test_a_pause_that_is_too_long_is_told_at_once():
    transport, asked = sending(not_now(429, "3600"))
    with Client(transport=transport) as client, pytest.raises(Problem):
        client.version()
    assert len(asked) == 1


def test_what_would_be_made_twice_is_asked_once():
    transport, asked = sending(not_now(503))
    with Client(transport=transport) as client, pytest.raises(Problem):
        client.add_webhook("https://boathouse.example/")
    assert len(asked) == 1


def test_a_pause_may_be_a_date():
    soon = datetime.now(UTC) + timedelta(seconds=30)
    assert 0 < pause_s(format_datetime(soon, usegmt=True)) <= 30
    assert pause_s(format_datetime(soon - timedelta(days=1), usegmt=True)) == 0
    assert pause_s(format_datetime(soon + timedelta(days=1), usegmt=True)) is None


def test_progress_tells_of_every_file_of_a_real_result(client, sign, tmp_path):
    result, told = client.build_stack(sign), []
    paths = client.download(result, tmp_path, only=["*.json", "layers/*"], progress=told.append)
    steps = [p.step for p in told]
    assert steps == sorted(steps)
    assert (set(steps), told[-1].share) == (set(range(1, len(paths) + 1)), 1.0)
    assert all(a.share <= b.share for a, b in itertools.pairwise(told))
    by_path = {f.path: f for f in result.files}
    assert {p.phase for p in told} <= by_path.keys()


def test_webhooks_by_the_real_service(client, service_url, capsys):
    from letterply_client.command import main

    hook = client.add_webhook("https://1.1.1.1/orders", ["order.done"])
    assert hook["secret"].startswith("whsec_")
    assert main(["webhooks", "list", "--url", service_url]) == 0
    assert hook["id"] in capsys.readouterr().out
    assert client.webhook_calls(hook["id"]) == ()
    assert main(["webhooks", "remove", hook["id"], "--url", service_url]) == 0
    assert client.webhooks() == ()
    with pytest.raises(Problem) as caught:
        client.add_webhook("https://127.0.0.1/")
    assert caught.value.code == "bad-webhook"
