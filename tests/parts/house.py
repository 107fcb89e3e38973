"""Rounds over a store without threads or a broker: readings are kept, the clock is set, a round is run."""

from dataclasses import dataclass, field, replace

from monitor.checks.system import System
from monitor.readings import MINUTE, Reading
from monitor.rounds import Rounds
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch
from parts import orchard


@dataclass
class Flushed:
    ok: bool = True
    in_hand: tuple = ()
    error: str | None = None
    blind: bool = False


@dataclass
class House:
    """`at` is now. What went straight out, past the store, is in `straight`."""

    rules: object = field(default_factory=orchard.rules)
    store: object = field(default_factory=MemoryStore)
    at: int = orchard.ms("10:00")
    system: System = field(default_factory=System)
    flushed: Flushed = field(default_factory=Flushed)
    straight: list = field(default_factory=list)

    def __post_init__(self):
        self.restart()

    def restart(self, rules=None):
        """What a new process finds."""
        self.rules = rules or self.rules
        self.rounds = Rounds(
            store=self.store,
            rules=self.rules,
            now=lambda: self.at,
            flush=lambda: self.flushed,
            system=lambda: self.system,
            nudge=lambda: None,
            straight=self.straight.append,
        )

    def say(self, **celsius):
        """Keep one reading of each probe now (`fig_west=12.0`) and run a round."""
        self.keep(*(Reading(name.replace("_", "-"), self.at, value, self.at) for name, value in celsius.items()))
        return self.rounds.run()

    def through(self, minutes, **celsius):
        """The same values every quarter of an hour for so long, the last at its end."""
        for _ in range(minutes // 15):
            self.later(15).say(**celsius)
        return self

    def keep(self, *readings):
        self.store.keep(Batch(readings=readings))

    def later(self, minutes=0, hours=0):
        self.at += (minutes + 60 * hours) * MINUTE
        return self

    def steps(self, condition=None):
        """(subject, condition, event) of every step so far."""
        return [
            (t.key.subject.id, str(t.key.condition), str(t.event))
            for t in self.store.transitions(limit=10_000)
            if condition is None or t.key.condition == condition
        ]

    def standing(self):
        return {(a.key.subject.id, str(a.key.condition)): a for a in self.store.load().alarms}


def warm(bed=orchard.FIG, celsius=24.0):
    """A value for every thermometer of a bin, as `say` takes it."""
    return {
        p.id.replace("-", "_"): celsius for zone in bed.zones for p in zone.probes if p.measures == "temperature"
    }


def with_limit(bed, bound):
    """The bin with its at-once cold limit moved."""
    heat = bed.limits["temperature"]
    harm = tuple(
        replace(h, bound=replace(h.bound, value=bound)) if h.below and h.lasting == 0 else h for h in heat.harm
    )
    return replace(bed, limits={**bed.limits, "temperature": replace(heat, harm=harm)})
