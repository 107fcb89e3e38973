"""How well the alarms serve, as facts, with a proposal for the one that serves worst."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache

from monitor import words
from monitor.alarms.benchmarks import KEEPER, PUBLISHED, graded
from monitor.alarms.cycle import Priority
from monitor.alarms.proposals import proposal
from monitor.alarms.review import Activation, Delays, Review, most, review
from monitor.checks.findings import AlarmKey, Condition
from monitor.checks.memory import SHORTEST_SILENCE
from monitor.checks.system import DELAYS
from monitor.checks.watches import Watch, watches
from monitor.readings import DAY, MINUTE, Measures, Millis
from monitor.reports.alarm_shapes import (
    FigureShape,
    NowQuietShape,
    OftenShape,
    PersonRateShape,
    ReviewShape,
)
from monitor.reports.proposing import proposal_facts
from monitor.reports.saying import Saying, instant
from monitor.rules import Level, Probe, Rules
from monitor.store.promises import Past, Store

STANDARD: Millis = 30 * DAY
"""From so many days at least the standards want their figures [seen-2nd]."""
STEPS, NOTICES = 100_000, 20_000
"""So many of the newest are looked through."""
SEASON = 180
"""Days after which two points in bedding that worms have eaten are old (proposal)."""


def review_facts(store: Store, rules: Rules, at: Millis, *, days: int = 30) -> ReviewShape:
    """The last so many days, or as many as there are."""
    past, saying = store.load(), Saying(rules, at)
    steps = store.transitions(limit=STEPS)
    start = max(at - days * DAY, min([_first(past), *(s.at for s in steps[:1])], default=at))
    start = min(start, at - 1)
    known = _watches(rules)
    delays = _delays(known)
    found = review(steps, past.alarms, start=start, end=at, delays=delays)
    old = _old_points(rules, at)
    proposed = proposal(found, watches=known, delays=delays, stale_points=old)
    return {
        "at": instant(at),
        "since": instant(start),
        "days": round((at - start) / DAY, 2),
        "enough": at - start >= STANDARD - MINUTE,
        "told": len(found.told),
        "figures": list(_figures(found)),
        "chattering": [_often(c.key, len(c.times), saying) for c in found.chattering],
        "fleeting": _counted(found.fleeting, saying),
        "stale": _counted(found.stale, saying),
        "frequent": [_often(key, n, saying, share=found.share(n)) for key, n in found.frequent],
        "people": list(_people(store, start, at)),
        "shelvings": found.shelved,
        "quiet": _quiet(past),
        "proposal": proposal_facts(proposed, saying) if proposed else None,
    }


def _first(past: Past) -> Millis:
    """Since when the first probe is known: before that nothing was watched."""
    known = [int(body) for (kind, _), body in past.standing.items() if kind == "probe"]
    return min(known, default=0)


def _watches(rules: Rules) -> dict[AlarmKey, list[Watch]]:
    found: defaultdict[AlarmKey, list[Watch]] = defaultdict(list)
    for bed in rules.bins.values():
        for watch in watches(bed):
            found[watch.key].append(watch)
    return dict(found)


def _delays(known: Mapping[AlarmKey, Sequence[Watch]]) -> Callable[[AlarmKey], Delays]:
    """How soon each alarm can come and go at all: by its limit of comfort, which is passed first, else by its condition."""

    @cache
    def of(key: AlarmKey) -> Delays:
        every = known.get(key, ())
        mine = [w for w in every if w.level is Level.COMFORT] or every
        if mine:
            return Delays(min(w.on_delay for w in mine), min(w.off_delay for w in mine))
        if key.condition in (Condition.SILENT, Condition.UNWATCHED):
            return Delays(SHORTEST_SILENCE)
        return Delays(DELAYS.get(key.condition, 0))

    return of


def _old_points(rules: Rules, at: Millis) -> Callable[[AlarmKey], bool]:
    """Whether the points behind the moisture of a bin are of unknown age, or older than a season."""

    def old(probe: Probe) -> bool:
        dates = [point.taken for point in probe.calibration if point.taken is not None]
        today = words.local(at, rules.site.timezone).date()
        return len(dates) < len(probe.calibration) or (today - min(dates, default=today)).days > SEASON

    def of(key: AlarmKey) -> bool:
        bed = rules.bins.get(key.subject.bed)
        probes = [p for z in bed.zones for p in z.probes if p.measures is Measures.MOISTURE] if bed else []
        return any(old(p) for p in probes if p.judged)

    return of


# ── facts ─────────────────────────────────────────────────────────────────────────────────────────────────────

KEEPERS: Mapping[str, str] = {
    "rate": "1 a day, 2 are the most that can be managed",
    "most": "at most 10 in any 24 h",
    "busy": "less than 1 % of all days with more than 10",
    "flood": "less than 1 % of the time in a flood, which begins above 10 in 24 h and ends below 5",
    "chattering": "none; 3 times within twice the shortest time its delays allow, and within 2 h at least",
    "fleeting": "none; gone within 30 min and seen by nobody",
    "stale": "fewer than 5 on any day; longer than 24 h",
    "frequent": "the most frequent alone makes at most a third; judged from 20 alarms on",
    "low": "at least 80 %; judged from 20 alarms on",
    "medium": "at most 15 %; judged from 20 alarms on",
    "high": "at most 5 %; judged from 20 alarms on",
    "unnamed": "none",
}
"""What each published figure is for a keeper; how they are carried over stands in `alarms.benchmarks`."""

UNITS = {
    "rate": "a day",
    "busy": "% of days",
    "flood": "% of time",
    "frequent": "%",
    "low": "%",
    "medium": "%",
    "high": "%",
}


def _figures(found: Review) -> Iterator[FigureShape]:
    first = found.frequent[0][1] if found.frequent else 0
    shares = {str(p): found.share(n) for p, n in found.priorities.items()}
    values = {
        "rate": found.rate,
        "most": found.most,
        "busy": found.busy,
        "flood": found.flood,
        "chattering": len(found.chattering),
        "fleeting": len(found.fleeting),
        "stale": found.most_stale,
        "frequent": found.share(first),
        **{str(p): shares[str(p)] for p in Priority},
        "unnamed": found.unnamed,
    }
    for name, value in values.items():
        printed = PUBLISHED[name]
        yield {
            "name": name,
            "value": round(float(value), 2),
            "unit": UNITS.get(name, ""),
            "keeper": KEEPERS[name],
            "published": printed.words,
            "source": printed.source,
            "mark": printed.mark,
            "grade": str(graded(name, value, of=len(found.told))),
        }


def _often(key: AlarmKey, times: int, saying: Saying, *, share: float | None = None) -> OftenShape:
    return {
        "about": saying.about(key, None),
        "times": times,
        "share": None if share is None else round(share, 1),
    }


def _counted(found: Iterable[Activation], saying: Saying) -> list[OftenShape]:
    counts = Counter(one.key for one in found)
    return [_often(key, n, saying) for key, n in counts.most_common()]


def _people(store: Store, start: Millis, end: Millis) -> Iterator[PersonRateShape]:
    sent = {p.notice.number: p.notice for p in store.notices(NOTICES) if start <= p.notice.at < end}
    for person in sorted({notice.person for notice in sent.values()}):
        mine = [notice for notice in sent.values() if notice.person == person]
        yield {
            "person": person,
            "notices": len(mine),
            "a_day": round(len(mine) * DAY / (end - start), 2),
            "most_in_a_day": most([notice.at for notice in mine], KEEPER),
            "woken": sum(notice.woke for notice in mine),
        }


def _quiet(past: Past) -> NowQuietShape:
    return {
        "shelved": sum(a.shelf is not None for a in past.alarms),
        "by_design": sum(a.cause is not None for a in past.alarms),
        "out_of_service": sum(a.work is not None for a in past.alarms),
    }
