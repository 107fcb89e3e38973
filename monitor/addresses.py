"""Where the program reaches out to, with its secrets: handed by `settings` through `app` to `wire` and `send`."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from monitor.readings import HOUR, MINUTE

STARS = "***"


class Secret:
    """A text that prints as stars. Two secrets are equal when their texts are."""

    __slots__ = ("_text",)

    def __init__(self, text: str) -> None:
        self._text = text

    def reveal(self) -> str:
        """The text itself; the caller must not log it."""
        return self._text

    def __str__(self) -> str:
        return STARS

    def __repr__(self) -> str:
        return STARS

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Secret) and other._text == self._text

    def __hash__(self) -> int:
        return hash(self._text)


@dataclass(frozen=True, slots=True)
class Broker:
    """One MQTT broker. `protocol` is `5`, `3.1.1` or `auto` (5 first, 3.1.1 when that is refused)."""

    host: str = "localhost"
    port: int = 1883
    tls: bool = False
    ca_file: str | None = None
    user: str | None = None
    password: Secret | None = None
    protocol: str = "auto"
    client_id: str = "vermistat"
    window: int = 1000
    """How many unacknowledged messages we ask for (receive maximum)."""


@dataclass(frozen=True, slots=True)
class Channel:
    """One address that notices go to, as an Apprise URL."""

    id: str
    send_to: Secret


class Asking(StrEnum):
    """What the page's passphrase is asked for: reading and acting, or acting alone."""

    EVERYTHING = "everything"
    ACTING = "acting"


@dataclass(frozen=True, slots=True)
class Page:
    """Where the page is served: `host:port` on this machine, `address` for whoever is elsewhere, None where nobody is.
    `asks` is whether there ought to be a passphrase, though whoever loaded this may not have been let read it.
    """

    host: str = "127.0.0.1"
    port: int = 8420
    address: str | None = None
    passphrase: Secret | None = None
    asks: bool = False
    asks_for: Asking = Asking.EVERYTHING


ASKED_EVERY, ASKED_LEAST = 3 * HOUR, 15 * MINUTE
"""How often an address is asked for an outdoor forecast, and how often at most (ours: one is made a few times a day)."""


@dataclass(frozen=True, slots=True)
class Outdoors:
    """Where an outdoor forecast comes from, a topic or an address (it may hold a key) that is asked `every` so many ms; and where
    in its JSON the times and the temperatures stand, in the unit of `sends`.
    """

    times: str
    temperatures: str
    topic: str | None = None
    url: Secret | None = None
    every: int | None = None
    sends: str = "Cel"


@dataclass(frozen=True, slots=True)
class Backup:
    """Where backups go: `to` is a folder on another disk, None for one beside the store. Of the last `days` days and `weeks`
    weeks the newest each is kept. `nightly` is the minute of the local day at which the daemon makes one.
    """

    to: str | None = None
    days: int = 7
    weeks: int = 5
    same_disk: bool = False
    nightly: int = 210


@dataclass(frozen=True, slots=True)
class Database:
    """One time-series database with an InfluxDB API. `bucket` is `name` or, for version 1, `database/policy`;
    `token` is the token, or `user:password` for version 1. What is younger than `here` (ms) lies in the site's file as well.
    """

    url: str
    bucket: str
    org: str = ""
    token: Secret | None = None
    ca_file: str | None = None
    here: int = 8 * 86_400_000
