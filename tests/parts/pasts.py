"""A life of some days in a store: beds that wander over their limits, probes that fail, late readings, people, other limits."""

from __future__ import annotations

import json
import random
from dataclasses import replace

from monitor.readings import HOUR, MINUTE, Quality, Reading
from monitor.replay import Lived
from parts import orchard
from parts.house import House, with_limit

ROUND = 5 * MINUTE
COUNTS_AT = {12: 2700, 80: 1450}


def counts(moisture):
    (dry, most), (wet, least) = COUNTS_AT.items()
    return most + (least - most) * (moisture - dry) / (wet - dry)


class Pasts:
    """One such life, told by its seed. What the daemon saw of it is in `lived()`, what it did in `house`."""

    def __init__(
        self, seed, *, days=4, people=True, changes=True, faults=True, wander=0.5, rounds_every=ROUND, seldom=()
    ):
        self.chance = random.Random(seed)
        self.house = House(rules=replace(orchard.rules(), version="1"))
        self.rules = {"1": self.house.rules}
        self.asked = {}
        self.waiting = []
        self.people, self.changes, self.faults, self.wander = people, changes, faults, wander
        self.rounds_every, self.seldom = rounds_every, seldom
        self.beds = {bed.id: self.chance.uniform(10, 34) for bed in self.house.rules.bins.values()}
        self.damp = self.chance.uniform(55, 90)
        self.off = {}
        for _ in range(int(days * 24 * HOUR / rounds_every)):
            self.step()

    def step(self):
        self.house.later(minutes=self.rounds_every // MINUTE)
        for bed in self.beds:
            self.beds[bed] = min(40.0, max(2.0, self.beds[bed] + self.chance.gauss(0, self.wander)))
        self.damp = min(95.0, max(40.0, self.damp + self.chance.gauss(0, 2 * self.wander)))
        self.speak()
        if self.people:
            self.ask()
        if self.changes and self.chance.random() < 0.004:
            self.change()
        number = self.house.rounds._number + 1
        waiting = self.house.store.asked()
        if waiting:
            self.asked[number] = waiting
        assert self.house.rounds.run().stored

    def speak(self):
        at, said = self.house.at, []
        for bed in self.house.rules.bins.values():
            for zone in bed.zones:
                for probe in zone.probes:
                    if self.faults and self.chance.random() < 0.003:
                        self.off[probe.id] = at + self.chance.randint(10, 300) * MINUTE
                    if self.off.get(probe.id, 0) > at or self.chance.random() < 0.3:
                        continue
                    if probe.id in self.seldom and (at // HOUR) % 7 < 5 and self.chance.random() < 0.9:
                        continue
                    said.append(self.reading(probe, bed.id, at - self.chance.randint(0, 50) * 1000))
        for reading in list(self.waiting):
            if self.chance.random() < 0.02:
                self.waiting.remove(reading)
                said.append(replace(reading, received_at=at))
        self.chance.shuffle(said)
        self.house.keep(*said)

    def reading(self, probe, bed, at):
        moist = probe.measures == "moisture"
        value = (
            counts(self.damp + self.chance.gauss(0, 1))
            if moist
            else self.beds[bed] + self.chance.gauss(0, 0.6 * self.wander)
        )
        quality = Quality.GOOD
        if self.faults and self.chance.random() < 0.005:
            quality = self.chance.choice([q for q in Quality if q is not Quality.AHEAD])
        found = Reading(probe.id, at, value, self.house.at, quality, own_time=True)
        if self.faults and self.chance.random() < 0.02:
            self.waiting.append(replace(found, at=at - self.chance.randint(1, 40) * MINUTE))
        return found

    def ask(self):
        alarms = list(self.house.rounds.stands.alarms.values())
        if alarms and self.chance.random() < 0.02:
            alarm = self.chance.choice(alarms).number
            what, body = self.chance.choice([("seen", {}), ("done", {}), ("shelve", {"for": 3 * HOUR})])
            self.house.store.ask(self.house.at, "ana", what, alarm, body=json.dumps(body))
        if self.chance.random() < 0.002:
            body = {"for": 2 * HOUR, "bin": self.chance.choice(list(self.beds))}
            self.house.store.ask(self.house.at, "ana", "working", body=json.dumps(body))

    def change(self):
        number = str(len(self.rules) + 1)
        fig = with_limit(orchard.FIG, self.chance.choice([10.0, 12.0, 14.0, 18.0]))
        rules = replace(self.house.rules, bins={**self.house.rules.bins, "fig": fig}, version=number)
        self.rules[number] = rules
        self.house.rules = rules
        self.house.rounds.use(rules)

    def lived(self):
        store = self.house.store
        return Lived(
            rounds=sorted(store.rounds(1_000_000), key=lambda row: row.number),
            readings=store.after(0),
            asked=self.asked,
            named={t.number: t.key for t in store.transitions(limit=1_000_000)},
        )
