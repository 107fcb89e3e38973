"""One alarm from the reading to the telling, read from what was stored at the time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from monitor import words
from monitor.alarms.cycle import Alarm, Event, State, Transition, needs_acknowledgement
from monitor.checks.findings import AlarmKey, Evidence, Kind
from monitor.checks.watches import Statistic, watches
from monitor.notify.notices import Decision
from monitor.readings import DAY, HOUR, Measures, Millis, Reading
from monitor.reports.facts import order_facts
from monitor.reports.notes import plain
from monitor.reports.post import sent_facts
from monitor.reports.probes import as_read
from monitor.reports.saying import Saying, instant, value_words
from monitor.reports.shapes import (
    DiaryShape,
    EvidenceShape,
    OrderShape,
    ReadingShape,
    SentShape,
    StepShape,
    ToldShape,
    WhyShape,
)
from monitor.rules import Bin, Probe, Rules
from monitor.store.promises import Store

ADVICE, POSTS, DIARY = 500, 1_000, 1_000
"""So many of the newest are looked through."""
SHOWN = 8
"""So many readings from before the alarm are shown, evenly spread."""


def why_facts(store: Store, rules: Rules, number: int, at: Millis, *, by_command: bool = True) -> WhyShape | None:
    """The story of one alarm; None when no step of this number is found. `by_command` says how it is answered in a
    terminal.
    """
    story = store.story(number)
    steps, decisions = story.transitions, story.decisions
    if not steps:
        return None
    saying, alarm = Saying(rules, at), store.heard_of(number)
    last, worst = steps[-1], "harm" if any(s.level == "harm" for s in steps) else None
    key = last.key
    return {
        "number": number,
        "about": saying.about(key, next((s.level for s in steps if s.level == worst), None)),
        "subject": str(key.subject),
        "place": key.subject.place,
        "condition": str(key.condition),
        "state": str(alarm.state if alarm else State.NORMAL),
        "sentence": _standing(alarm, steps, saying, by_command=by_command) if alarm else _ended(last, saying),
        "readings": list(_readings(store, steps, rules)),
        "evidence": [_evidence(s, e, saying) for s in steps if (e := s.evidence) is not None],
        "steps": [_step(step) for step in steps],
        "advice": _advice(store, key, number, saying=saying),
        "told": list(_told(store, decisions)),
        "diary": list(_diary(store, number)),
    }


# ── how it stands ─────────────────────────────────────────────────────────────────────────────────────────────


def _standing(alarm: Alarm, steps: Sequence[Transition], saying: Saying, *, by_command: bool) -> str:
    how = f": `vermistat seen {alarm.number}`, or `vermistat done {alarm.number}` when it is done."
    answer, since = how if by_command else ".", saying.clock(alarm.since)
    if alarm.state is State.RETURNED:
        return f"It was over {saying.when(alarm.changed_at)}, but nobody has seen it yet{answer}"
    if alarm.state is State.ACKNOWLEDGED:
        seen = next(s for s in reversed(steps) if s.event is Event.ACKNOWLEDGED)
        said = f"It stands since {since}; {seen.who} saw it {saying.when(seen.at)}."
    elif needs_acknowledgement(alarm):
        said = f"It stands since {since} and waits for an answer{answer}"
    else:
        said = f"It stands since {since}. It may be answered, but need not be{answer}"
    return f"{said}{_ends(alarm, saying)}{_untold(alarm, saying)}"


def _untold(alarm: Alarm, saying: Saying) -> str:
    """Why nobody is told of it, if nobody is."""
    why = [f"{saying.about(alarm.cause, None)} explains it"] if alarm.cause else []
    if alarm.shelf:
        why.append(f"it is shelved by {alarm.shelf.who} until {saying.clock(alarm.shelf.until)}")
    if alarm.work:
        why.append(f"{alarm.work.who} works in {alarm.work.bed} until {saying.clock(alarm.work.until)}")
    return f" Nobody is told of it: {words.joined(why)}." if why else ""


def _ends(alarm: Alarm, saying: Saying) -> str:
    """When it will be over, for what has a limit: harm at its own deadband's end, the alarm at that of comfort."""
    bed, evidence = _bed(alarm.key, saying.rules), alarm.evidence
    mine = [w for w in watches(bed) if w.key == alarm.key] if bed else []
    if not mine or evidence.clear_at is None or evidence.unit == "points":
        return ""
    side = "above" if evidence.below else "below"
    inmost = (max if evidence.below else min)(mine, key=lambda w: w.clear_at)
    over, better = (value_words(at, evidence.unit, saying.units) for at in (inmost.clear_at, evidence.clear_at))
    first = f" Harm is over at {better} or {side}." if over != better else ""
    return f"{first} It ends once it has stayed at {over} or {side} for {words.duration(inmost.off_delay)}."


def _ended(last: Transition, saying: Saying) -> str:
    when = saying.when(last.at)
    if last.event is Event.REMOVED:
        return f"It ended {when}: {last.cause.rstrip('.')}."
    return f"It is over since {saying.clock(last.at)}."


def _bed(key: AlarmKey, rules: Rules) -> Bin | None:
    named = key.subject.kind in (Kind.BIN, Kind.ZONE)
    return rules.bins.get(key.subject.bed) if named else None


def _measures(evidence: Evidence) -> Measures:
    return Measures.TEMPERATURE if evidence.unit == "°C" else Measures.MOISTURE


# ── what decided ──────────────────────────────────────────────────────────────────────────────────────────────


def _readings(store: Store, steps: Sequence[Transition], rules: Rules) -> Iterator[ReadingShape]:
    """What the probes of the deciding zone said when it was raised for the last time."""
    raised = next((s for s in reversed(steps) if s.event is Event.RAISED), None)
    evidence = raised.evidence if raised else None
    bed = _bed(raised.key, rules) if raised else None
    if raised is None or evidence is None or bed is None or evidence.bound is None:
        return
    zone = next((z for z in bed.zones if z.id == evidence.zone), None)
    end = raised.at + max(evidence.held - evidence.lasting, 0)  # a backlog is judged by its newest value
    span = DAY if evidence.statistic == Statistic.MEDIAN_DAY else min(max(evidence.held, HOUR), DAY)
    for probe in zone.probes if zone else ():
        if probe.measures is _measures(evidence):
            yield from _spread(probe, store.window(probe.id, end - span, end + 1))


def _spread(probe: Probe, readings: Sequence[Reading]) -> Iterator[ReadingShape]:
    """A few of them, the first and the last among them."""
    last = len(readings) - 1
    few = readings if last < SHOWN else [readings[round(i * last / (SHOWN - 1))] for i in range(SHOWN)]
    for reading in few:
        value, unit = as_read(probe, reading)
        believed = reading.quality.trusted
        yield {"probe": probe.id, "at": instant(reading.at), "value": value, "unit": unit, "believed": believed}


def _evidence(step: Transition, evidence: Evidence, saying: Saying) -> EvidenceShape:
    return {
        "at": instant(step.at),
        "event": str(step.event),
        "sentence": saying.evidence(evidence, step.event),
        "arithmetic": evidence.arithmetic,
        "value": evidence.value,
        "limit": evidence.bound,
        "unit": evidence.unit,
        "source": evidence.source,
        "mark": evidence.mark,
        "outdoors_age_h": None if evidence.outdoors_age is None else round(evidence.outdoors_age / HOUR, 2),
    }


def _step(step: Transition) -> StepShape:
    return {
        "at": instant(step.at),
        "event": str(step.event),
        "before": str(step.before),
        "after": str(step.after),
        "level": str(step.level) if step.level else None,
        "cause": step.cause,
        "who": step.who,
        "note": plain(step.note),
        "until": instant(step.until) if step.until is not None else None,
    }


# ── what came of it ───────────────────────────────────────────────────────────────────────────────────────────


def _advice(store: Store, key: AlarmKey, number: int, *, saying: Saying) -> list[OrderShape]:
    """The newest words of every act that was ever advised for it."""
    found: dict[tuple[str, str], OrderShape] = {}
    for advice in store.advice(key.subject.place, ADVICE):
        for order in advice.orders:
            if number in order.alarms:
                found[order.act, order.target] = order_facts(order, advice, saying=saying)
    return list(found.values())


def _told(store: Store, decisions: Sequence[Decision]) -> Iterator[ToldShape]:
    numbers = {d.notice for d in decisions if d.notice is not None}
    posts: dict[int, list[SentShape]] = {number: [] for number in numbers}
    for post in store.notices(POSTS) if numbers else ():
        if post.notice.number in posts:
            posts[post.notice.number].append(sent_facts(post))
    yield from (_decision(d, posts) for d in decisions)


def _decision(decision: Decision, posts: Mapping[int, list[SentShape]]) -> ToldShape:
    return {
        "at": instant(decision.at),
        "person": decision.person,
        "event": decision.event,
        "verdict": str(decision.verdict),
        "reason": decision.reason,
        "until": instant(decision.until) if decision.until is not None else None,
        "notice": decision.notice,
        "sent": posts.get(decision.notice, []) if decision.notice is not None else [],
    }


def _diary(store: Store, number: int) -> Iterator[DiaryShape]:
    for entry in store.diary(DIARY):
        if entry.alarm == number:
            yield {"at": instant(entry.at), "who": entry.who, "deed": str(entry.deed), "text": plain(entry.text)}
