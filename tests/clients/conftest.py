"""A private service, shared by the tests of this folder."""

from __future__ import annotations

import pytest

from letterply_client import Client, private_service

SIGN = {
    "title": "Curlew",
    "lettering": {"text": "Curlew", "font": "pacifico", "size": {"cap_height": "40 mm"}},
    "layers": [
        {
            "name": "face",
            "material": "acrylic-cast",
            "thickness": "3 mm",
            "outline": {"kind": "lettering", "join": True},
        }
    ],
}


@pytest.fixture(scope="session")
def service_url(tmp_path_factory):
    with private_service(tmp_path_factory.mktemp("data")) as url:
        yield url


@pytest.fixture
def client(service_url):
    with Client(service_url) as made:
        yield made


@pytest.fixture
def sign():
    return SIGN
