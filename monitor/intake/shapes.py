"""What the pump is handed: the shape of a delivery and of the inbox it lies in (the wire has both)."""

from __future__ import annotations

from typing import Protocol, TypeVar

from monitor.readings import Millis


class Delivery(Protocol):
    """One message as the broker handed it over."""

    @property
    def connection(self) -> int:
        """Which connection it came on; they count upwards."""

    @property
    def packet(self) -> int:
        """Its packet identifier on that connection, 0 under QoS 0."""

    @property
    def qos(self) -> int:
        """0 or 1."""

    @property
    def dup(self) -> bool:
        """The DUP flag: the broker says that it has tried to send it before."""

    @property
    def retained(self) -> bool:
        """Whether the broker had kept it as its topic's last message."""

    @property
    def topic(self) -> str:
        """Where it was published."""

    @property
    def payload(self) -> bytes:
        """What was published."""

    @property
    def received_at(self) -> Millis:
        """When it came."""

    @property
    def backlog(self) -> bool:
        """Whether it may have waited at the broker while we were away."""


D = TypeVar("D", bound=Delivery)


class Inbox(Protocol[D]):
    """Where deliveries wait, in the order they came."""

    @property
    def received(self) -> int:
        """How many were ever put in."""

    def __len__(self) -> int:
        """How many wait."""

    def take(self, most: int) -> list[D]:
        """The oldest `most`, taken out."""

    def wait(self, at_least: int, seconds: float) -> None:
        """Until `at_least` wait, somebody nudges, or the seconds are over."""

    def nudge(self) -> None:
        """Wake whoever waits."""
