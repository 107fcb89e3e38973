"""A small board without a battery clock, whose truth is known, and the rounds on it: no threads, no broker."""

from dataclasses import dataclass, field, replace

from monitor import timekeeping
from monitor.checks.system import System
from monitor.clock import Machine
from monitor.intake.quality import Trust, judged_anew
from monitor.readings import MINUTE, SECOND, Reading
from monitor.rounds import Rounds
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch
from parts import orchard
from parts.house import Flushed


@dataclass
class Board:
    """`off` is how far the wall is from the truth; `restored` what a boot begins with: `right`, `epoch`, or `saved`,
    the time of the shutdown. `hears` counts the rounds in which times were moved.
    """

    rules: object = field(default_factory=orchard.rules)
    store: object = field(default_factory=MemoryStore)
    truth: int = orchard.ms("10:00")
    off: int = 0
    ran: int = 20 * SECOND
    boot: int = 1
    synced: bool = False
    straight: list = field(default_factory=list)
    moved: int = 0

    def __post_init__(self):
        self.start()

    def machine(self):
        return Machine(
            wall=lambda: self.truth + self.off,
            ran=lambda: self.ran,
            synced=lambda: self.synced,
            hardware=lambda: False,
            boot=lambda: f"boot {self.boot}",
        )

    def start(self):
        """What a new process finds."""
        self.clock, stretch = timekeeping.start(self.store, self.machine())
        probes = self.rules.probes()
        self.trust = Trust()
        self.keeper = timekeeping.Timekeeper(
            self.clock,
            stretch,
            store=self.store,
            between=self._between,
            trust=self._primed,
            anew=lambda r: judged_anew(probes[r.probe], r),
            sinces=lambda: [self.link_since],
        )
        self._primed()
        self.link_since = self.clock.now()
        self.rounds = Rounds(
            store=self.store,
            rules=self.rules,
            now=self.clock.now,
            flush=Flushed,
            system=lambda: System(
                link_since=self.keeper.since(self.link_since), clock_unsure_since=self.keeper.unsure_since
            ),
            nudge=lambda: None,
            straight=self.straight.append,
            set_right=self.keeper.set_right,
            outage=self.keeper.outage,
        )

    def _between(self, work):
        self.moved += work() is not None

    def _primed(self):
        self.trust = Trust()
        for probe in self.rules.probes():
            self.trust.prime(probe, self.store.latest(probe, 5), unchanged_since=self.store.unchanged_since(probe))
        return self.trust

    def pass_(self, ms):
        self.truth, self.ran = self.truth + ms, self.ran + ms
        return self

    def later(self, minutes):
        return self.pass_(minutes * MINUTE)

    def power_off(self, minutes, wakes="right"):
        """Off for so long; the new boot has run for 20 s when the daemon starts."""
        shut_down_at = self.truth + self.off
        self.truth += minutes * MINUTE
        self.off = {"right": 0, "epoch": -self.truth, "saved": shut_down_at - self.truth}[wakes]
        self.truth += 20 * SECOND
        self.ran, self.boot, self.synced = 20 * SECOND, self.boot + 1, False
        self.start()
        return self

    def set_clock(self, *, synced=True):
        """The true time comes."""
        self.off, self.synced = 0, synced
        return self

    def keep(self, own_times=None, **celsius):
        """One reading of each probe as the pump would keep it; `own_times` maps probes to the times they send."""
        probes, now = self.rules.probes(), self.clock.now()
        readings = []
        for name, value in celsius.items():
            probe = probes[name.replace("_", "-")]
            at = (own_times or {}).get(probe.id)
            quality = self.trust.judge(
                probe, value, at=now if at is None else at, received_at=now,
                unsure=at is not None and self.keeper.unsure_since is not None,
            )  # fmt: skip
            readings.append(
                Reading(probe.id, now if at is None else at, value, now, quality, own_time=at is not None)
            )
        self.store.keep(Batch(readings))

    def say(self, own_times=None, **celsius):
        self.keep(own_times, **celsius)
        return self.rounds.run()

    def through(self, minutes, every=15, **celsius):
        """The same values for so long, the last at its end."""
        for _ in range(minutes // every):
            self.later(every).say(**celsius)
        return self

    def steps(self, *, without=("clock unsure", "power came back")):
        """What happened to each alarm, and when."""
        return [
            (t.key.subject.id, str(t.key.condition), str(t.event), t.level, t.at, t.round_at)
            for t in self.store.transitions(limit=10_000)
            if t.key.condition not in without
        ]

    def episodes(self):
        return [
            (p.key.subject.id, str(p.key.condition), p.began, p.ended) for p in self.store.past_episodes(10_000)
        ]

    def told(self):
        """How often each event of each condition was told, by person."""
        names = {t.number: (t.key.subject.id, str(t.key.condition)) for t in self.store.transitions(limit=10_000)}
        return [
            (d.person, *names[d.alarm], d.event)
            for d in self.store.decisions(limit=10_000)
            if d.verdict == "told" and names[d.alarm][1] not in ("clock unsure", "power came back")
        ]

    def standing(self):
        return {(a.key.subject.id, str(a.key.condition)): a for a in self.store.load().alarms}

    def kept(self, probe):
        return [(r.at, r.value) for r in self.store.window(probe, -(2**60), 2**60)]


def awake(person):
    """A person who sleeps never."""
    return replace(person, evening=None, up=None)
