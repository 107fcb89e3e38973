"""The six weeks before the demo's night: the same beds, probes and keeper through a mild early winter with one cold spell.

Invented throughout. Every half hour the probes speak, and a plug whenever it is switched; the keeper works in the tub twice
a week with its mat unplugged, waters the long box, and writes both down. Deterministic.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from monitor.readings import DAY, HOUR, MINUTE, Millis
from monitor.simulator.story import START, Message, Yard
from monitor.simulator.weather import Day, Weather

DAYS = 42
BEGINS: Millis = START - DAYS * DAY
"""17:00 of 3 December 2025 by the clock of the demo's time zone."""
EVERY: Millis = 30 * MINUTE
LIVED_AT_ONCE: Millis = 5 * MINUTE
"""The beds' own steps: an eighth of the quickest lump's time constant."""

_MIDNIGHT: Millis = BEGINS - 17 * HOUR
_COLD_SPELL = range(13, 18)
TONIGHT = (Day(1.5, 5.0, 0.5), Day(-6.5, 1.0, -7.0), Day(-4.0, 4.5, -5.0))
"""The mild day that ends, the cold one that comes, and all that follow."""


def weather(seed: int = 1) -> Weather:
    """A day remembers two thirds of the one before (invented)."""
    chance = random.Random(seed)  # noqa: S311 (weather, not a secret)
    made, odd = [], 0.0
    for n in range(DAYS):
        odd = 0.66 * odd + chance.gauss(0, 0.8)
        mean = 2.6 + odd - (3.5 if n in _COLD_SPELL else 0.0)
        swing = 1.4 + 0.8 * chance.random()
        made.append(Day(mean - swing, mean + swing, mean - swing - 0.5))
    return Weather(_MIDNIGHT, (*made, *TONIGHT))


@dataclass(frozen=True, slots=True)
class Habit:
    """What the keeper does at a time without being told to: in the beds (`Yard.do`), and into the diary in these words."""

    at: Millis
    deed: str
    words: str


def habits(begins: Millis = BEGINS) -> list[Habit]:
    """All of them from `begins` on in order of time, the last of them after the weeks are over."""
    found = []
    for number in range(1, DAYS):
        day = _MIDNIGHT + number * DAY
        if number % 7 in (0, 3):
            found.append(Habit(day + 13 * HOUR, "mat off", "tub-mat off to work in the tub"))
            found.append(Habit(day + 14 * HOUR, "mat on", "tub-mat on again"))
        if number % 5 == 2 and number < DAYS - 14:
            found.append(Habit(day + 9 * HOUR, "water", "longbox watered 3 L"))
    first = Habit(begins, "mat on", "tub-mat on for the winter")
    last = Habit(START + FORGETS, "mat off", "tub-mat off to work in the tub")
    return [first, *sorted((habit for habit in found if habit.at > begins), key=lambda h: h.at), last]


FORGETS: Millis = 2 * HOUR
"""After 17:00 tonight: the tub's mat is unplugged as ever, and forgotten."""


class Weeks:
    """Lives the beds forward and says what their probes send; only the last `days` of them, if somebody is in a hurry."""

    def __init__(self, seed: int = 1, *, days: int = DAYS) -> None:
        sky = weather(seed)
        self.begins = START - days * DAY
        self.yard = Yard(lambda at: (sky.outdoors(at), sky.day(at).dew), at=self.begins, seed=seed)
        box = self.yard.states["longbox"]
        self.yard.states["longbox"] = replace(box, water=self.yard.beds["longbox"].dry * 0.764 / 0.236)

        self._switched: list[Message] = []

    def live_to(self, at: Millis) -> None:
        """The beds at `at`."""
        while self.yard.at < at:
            before = self.yard.states["longbox"].mat_on
            self.yard.live(min(LIVED_AT_ONCE, at - self.yard.at) // 1000)
            if self.yard.states["longbox"].mat_on != before:
                self._switched.append(self.yard.plug_says())

    def said(self) -> list[Message]:
        """What is said now, and what the plug said since."""
        yard = self.yard
        switched = [message for message in self._switched if message.at < yard.at]
        self._switched = []
        said = [*yard.air_says(), *yard.tub_says(), *yard.trays_say(), *yard.longbox_says(), *yard.crate_says()]
        if (yard.at - BEGINS) % DAY == 0:
            said.append(yard.guest_says())
        return [*switched, *said]
