"""Which thermometer is which: they are warmed in the hand one after the other, and whichever rises alone is the one."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypedDict

from monitor.clock import Patience
from monitor.publisher.faults import Faulty
from monitor.publisher.sources.onewire import OneWireChip, on_the_bus
from monitor.publisher.wired import OneWire

RISE = 2.0
"""°C above where it began by which a thermometer is in somebody's hand (ours; a hand is at 30 °C and more)."""
ALONE = 1.0
"""°C by which it has to rise more than every other."""
PAUSE = 0.5
"""Seconds between two rounds of readings; each thermometer takes up to 0.75 s besides."""


@dataclass(slots=True)
class Found:
    """The chips on the bus in the order they were warmed, each with its name, and those that nobody warmed."""

    named: list[tuple[str, str]] = field(default_factory=list)
    left: list[str] = field(default_factory=list)


class FoundShape(TypedDict):
    """What `probes find --json` prints."""

    named: list[NamedShape]
    left: list[str]


class NamedShape(TypedDict):
    """One thermometer that was warmed."""

    probe: str
    onewire: str


class Warmth:
    """Where each thermometer began, and which has risen. Pure: readings in, a chip out."""

    def __init__(self) -> None:
        self._base: dict[str, float] = {}
        self._now: dict[str, float] = {}
        self._done: set[str] = set()

    def take(self, values: dict[str, float]) -> str | None:
        """A round of readings, °C by chip. The chip that has risen alone and was not named before, once."""
        for chip, value in values.items():
            self._base[chip] = min(self._base.get(chip, value), value)
            self._now[chip] = value
        rises = {c: self._now[c] - self._base[c] for c in values if c not in self._done}
        if not rises:
            return None
        first, *others = sorted(rises, key=lambda c: -rises[c])
        if rises[first] >= RISE and (not others or rises[first] - rises[others[0]] >= ALONE):
            self._done.add(first)
            return first
        return None


def finding(
    names: Sequence[str],
    *,
    seconds: float,
    patience: Patience,
    say: Callable[[str], None],
    root: Path = Path("/sys"),
    pause: float = PAUSE,
) -> Found:
    """Watch the bus until every chip, or every name, has been given, for so long at most. Ctrl-C is enough of it."""
    chips = {chip: OneWireChip(OneWire(chip), root) for chip in on_the_bus(root)}
    found, warmth = Found(), Warmth()
    if not chips:
        say("No thermometer is on the 1-wire bus: is its driver on (dtoverlay=w1-gpio), and is one plugged in?")
        return found
    say(f"{len(chips)} on the 1-wire bus. Take one in your hand, hold it until it is named, then the next.")
    most = min(len(chips), len(names)) if names else len(chips)
    until, rest = patience.now() + seconds, threading.Event()
    with contextlib.suppress(KeyboardInterrupt):
        while len(found.named) < most and patience.now() < until:
            risen = warmth.take(_read(chips))
            if risen is not None:
                name = names[len(found.named)] if names else f"probe-{len(found.named) + 1}"
                found.named.append((name, risen))
                say(f"{risen} rises: it is {name}.")
            patience.wait(rest, pause)
    found.left = [chip for chip in chips if chip not in {c for _, c in found.named}]
    return found


def _read(chips: dict[str, OneWireChip]) -> dict[str, float]:
    values = {}
    for chip, source in chips.items():
        try:
            values[chip] = source.read()
        except Faulty:
            continue
    return values


def find_facts(found: Found) -> FoundShape:
    """As JSON."""
    return {"named": [{"probe": name, "onewire": chip} for name, chip in found.named], "left": found.left}


def find_text(found: Found) -> str:
    """The lines for the publisher's settings."""
    if not found.named:
        return "None was named."
    lines = ["", "probes:", *(f"  {name}: {{onewire: {chip}}}" for name, chip in found.named)]
    lines += [f"  # {chip}: was not warmed" for chip in found.left]
    return "\n".join(lines)
