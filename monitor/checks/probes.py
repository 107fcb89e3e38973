"""Do the probes speak, and can they be believed? Deadlines out of the last reading, never a count.

A probe has at most one of these troubles at a time: silent, stuck or faulty. Nothing of this is harm: it is
comfort's level, and `alarms.priority` says how much it matters.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from monitor.checks.arithmetic import number, span
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding, Kind, Subject
from monitor.checks.memory import SHORTEST_SILENCE, ProbeMemory, interval, nothing_of, silence
from monitor.checks.values import known_until
from monitor.checks.watches import Statistic, View, Watched
from monitor.readings import MINUTE, Measures, Millis, Quality
from monitor.rules import Level, Probe, Rules
from monitor.science.correction import corrected

GRACE: Millis = 5 * MINUTE
"""Once we begin to listen, nobody is silent for one interval and at least this long (common practice)."""

TROUBLES = (Condition.SILENT, Condition.STUCK, Condition.FAULTY)
"""What can be the matter with a probe; at most one of them at a time."""

_FAULTS: Mapping[Quality, str] = {
    Quality.OUT_OF_RANGE: "an impossible value",
    Quality.POWER_ON: "the chip's power-on value",
    Quality.DISCONNECTED: "the sign of a lost chip",
    Quality.JUMP: "further from the last good value than a bed can move",
    Quality.STUCK: "the same to the last digit for too long",
    Quality.AHEAD: "dated in the future",
}


@dataclass(frozen=True, slots=True)
class Listed:
    """A probe under the name and place in which it is told of."""

    probe: Probe
    subject: Subject


@dataclass(frozen=True, slots=True)
class Roll:
    """Whoever is awaited, made ready once for each version of the settings.

    `views` are the subjects that must never be without a good thermometer; `only_probes` names the probe of
    every subject that has a single one; `moving` are ids of probes that stand somewhere for a while only.
    """

    probes: tuple[Listed, ...]
    views: tuple[View, ...]
    only_probes: Mapping[Subject, Subject]
    moving: frozenset[str] = frozenset()


def roll(rules: Rules, beds: Iterable[Watched]) -> Roll:
    """Every probe of a site, and every subject of its bins that has a thermometer and a limit."""
    views = tuple(
        view
        for bed in beds
        for view in bed.views
        if view.measures is Measures.TEMPERATURE and view.statistic is Statistic.VALUE
    )
    listed = tuple(_listed(rules))
    moving = frozenset(one.probe.id for one in listed if one.probe.moved)
    return Roll(probes=listed, views=views, only_probes=dict(_only_probes(views)), moving=moving)


def _listed(rules: Rules) -> Iterator[Listed]:
    air = [(p, place.id) for place in rules.places.values() for p in place.probes]
    beds = [(p, bed.place) for bed in rules.bins.values() for zone in bed.zones for p in zone.probes]
    return (Listed(p, Subject(Kind.PROBE, p.id, place)) for p, place in air + beds)


def _only_probes(views: Iterable[View]) -> Iterator[tuple[Subject, Subject]]:
    return ((v.subject, Subject(Kind.PROBE, v.probes[0].id, v.subject.place)) for v in views if len(v.probes) == 1)


def look_at_probes(
    roll: Roll,
    *,
    memory: Mapping[str, ProbeMemory],
    now: Millis,
    listening_since: Millis | None,
    known_since: Mapping[str, Millis],
    standing: Collection[AlarmKey],
    powered_since: Millis | None = None,
) -> list[Finding]:
    """What is the matter with each probe, which subject no thermometer speaks for, and what of that is over.

    `listening_since` is when the broker was last reached, None while it is lost: then we are deaf and call
    nobody silent who was not silent before. `known_since` says since when a probe stands in the settings: who
    never spoke is awaited from then on. `standing` are the keys of the alarms whose condition is there.
    `powered_since` is when the power last came back: who has just got power is awaited as if it had just spoken.
    """
    ears = _Ears(now, listening_since, known_since, powered_since)
    troubles = {key.subject.id: key.condition for key in standing if key.condition in TROUBLES}
    unwatched = {key.subject for key in standing if key.condition is Condition.UNWATCHED}
    found: list[Finding] = []
    moving = roll.moving
    for entry in roll.probes:
        if moving and entry.probe.moved and not entry.probe.stands(now):
            found.extend(_moved_away(entry, roll, standing, now))
            continue
        kept, trouble = memory.get(entry.probe.id), troubles.get(entry.probe.id)
        if trouble is not None or kept is None or not _is_well(kept, now):
            found.extend(_of_probe(entry, kept or nothing_of(entry.probe), stands=trouble, ears=ears))
    for view in roll.views:
        stands = view.subject in unwatched
        if stands or not _speaks(view, memory, now, moving):
            found.extend(_of_view(view, memory, stands=stands, ears=ears))
    return found


def _speaks(view: View, memory: Mapping[str, ProbeMemory], now: Millis, moving: Collection[str]) -> bool:
    """Whether a thermometer of the subject is well, and stands there."""
    for probe in view.probes:
        kept = memory.get(probe.id)
        here = probe.id not in moving or (
            probe.stands(now) and kept is not None and probe.stands(kept.heard or now)
        )
        if here and kept is not None and _is_well(kept, now):
            return True
    return False


def _moved_away(entry: Listed, roll: Roll, standing: Collection[AlarmKey], now: Millis) -> Iterator[Finding]:
    """The end of what is the matter with a probe that stands nowhere any more, or now under another place's name."""
    if any(other.subject == entry.subject and other.probe.stands(now) for other in roll.probes):
        return
    for condition in TROUBLES:
        key = AlarmKey(entry.subject, condition)
        if key in standing:
            yield Finding(key, None, now, now, Evidence("it no longer stands here", probe=entry.probe.id))


def deadline(probe: Probe, memory: ProbeMemory, begin: Millis | None) -> Millis | None:
    """When a probe counts as silent: its last word, or the `begin` of waiting for its first, plus its silence.

    None when nobody has begun to wait.
    """
    last = memory.heard if memory.heard is not None else begin
    return None if last is None else last + silence(probe, memory)


def is_over(until: Millis | None, *, grace: Millis | None, now: Millis, stands: bool) -> bool:
    """Whether a deadline has passed. A new alarm also waits for the grace, without one (deaf) for ever."""
    if until is None or now < until:
        return False
    return stands or (grace is not None and now >= grace)


@dataclass(frozen=True, slots=True)
class _Ears:
    """Now, and since when we could have heard."""

    now: Millis
    listening_since: Millis | None
    known_since: Mapping[str, Millis]
    powered_since: Millis | None = None

    def begin(self, probe: Probe) -> Millis | None:
        """From when on the first word of a probe is awaited."""
        return self.known_since.get(probe.id, self.listening_since)

    def grace(self, probe: Probe, memory: ProbeMemory) -> Millis | None:
        """Until when nothing new is held against a probe, None while we are deaf."""
        if self.listening_since is None:
            return None
        usual = self.listening_since + max(interval(probe, memory) or 0, GRACE)
        return usual if self.powered_since is None else max(usual, self.powered_since + silence(probe, memory))


@dataclass(frozen=True, slots=True)
class _Diagnosis:
    condition: Condition
    at: Millis
    since: Millis
    text: str
    lasting: Millis


def _is_well(memory: ProbeMemory, now: Millis) -> bool:
    """The common case, cheaply: heard within the shortest silence there is, and believed."""
    return memory.untrusted_since is None and memory.heard is not None and now < memory.heard + SHORTEST_SILENCE


def _of_probe(entry: Listed, memory: ProbeMemory, *, stands: Condition | None, ears: _Ears) -> Iterator[Finding]:
    judged = _diagnose(entry.probe, memory, stands=stands, ears=ears)
    probe = entry.probe.id
    if stands and (judged is None or judged.condition is not stands):
        at = memory.heard if judged is None and memory.heard is not None else ears.now
        text = f"now {judged.condition}" if judged else "good readings come in time"
        yield Finding(AlarmKey(entry.subject, stands), None, at, at, Evidence(text, probe=probe))
    if judged:
        evidence = Evidence(judged.text, lasting=judged.lasting, held=ears.now - judged.since, probe=probe)
        key = AlarmKey(entry.subject, judged.condition)
        yield Finding(key, Level.COMFORT, judged.at, judged.since, evidence)


def _diagnose(probe: Probe, memory: ProbeMemory, *, stands: Condition | None, ears: _Ears) -> _Diagnosis | None:
    until = deadline(probe, memory, ears.begin(probe))
    grace = ears.grace(probe, memory)
    if until is not None and is_over(until, grace=grace, now=ears.now, stands=stands is Condition.SILENT):
        return _silent(probe, memory, until=until, now=ears.now)
    if probe.measures is not Measures.MOISTURE:
        memory = replace(memory, value=corrected(memory.value, offset=probe.offset, scale=probe.scale))
    if memory.untrusted_since is None or memory.heard is None:
        return None
    if memory.quality is Quality.STUCK:
        return _untrusted(Condition.STUCK, memory, at=memory.heard, lasting=0)
    length = silence(probe, memory)
    # a standing fault ends with a trusted value only, however short the remembered past is after a restart
    if stands is Condition.FAULTY or memory.heard - memory.untrusted_since >= length:
        return _untrusted(Condition.FAULTY, memory, at=memory.untrusted_since + length, lasting=length)
    return None


def _silent(probe: Probe, memory: ProbeMemory, *, until: Millis, now: Millis) -> _Diagnosis:
    length = silence(probe, memory)
    since = until - length
    usual = interval(probe, memory)
    every = f"it speaks every {span(usual)}, " if usual else "its interval is not known, "
    last = (
        f"last reading {span(now - since)} ago"
        if memory.heard is not None
        else f"no reading in {span(now - since)}"
    )
    return _Diagnosis(Condition.SILENT, until, since, f"{last}; {every}silent after {span(length)}", length)


def _untrusted(condition: Condition, memory: ProbeMemory, *, at: Millis, lasting: Millis) -> _Diagnosis:
    since = memory.untrusted_since or at
    why = _FAULTS.get(memory.quality, "not to be trusted") if memory.quality is not None else "not to be trusted"
    good = f"last good value {number(memory.value)}" if memory.trusted_at is not None else "never a good value"
    held = span((memory.heard or at) - since)
    return _Diagnosis(condition, at, since, f"no good reading for {held}, the newest is {why}; {good}", lasting)


def _of_view(view: View, memory: Mapping[str, ProbeMemory], *, stands: bool, ears: _Ears) -> Iterator[Finding]:
    kept = {p.id: memory.get(p.id) or nothing_of(p) for p in view.probes}
    until = known_until(view, kept)
    here = [p for p in view.probes if p.stands(ears.now)]
    awaited = here if until is None else [p for p in here if p.since is not None]
    begins = {p: max(b, p.since or b) for p in awaited if (b := ears.begin(p)) is not None}
    deadlines = [d for p, begin in begins.items() if (d := deadline(p, nothing_of(p), begin)) is not None]
    until = max([*deadlines, *([until] if until is not None else [])], default=None) if here else None
    graces = [g for p in view.probes if (g := ears.grace(p, kept[p.id])) is not None]
    if until is not None and is_over(until, grace=max(graces, default=None), now=ears.now, stands=stands):
        yield _unwatched(view, until=until, now=ears.now)
    elif stands:
        yield _watched_again(view, kept, now=ears.now)


def _unwatched(view: View, *, until: Millis, now: Millis) -> Finding:
    names = ", ".join(p.id for p in view.probes)
    text = f"no good temperature that is fresh, for {span(now - until)}; probes: {names}"
    key = AlarmKey(view.subject, Condition.UNWATCHED)
    return Finding(key, Level.COMFORT, until, until, Evidence(text, held=now - until))


def _watched_again(view: View, kept: Mapping[str, ProbeMemory], *, now: Millis) -> Finding:
    good = [(m.trusted_at, p) for p, m in kept.items() if m.trusted_at is not None]
    at, probe = max(good, default=(now, None))
    text = f"{probe} has a good reading again" if probe else "no thermometer is awaited any more"
    return Finding(AlarmKey(view.subject, Condition.UNWATCHED), None, at, at, Evidence(text, probe=probe))
