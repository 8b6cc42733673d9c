"""Settings: closed by default, and silent about secrets."""

import json

import pytest
from pydantic import ValidationError

from letterply.api.settings import Settings, is_loopback

KEY = {"name": "boathouse", "secret": "s" * 16, "scopes": ["read"]}


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "boathouse.example"])
def test_beyond_this_machine_a_key_is_always_asked_for(host):
    assert Settings(host=host).open_to_all


def test_a_key_of_the_settings_belongs_to_its_name_or_whom_it_says():
    first, second = Settings(
        api_keys=[{**KEY, "name": "Boat House"}, {**KEY, "owner": "other"}]
    ).api_keys
    assert (first.owner, second.owner) == ("boat-house", "other")


def test_an_owner_may_have_limits_of_its_own():
    settings = Settings(owner_stored_bytes=9, owner_limits={"club": {"jobs_under_way": 3}})
    assert settings.allowance("club").jobs_under_way == 3
    assert settings.allowance("club").stored_bytes == 9
    assert settings.allowance("other").jobs_under_way == 32


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.8.8", "::1", "[::1]", "localhost"])
def test_loopback_needs_none(host):
    assert is_loopback(host)
    assert Settings(host=host).api_keys == ()


@pytest.mark.parametrize("host", ["localhost.example", "127.0.0.1.example", "", "1270.0.1"])
def test_names_that_only_look_like_loopback_are_not(host):
    assert not is_loopback(host)


def test_everything_is_read_from_the_environment(monkeypatch, tmp_path):
    monkeypatch.setenv("LETTERPLY_PORT", "9000")
    monkeypatch.setenv("LETTERPLY_DATA_FOLDER", str(tmp_path))
    monkeypatch.setenv("LETTERPLY_API_KEYS", json.dumps([KEY]))
    monkeypatch.setenv("LETTERPLY_CATALOGUE_FILES", json.dumps(["a.toml", "b.toml"]))
    settings = Settings()
    assert settings.port == 9000
    assert settings.data_folder == tmp_path
    assert settings.api_keys[0].scopes == {"read"}
    assert [p.name for p in settings.catalogue_files] == ["a.toml", "b.toml"]


def test_secrets_do_not_show():
    assert "s" * 16 not in repr(Settings(api_keys=[KEY]))


@pytest.mark.parametrize(
    "keys",
    [
        [KEY, KEY],
        [{**KEY, "secret": "short"}],
        [{**KEY, "scopes": ["all"]}],
        [{**KEY, "name": ""}],
        [{**KEY, "owner": "Boat House"}],
        [{**KEY, "typo": 1}],
    ],
    ids=[
        "two of one name",
        "short secret",
        "unknown scope",
        "no name",
        "no owner",
        "unknown member",
    ],
)
def test_keys_that_make_no_sense_are_refused(keys):
    with pytest.raises(ValidationError):
        Settings(api_keys=keys)


def test_settings_do_not_change():
    with pytest.raises(ValidationError):
        Settings().port = 1


def test_data_goes_to_the_users_data_folder(monkeypatch, tmp_path):
    """XDG Base Directory Specification: user data below $XDG_DATA_HOME."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert Settings().data_folder == tmp_path / "letterply"
