"""Settings: the environment in, one frozen value out.

Read once, by whoever starts the service, and passed on. Every setting is an environment variable
with the prefix `LETTERPLY_`; lists and keys are JSON.
"""

from __future__ import annotations

import ipaddress
import os
from pathlib import Path
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, Field, SecretStr, field_validator, model_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

__all__ = ["ApiKey", "Settings", "is_loopback"]

_MIN_SECRET = 16


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
        scopes: `read` for asking, `write` for having things made.

    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str = Field(min_length=1, max_length=60)
    secret: SecretStr
    scopes: frozenset[Literal["read", "write"]] = frozenset({"read", "write"})

    @field_validator("secret")
    @classmethod
    def _long_enough(cls, secret: SecretStr) -> SecretStr:
        if len(secret.get_secret_value()) < _MIN_SECRET:
            raise ValueError(f"a secret has at least {_MIN_SECRET} characters")
        return secret


class Settings(BaseSettings):
    """What the operator decides."""

    model_config = SettingsConfigDict(env_prefix="LETTERPLY_", frozen=True, extra="ignore")

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
    time_limit_s: float = Field(120.0, gt=0, description="processor time of one job")
    memory_limit_mb: int = Field(4096, ge=512, description="address space of one worker, MB")
    wait_s: float = Field(30.0, ge=0, description="how long a request waits for its result")
    max_waiting: int = Field(64, ge=1, description="jobs under way at once; more are turned away")
    max_json_bytes: int = Field(5_000_000, ge=1000, description="largest JSON body")
    max_artwork_bytes: int = Field(5_000_000, ge=1000, description="largest drawing")
    max_font_bytes: int = Field(20_000_000, ge=1000, description="largest font file")
    catalogue_files: tuple[Path, ...] = Field(
        (), description="the shop's own catalogue files, laid over the shipped one in order"
    )
    api_keys: tuple[ApiKey, ...] = Field((), description="who may use the service")
    public_url: str | None = Field(
        None,
        pattern=r"^https?://[^/?#]+/?$",
        description="address at which customers reach the service, for links to offers; the one "
        "that the maker used when left out",
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
        30.0, ge=2, description="silence after which a worker for orders counts as gone"
    )

    @model_validator(mode="after")
    def _closed_by_default(self) -> Self:
        if not self.api_keys and not is_loopback(self.host):
            raise ValueError(
                f"listening on {self.host} needs API keys (LETTERPLY_API_KEYS); "
                "without them the service answers on this machine only"
            )
        if len({key.name for key in self.api_keys}) != len(self.api_keys):
            raise ValueError("every API key needs a name of its own")
        return self
