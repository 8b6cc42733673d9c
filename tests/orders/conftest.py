"""Fixtures of this room: one PostgreSQL server for all tests that need one."""

import pytest

from orders.cluster import private_cluster


@pytest.fixture(scope="session")
def cluster():
    """Give a PostgreSQL server of our own."""
    with private_cluster() as made:
        yield made


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request, tmp_path):
    """Give the URL of a fresh database, one kind after the other."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'index.sqlite'}"
    return request.getfixturevalue("cluster").new_database()
