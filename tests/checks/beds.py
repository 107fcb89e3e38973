"""Beds of our own invention for tests of the checks, and what is needed to let them live."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from monitor.checks.bins import Looked, look
from monitor.checks.delays import Phase
from monitor.checks.findings import AlarmKey, Condition, Finding, Kind, PastEpisode, Subject
from monitor.checks.memory import ProbeMemory, from_history
from monitor.checks.watches import Watched, watch_over
from monitor.readings import DAY, HOUR, MINUTE, Measures, Millis, Quality, Reading
from monitor.rules import (
    Bin,
    Bound,
    Climate,
    Harm,
    JudgeBy,
    Level,
    Limits,
    Place,
    Point,
    Probe,
    Role,
    Rules,
    Site,
    Source,
    Unit,
    Zone,
)

T0: Millis = 1_800_000_000_000
"""A round time in January 2027; it means nothing."""

COUNTS = (Point(2700, 12.0), Point(1450, 80.0))
"""Two points of a capacitive probe, which reads less the wetter it is."""


def bound(value: float) -> Bound:
    return Bound(value, f"a book that says {value:g}", "proposal")


HEAT = Limits(
    low=bound(21),
    high=bound(29),
    harm=(
        Harm(below=True, bound=bound(15), lasting=4 * HOUR),
        Harm(below=True, bound=bound(12), lasting=0),
        Harm(below=False, bound=bound(32), lasting=2 * HOUR),
        Harm(below=False, bound=bound(34), lasting=0),
    ),
    deadband=1.0,
)
WATER = Limits(
    low=bound(70), high=bound(78), harm=(Harm(below=True, bound=bound(60), lasting=30 * MINUTE),), deadband=2.0
)
CLIMATE: Climate = {Measures.TEMPERATURE: HEAT, Measures.MOISTURE: WATER}
ONLY_HARM = Limits(None, None, harm=(Harm(below=True, bound=bound(12), lasting=0),), deadband=1.0)


def thermometer(id_: str, every: Millis | None = None) -> Probe:
    return Probe(id_, Measures.TEMPERATURE, Source(f"probes/{id_}", Unit.CELSIUS), every=every)


def damp(id_: str, calibration: tuple[Point, ...] = COUNTS) -> Probe:
    return Probe(id_, Measures.MOISTURE, Source(f"probes/{id_}", Unit.COUNTS), calibration=calibration)


def counts(moisture: float) -> float:
    """What a probe with COUNTS sends in bedding of this moisture."""
    return 2700 + (moisture - 12.0) * (1450 - 2700) / (80.0 - 12.0)


def zone(id_: str, *probes: Probe, role: Role = Role.LIVING, limits: Climate = CLIMATE) -> Zone:
    return Zone(id_, role, probes or (thermometer(f"fig-{id_}"),), limits)


def bed(*zones: Zone, judge: JudgeBy = JudgeBy.REFUGE, limits: Climate = CLIMATE, id_: str = "fig") -> Bin:
    return Bin(id_, id_.title(), ("eudrilus-eugeniae",), "shed", zones or (zone("west"),), limits, judge=judge)


def site(*beds: Bin, air: Sequence[Probe] = ()) -> Rules:
    places = {"shed": Place("shed", "Shed", tuple(air))}
    return Rules(Site("orchard", "Orchard"), places, {b.id: b for b in beds})


def key(condition: Condition, zone_: str | None = None, bin_: str = "fig") -> AlarmKey:
    subject = Subject(Kind.ZONE, f"{bin_}.{zone_}", "shed") if zone_ else Subject(Kind.BIN, bin_, "shed")
    return AlarmKey(subject, condition)


def reading(probe: str, at: Millis, value: float, quality: Quality = Quality.GOOD) -> Reading:
    return Reading(probe, at, value, at + 200, quality, own_time=True)


def every(step: Millis, values: Iterable[float], *, probe: str = "fig-west", start: Millis = T0) -> list[Reading]:
    """A probe that speaks regularly."""
    return [reading(probe, start + n * step, value) for n, value in enumerate(values)]


class Watching:
    """A bin that is looked at round after round: keeps what a daemon would keep between rounds."""

    def __init__(self, watched: Bin | Watched) -> None:
        self.watched = watched if isinstance(watched, Watched) else watch_over(watched)
        self.memory: dict[str, ProbeMemory] = {}
        self.phases: dict[str, Phase] = {}
        self.standing: dict[AlarmKey, Level] = {}
        self.past: list[PastEpisode] = []
        self.said: list[Finding] = []
        """Every finding that was news: what an alarm would have moved on."""
        self.stored: dict[tuple[str, Millis], Reading] = {}
        self.rounds: list[int] = []

    def round(self, *fresh: Reading, now: Millis | None = None) -> Looked:
        """One round, right after its newest reading unless said otherwise."""
        kept = [self._stored(r) for r in fresh if (r.probe, r.at) not in self.stored]
        self.rounds.append(len(self.stored))
        looked = look(
            self.watched,
            fresh=kept,
            memory=self.memory,
            phases=self.phases,
            standing=self.standing,
            now=max((r.at for r in fresh), default=T0) if now is None else now,
        )
        self._keep(looked)
        return looked

    def live(self, readings: Iterable[Reading]) -> Watching:
        """Every reading in a round of its own."""
        for one in readings:
            self.round(one)
        return self

    def restart(self) -> None:
        """Forget what is only in memory, and make it again out of what is stored."""
        by_probe = {p: [r for r in self.stored.values() if r.probe == p] for p in self.watched.probes}
        self.memory = {
            p: from_history(self.watched.probes[p], readings, rounds=self.rounds)
            for p, readings in by_probe.items()
            if readings
        }

    def history(self) -> dict[str, list[Reading]]:
        """What is stored, by probe and in order of time."""
        return {
            p: sorted((r for r in self.stored.values() if r.probe == p), key=lambda r: r.at)
            for p in self.watched.probes
        }

    def steps(self) -> list[tuple[int, Condition, Level | None]]:
        """What was news, in minutes after T0."""
        return [((f.at - T0) // MINUTE, f.key.condition, f.level) for f in self.said]

    def _stored(self, one: Reading) -> Reading:
        numbered = replace(one, arrival=len(self.stored) + 1)
        self.stored[one.probe, one.at] = numbered
        return numbered

    def _keep(self, looked: Looked) -> None:
        self.memory.update(looked.memory)
        for name, phase in looked.phases.items():
            if phase is None:
                del self.phases[name]
            else:
                self.phases[name] = phase
        for finding in looked.findings:
            if finding.level is not self.standing.get(finding.key):
                self.said.append(finding)
            if finding.level is None:
                self.standing.pop(finding.key, None)
            else:
                self.standing[finding.key] = finding.level
        self.past.extend(looked.past)


__all__ = ["DAY", "HOUR", "MINUTE"]
