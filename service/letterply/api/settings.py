"""Settings: the environment in, one frozen value out.

Read once, by whoever starts the service, and passed on. Every setting is an environment variable
with the prefix `LETTERPLY_`; lists and keys are JSON.
"""

from __future__ import annotations

import ipaddress
import os
import re
from collections.abc import Mapping
from ipaddress import IPv4Network, IPv6Network
from pathlib import Path
from typing import Any, Literal, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    SecretStr,
    ValidationError,
    field_validator,
    model_validator,
)
from pydantic_core import ErrorDetails
from pydantic_settings import BaseSettings, SettingsConfigDict, SettingsError

from letterply.errors import LetterplyError
from letterply.storage import AccessKey, Allowance, is_owner

__all__ = ["ApiKey", "OwnerLimits", "Settings", "is_loopback", "read_settings"]

_MIN_SECRET = 16
_PREFIX = "LETTERPLY_"


def is_loopback(host: str) -> bool:
    """Tell whether a host name or address means this machine only.

    >>> [is_loopback(h) for h in ("127.0.0.1", "::1", "localhost", "0.0.0.0", "boathouse")]
    [True, True, True, False, False]

    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def _data_folder() -> Path:
    base = os.environ.get("XDG_DATA_HOME") or "~/.local/share"
    return Path(base).expanduser() / "letterply"


class ApiKey(BaseModel):
    """Who may do what.

    Attributes:
        name: who holds the key; goes to the log.
        secret: what the client sends; at least 16 characters.
        scopes: `read` for asking, `write` for having things made, `metrics` for watching, `admin`
            for all and the keys.
        owner: whose things it reaches; the name, in small letters, when left out.

    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str = Field(min_length=1, max_length=60)
    secret: SecretStr
    scopes: frozenset[Literal["read", "write", "metrics", "admin"]] = frozenset({"read", "write"})
    owner: str = ""

    @field_validator("secret")
    @classmethod
    def _long_enough(cls, secret: SecretStr) -> SecretStr:
        if len(secret.get_secret_value()) < _MIN_SECRET:
            raise ValueError(f"a secret has at least {_MIN_SECRET} characters")
        return secret

    @model_validator(mode="after")
    def _owned(self) -> Self:
        if not self.owner:
            of_name = re.sub(r"[^a-z0-9._-]+", "-", self.name.lower()).strip("-._")
            object.__setattr__(self, "owner", of_name)
        if not is_owner(self.owner):
            raise ValueError("an owner is small letters, digits, dots and dashes, 60 at most")
        return self

    @property
    def access(self) -> AccessKey:
        """The key as those of the store are."""
        return AccessKey("settings", self.name, self.owner, frozenset(self.scopes), "")


class OwnerLimits(BaseModel):
    """What one owner may use, where it differs from the rest; null for no limit."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    requests_per_minute: int | None = Field(None, ge=1)
    jobs_under_way: int | None = Field(None, ge=1)
    stored_bytes: int | None = Field(None, ge=1)


class Settings(BaseSettings):
    """What the operator decides."""

    model_config = SettingsConfigDict(env_prefix=_PREFIX, frozen=True, extra="ignore")

    data_folder: Path = Field(
        default_factory=_data_folder, description="where results and fonts are kept"
    )
    host: str = Field("127.0.0.1", description="address to listen on")
    port: int = Field(8467, ge=0, le=65535, description="port to listen on; 0 for any free one")
    workers: int = Field(
        default_factory=lambda: max(1, min(4, os.cpu_count() or 1)),
        ge=1,
        le=256,
        description="worker processes that compute",
    )
    short_workers: int = Field(
        1,
        ge=1,
        le=256,
        description="worker processes beside them, for short questions: files, uploads, dry runs",
    )
    preview_workers: int = Field(
        1,
        ge=0,
        le=256,
        description="worker processes beside them, for previews alone; with 0 they are short "
        "questions like others",
    )
    short_wait_s: float = Field(
        20.0,
        gt=0,
        description="how long a short question waits for a worker before it is turned away",
    )
    niceness: int = Field(
        10,
        ge=0,
        le=19,
        description="how far the processes that compute jobs and orders step back behind the "
        "service itself and short questions, as `nice` counts it; 0 where other programs must not "
        "go before them",
    )
    time_limit_s: float = Field(120.0, gt=0, description="processor time of one job")
    memory_limit_mb: int = Field(4096, ge=512, description="address space of one worker, MB")
    wait_s: float = Field(30.0, ge=0, description="how long a request waits for its result")
    max_waiting: int = Field(
        64, ge=1, description="jobs that one service has under way at once; more are turned away"
    )
    max_json_bytes: int = Field(5_000_000, ge=1000, description="largest JSON body")
    max_artwork_bytes: int = Field(5_000_000, ge=1000, description="largest drawing")
    max_font_bytes: int = Field(20_000_000, ge=1000, description="largest font file")
    catalogue_files: tuple[Path, ...] = Field(
        (), description="the shop's own catalogue files, laid over the shipped one in order"
    )
    api_keys: tuple[ApiKey, ...] = Field(
        (),
        description="keys beside those of the store (`letterply keys`), as "
        '`[{"name": "...", "secret": "...", "scopes": ["read", "write"], "owner": "..."}]`; they '
        "cannot be revoked without a restart",
    )
    owner_requests_per_minute: int | None = Field(
        1200, ge=1, description="requests a minute of one owner; only where keys are asked for"
    )
    owner_jobs_under_way: int | None = Field(
        32, ge=1, description="jobs of one owner that wait or run at once, and as many open orders"
    )
    owner_stored_bytes: int | None = Field(
        None, ge=1, description="bytes that are kept for one owner; no limit when left out"
    )
    owner_limits: Mapping[str, OwnerLimits] = Field(
        {}, description='other limits for some owners, as `{"boathouse": {"jobs_under_way": 8}}`'
    )
    keep_days: float | None = Field(
        None, gt=0, description="age at which results and closed orders are deleted; never if unset"
    )
    keep_bytes: int | None = Field(
        None, ge=1, description="bytes of one owner above which its oldest results are deleted"
    )
    sweep_every_s: float = Field(
        3600.0, ge=1, description="pause between sweeps of what nobody holds any more"
    )
    traces_url: str | None = Field(
        None,
        pattern=r"^https?://",
        description="where traces are sent (OTLP by HTTP, as `http://127.0.0.1:4318/v1/traces`); "
        "needs the extra `traces`; none are made when left out",
    )
    header_wait_s: float = Field(
        20.0, gt=0, description="how long a client may take to send the head of a request"
    )
    public_url: str | None = Field(
        None,
        pattern=r"^https?://[^/?#]+/?$",
        description="address at which customers reach the service, for links to offers; the one "
        "that the maker used when left out",
    )
    webhook_networks: tuple[IPv4Network | IPv6Network, ...] = Field(
        (),
        description="networks beside the public that webhooks may go to, by http as well, as "
        '`["192.168.7.0/24"]`; what answers there can be reached by whoever has a key',
    )
    webhook_retry_s: float = Field(
        5.0,
        gt=0,
        description="pause after a call to a webhook that failed; each further one is three times "
        "as long, 4 hours at most, and after a day it is given up",
    )
    webhook_key: SecretStr | None = Field(
        None,
        description="at least 32 characters by chance, from which the secrets of webhooks that are "
        "made from now on are derived, so that the database holds none; the same for every service "
        "on it, and never changed; where it is left out they are in the database as they are",
    )
    database_url: str | None = Field(
        None,
        pattern=r"^(sqlite:///|postgresql\+psycopg://)",
        description="index of the store; a file in the data folder when left out",
    )
    bucket_url: str | None = Field(
        None,
        pattern=r"^(s3|gs|az|file)://",
        description="object store for artifacts; the data folder when left out",
    )
    order_worker: Literal["own", "none"] = Field(
        "own", description="`own`: the service runs a worker for orders; `none`: others do"
    )
    order_time_limit_s: float = Field(
        300.0, gt=0, description="processor time of a task of an order"
    )
    dead_after_s: float = Field(
        30.0,
        ge=2,
        description="silence after which a worker or a service counts as gone; what it was at is "
        "taken up by another",
    )

    @field_validator("webhook_key")
    @classmethod
    def _hard_to_guess(cls, key: SecretStr | None) -> SecretStr | None:
        if key is not None and len(key.get_secret_value()) < 2 * _MIN_SECRET:
            raise ValueError(f"a key has at least {2 * _MIN_SECRET} characters")
        return key

    @model_validator(mode="after")
    def _told_apart(self) -> Self:
        if len({key.name for key in self.api_keys}) != len(self.api_keys):
            raise ValueError("every API key needs a name of its own")
        return self

    @property
    def signing_key(self) -> str:
        """From which secrets of webhooks are derived; empty where none is."""
        return self.webhook_key.get_secret_value() if self.webhook_key is not None else ""

    @property
    def open_to_all(self) -> bool:
        """Whether others than this machine can reach it: then a key is always asked for."""
        return not is_loopback(self.host)

    def allowance(self, owner: str) -> Allowance:
        """Return what an owner may use."""
        usual = {
            "requests_per_minute": self.owner_requests_per_minute,
            "jobs_under_way": self.owner_jobs_under_way,
            "stored_bytes": self.owner_stored_bytes,
        }
        own = self.owner_limits.get(owner)
        return Allowance(**usual | (own.model_dump(exclude_unset=True) if own else {}))


def read_settings(**given: Any) -> Settings:
    """Return the settings of the environment, with what was given laid over.

    Raises:
        LetterplyError: `bad-settings`: all mistakes, each under the name of its variable.

    """
    try:
        return Settings(**given)
    except ValidationError as exc:
        mistakes = [_in_words(error) for error in exc.errors(include_input=False)]
    except SettingsError as exc:
        name = str(exc).partition('"')[2].partition('"')[0]
        mistakes = [f"{_variable(name)}: is not JSON as it should be"]
    raise LetterplyError("; ".join(mistakes), code="bad-settings", data={"mistakes": mistakes})


def _in_words(error: ErrorDetails) -> str:
    name, *inner = error["loc"] or ("",)
    where = " ".join([_variable(str(name)), *(f"[{part}]" for part in inner)])
    said = error["msg"].removeprefix("Value error, ")
    return f"{where}: {said[:1].lower()}{said[1:]}" if name else said


def _variable(name: str) -> str:
    return f"{_PREFIX}{name}".upper()
