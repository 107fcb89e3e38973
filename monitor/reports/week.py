"""A week of every bin, as facts: from Monday to Monday by the site's own clock.

Bands are those of the settings in force now: a week is read by the limits one would change because of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from monitor import words
from monitor.alarms.cycle import Event, Transition
from monitor.alarms.review import Activation, activations
from monitor.charts.ticks import midnight
from monitor.checks.findings import Kind
from monitor.checks.memory import GAPS
from monitor.diary import EVERY, Deed, Entry, in_force
from monitor.notify.weekly import week_before
from monitor.readings import DAY, HOUR, MINUTE, Measures, Millis, Reading
from monitor.reports.caring import due
from monitor.reports.probes import judged_value
from monitor.reports.saying import Saying, instant, unit_of
from monitor.reports.week_mats import mat_weeks
from monitor.reports.week_shapes import (
    BandShape,
    ExtremeShape,
    WeekAlarmShape,
    WeekBinShape,
    WeekShape,
    WeekZoneShape,
)
from monitor.reports.week_words import bin_sentence, look_at, site_sentence
from monitor.rules import Bin, Limits, Probe, Role, Rules, Zone
from monitor.science.exposure import SILENT_AFTER, Exposure, exposure
from monitor.store.promises import Store

STEPS = 100_000
USUAL: Millis = 5 * MINUTE
"""The interval of a probe that has spoken too seldom to tell (common practice, no source)."""
BESIDE: Millis = 6 * HOUR
"""How far beside a week its neighbours are looked for: more than two and a half of any interval in use."""
INFINITE = math.inf
Spoken = tuple[Millis, float]


@dataclass(frozen=True, slots=True)
class Week:
    """From one local midnight to that of the seventh day after; `end` is now while it is not over."""

    first: date
    start: Millis
    end: Millis
    whole: bool

    @property
    def hours(self) -> float:
        """How long it is, or has been so far."""
        return (self.end - self.start) / HOUR


CARED: Millis = 7 * DAY
"""So long after a week what is due for food and water now is told with it."""


def monday_of(day: date) -> date:
    """The Monday that begins the week of a day."""
    return day - timedelta(days=day.weekday())


def week_of(first: date, tz: str, at: Millis) -> Week:
    """The seven days that begin with `first`, as far as they are over."""
    start, end = (midnight(day, tz) for day in (first, first + timedelta(days=7)))
    return Week(first, start, min(max(at, start), end), end <= at)


def week_facts(store: Store, rules: Rules, at: Millis, *, first: date | None = None) -> WeekShape:
    """The week that begins with the day `first`, else the newest one that is over. Zones without a reading are told so."""
    tz, saying = rules.site.timezone, Saying(rules, at)
    week = week_of(first or week_before(at, tz), tz, at)
    diary = in_force(store.diary(EVERY), week.end)
    alarms = _alarms(store, week)
    beds = [
        _bin(bed, store, week, diary=diary, alarms=alarms.get(bed.id, []), saying=saying)
        for bed in rules.bins.values()
    ]
    facts: WeekShape = {
        "at": instant(at),
        "site": rules.site.name,
        "timezone": tz,
        "units": str(rules.site.units),
        "since": instant(week.start),
        "until": instant(week.end),
        "days": words.week_days(week.first),
        "over": week.whole,
        "hours": round(week.hours, 2),
        "sentence": "",
        "currency": rules.energy.currency if rules.energy else None,
        "bins": beds,
        "mats": mat_weeks(store, rules, week.start, week.end, diary=diary),
        "others": [_alarm(one, seen, saying) for one, seen in alarms.get("", [])],
    }
    if at < week.end + CARED:
        for bed, said in due(store, rules, at, rules.bins):
            next(one for one in beds if one["id"] == bed)["look_at"].append(said)
    facts["sentence"] = site_sentence(facts)
    return facts


# ── alarms ────────────────────────────────────────────────────────────────────────────────────────────────────

Seen = tuple[Activation, Millis | None]


def _alarms(store: Store, week: Week) -> dict[str, list[Seen]]:
    """Every time that an alarm was there in this week, by bin (empty for none), with how long until somebody saw it."""
    steps = store.transitions(end=week.end, limit=STEPS)
    standing = [a for a in store.load().alarms if a.raised_at < week.end]
    found: dict[str, list[Seen]] = {}
    for one in activations(steps, standing):
        if one.began < week.end and (one.ended is None or one.ended > week.start):
            kind = one.key.subject.kind
            bed = one.key.subject.bed if kind in (Kind.BIN, Kind.ZONE) else ""
            found.setdefault(bed, []).append((one, _seen_after(one, steps)))
    return found


def _seen_after(one: Activation, steps: Iterable[Transition]) -> Millis | None:
    mine = [s for s in steps if s.number == one.number and s.at >= one.began]
    raised = next((s.round_at for s in mine if s.event is Event.RAISED), one.began)
    seen = next((s.round_at for s in mine if s.event is Event.ACKNOWLEDGED), None)
    return None if seen is None else max(seen - raised, 0)


def _alarm(one: Activation, seen: Millis | None, saying: Saying) -> WeekAlarmShape:
    return {
        "number": one.number,
        "about": saying.about(one.key, one.level),
        "level": str(one.level) if one.level else None,
        "began": instant(one.began),
        "ended": None if one.ended is None else instant(one.ended),
        "seen_after_minutes": None if seen is None else round(seen / MINUTE),
    }


# ── a bin ─────────────────────────────────────────────────────────────────────────────────────────────────────


def _bin(
    bed: Bin, store: Store, week: Week, *, diary: Sequence[Entry], alarms: Sequence[Seen], saying: Saying
) -> WeekBinShape:
    zones = [
        told for zone in bed.zones for measures in Measures if (told := _zone(bed, zone, measures, store, week))
    ]
    mine = [e for e in diary if e.bed == bed.id and e.at >= week.start]
    facts: WeekBinShape = {
        "id": bed.id,
        "name": bed.name,
        "sentence": "",
        "zones": zones,
        "watered": _times(mine, Deed.WATERED),
        "litres": _amount(mine, Deed.WATERED, "L"),
        "fed": _times(mine, Deed.FED),
        "kilograms": _amount(mine, Deed.FED, "kg"),
        "alarms": [_alarm(one, seen, saying) for one, seen in alarms],
        "look_at": [],
    }
    living = {zone.id for zone in bed.zones if zone.role is Role.LIVING}
    facts["sentence"] = bin_sentence(facts, living, saying)
    facts["look_at"] = look_at(facts, living, saying)
    return facts


def _times(entries: Iterable[Entry], deed: Deed) -> int:
    return sum(e.deed is deed for e in entries)


def _amount(entries: Iterable[Entry], deed: Deed, unit: str) -> float | None:
    """What was written of it in all, None when nobody wrote how much."""
    known = [e.amount for e in entries if e.deed is deed and e.unit == unit and e.amount is not None]
    return round(math.fsum(known), 3) if known else None


def _zone(bed: Bin, zone: Zone, measures: Measures, store: Store, week: Week) -> WeekZoneShape | None:
    """By the probe that knows most; None for a zone without a probe of it."""
    probes = [p for p in zone.probes if p.measures is measures]
    limits = zone.limits.get(measures) or bed.limits.get(measures)
    told = [_of_probe(zone, probe, store, week, limits=limits) for probe in probes]
    return max(told, key=lambda one: one["known"], default=None)


def heard(store: Store, probe: Probe, start: Millis, end: Millis) -> tuple[list[Spoken], Millis]:
    """What a probe said that can be believed while it stood here, as it is judged, and its interval; a little of what it
    said before and after is there as well.
    """
    found = store.window(probe.id, start - BESIDE, end + BESIDE)
    told = [r for r in found if r.quality.trusted and probe.stands(r.at)]
    return [(r.at, judged_value(probe, r.value)) for r in told], probe.every or _interval(told)


def within(told: Sequence[Spoken], every: Millis, start: Millis, end: Millis) -> list[Spoken]:
    """The part of a line between two moments, which it is cut at; nothing is drawn across a silence."""
    found = [one for one in told if start <= one[0] < end]
    for one, after in pairwise(told):
        if after[0] - one[0] <= SILENT_AFTER * every:
            found += [_cut(one, after, edge) for edge in (start, end) if one[0] < edge < after[0]]
            found += [after] if after[0] == end else []
    return sorted(found)


def _cut(one: Spoken, after: Spoken, at: Millis) -> Spoken:
    return at, one[1] + (after[1] - one[1]) * (at - one[0]) / (after[0] - one[0])


def _interval(told: Sequence[Reading]) -> Millis:
    gaps = sorted(b.at - a.at for a, b in pairwise(told))
    return gaps[len(gaps) // 2] if len(gaps) >= GAPS else USUAL


def _of_probe(zone: Zone, probe: Probe, store: Store, week: Week, *, limits: Limits | None) -> WeekZoneShape:
    around, every = heard(store, probe, week.start, week.end)
    told = within(around, every, week.start, week.end)
    spoken = [one for one in around if week.start <= one[0] < week.end]
    can_be_judged = probe.judged and limits is not None
    comfort = _band(told, every, *_comfort(limits)) if limits and can_be_judged else None
    harm = _band(told, every, *_harm(limits)) if limits and can_be_judged else None
    known = math.fsum(b[0] - a[0] for a, b in pairwise(told) if b[0] - a[0] <= SILENT_AFTER * every) / HOUR
    return {
        "zone": zone.id,
        "measures": str(probe.measures),
        "unit": unit_of(probe.measures, calibrated=probe.judged),
        "probe": probe.id,
        "known": round(known, 3),
        "silent": round(max(week.hours - known, 0.0), 3),
        "comfort": comfort,
        "harm": harm,
        "lowest": _extreme(spoken, min),
        "highest": _extreme(spoken, max),
    }


def _comfort(limits: Limits) -> tuple[float | None, float | None]:
    return (limits.low.value if limits.low else None, limits.high.value if limits.high else None)


def _harm(limits: Limits) -> tuple[float | None, float | None]:
    """The band outside which there is harm, however long it lasts: the nearest limits of either side."""
    low = max((h.bound.value for h in limits.harm if h.below), default=None)
    high = min((h.bound.value for h in limits.harm if not h.below), default=None)
    return low, high


def _band(told: Sequence[Spoken], every: Millis, low: float | None, high: float | None) -> BandShape | None:
    if low is None and high is None:
        return None
    ends = -INFINITE if low is None else low, INFINITE if high is None else high
    found = exposure(told, *ends, interval=every) if told else Exposure(0, 0, 0, 0, 0)
    return {
        "low": low,
        "high": high,
        "below": round(found.below, 3),
        "inside": round(found.inside, 3),
        "above": round(found.above, 3),
        "short": round(found.short, 3),
        "beyond": round(found.beyond, 3),
    }


def _extreme(told: Sequence[Spoken], which: Callable[..., Spoken]) -> ExtremeShape | None:
    if not told:
        return None
    at, value = which(told, key=lambda one: one[1])
    return {"value": value, "at": instant(at)}
