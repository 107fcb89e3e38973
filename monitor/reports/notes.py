"""What else a keeper should know: what arrived and could not be used, what is on its way out, who has answered."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from monitor import words
from monitor.alarms.cycle import Alarm
from monitor.notify.notices import Post, Posted
from monitor.readings import DAY, Millis, Quality, Refusal, Undated
from monitor.reports.probes import BEYOND_ITS_POINTS, Heard, doubt, judged_value
from monitor.reports.saying import Saying, instant, unit_of, value_words
from monitor.rules import Probe, Rules
from monitor.store.promises import Request, Store

if TYPE_CHECKING:
    from monitor.reports.shapes import NoteShape

RECENT = DAY
"""What happened to a message longer ago is no news."""
LOOKED_AT = 200
"""So many of the newest refusals, undated values and posts are looked at."""
FEW = 3
"""So many are named, the rest is counted."""
ERROR = 120
"""Characters of what a channel answered; the log has all of it."""


def note_facts(
    store: Store, heard: dict[str, Heard], saying: Saying, *, unadvised: Iterable[Alarm]
) -> list[NoteShape]:
    """The notes of now, those about alarms, answers and notices first."""
    return [
        *_unadvised(unadvised, saying),
        *_answers(store.asked(), saying),
        *_posts(store.notices(LOOKED_AT), saying),
        *_doubts(heard.values(), saying),
        *_undated(store.undated(LOOKED_AT), heard, saying),
        *_refused(store, saying),
        *_contradicted(store.contradictions(), saying),
        *_elsewhere(store),
    ]


CARED = 12
"""So many bins at most are looked through for food and water that is due: `now` is to be quick (ours)."""


def care_notes(store: Store, rules: Rules, at: Millis) -> list[NoteShape]:
    """Of a site of few bins, where food or water is due."""
    if len(rules.bins) > CARED:
        return []
    from monitor.reports.caring import due  # the page does without

    return [
        _note("care", bed, f"{rules.bins[bed].name}: {said} More: `vermistat care {bed}`.", at=None)
        for bed, said in due(store, rules, at, rules.bins)
    ]


def elsewhere_words(store: Store) -> str | None:
    """What is to be done about readings in a database that the settings no longer name; None when there are none."""
    probes = store.elsewhere()
    if not probes:
        return None
    return (
        f"The older readings of {words.amount(probes, 'probe', 'probes')} lie in a database only, and the settings name none:"
        " write `database:` as it was, run `vermistat database move --back`, and take it out then. Nothing is lost meanwhile."
    )


def _elsewhere(store: Store) -> Iterator[NoteShape]:
    said = elsewhere_words(store)
    if said is not None:
        yield _note("elsewhere", "", said, at=None, count=store.elsewhere())


def plain(text: str) -> str:
    """On one line, with nothing in it that a terminal would obey."""
    return "".join(c if c.isprintable() else "�" for c in text)


def _note(kind: str, about: str, sentence: str, *, at: int | None, count: int = 1) -> NoteShape:
    when = None if at is None else instant(at)
    return {"kind": kind, "about": about, "sentence": sentence, "at": when, "count": count}


def _unadvised(alarms: Iterable[Alarm], saying: Saying) -> Iterator[NoteShape]:
    """Every alarm is answered by an order; if one is not, nobody may read that nothing needs doing."""
    for alarm in alarms:
        about = saying.about(alarm.key, alarm.level)
        said = (
            f"Alarm {alarm.number} ({about}) stands without advice: look, and see `vermistat why {alarm.number}`."
        )
        yield _note("no advice", str(alarm.number), said, at=alarm.raised_at)


def _answers(asked: Iterable[Request], saying: Saying) -> Iterator[NoteShape]:
    for one in asked:
        when = saying.when(one.at)
        about = f" of alarm {one.alarm}" if one.alarm else ""
        did = "wrote into the diary" if one.what == "diary" else f"said `{one.what}`{about}"
        said = f"{one.who} {did} {when}: the next round takes it up."
        yield _note("answer waits", str(one.alarm), said, at=one.at)


def _posts(posts: Iterable[Post], saying: Saying) -> Iterator[NoteShape]:
    """Notices that did not go out at the first try, by channel."""
    late = [p for p in posts if p.state is Posted.WAITING and p.tries]
    lost = [p for p in posts if p.state is Posted.GIVEN_UP and saying.at - p.notice.at < RECENT]
    for kind, group, what in (("notice waits", late, "not out yet"), ("notice given up", lost, "given up")):
        for channel in dict.fromkeys(p.channel for p in group):
            mine = [p for p in group if p.channel == channel]
            numbers = words.joined([f"{p.notice.number} to {p.notice.person}" for p in mine[:FEW]])
            more = f" and {len(mine) - FEW} more" if len(mine) > FEW else ""
            tries, error = (
                words.amount(mine[-1].tries, "try", "tries"),
                words.shorten(plain(mine[-1].last_error), ERROR),
            )
            said = f"By {channel} {what} after {tries}: notice {numbers}{more}. The last answer: {error}"
            yield _note(kind, channel, said, at=mine[-1].notice.at, count=len(mine))


def _doubts(heard: Iterable[Heard], saying: Saying) -> Iterator[NoteShape]:
    """Probes whose newest value is not one that can be judged."""
    for one in heard:
        what, newest = doubt(one, saying), one.newest
        if what is not None and newest is not None:
            kept = newest.quality is Quality.RETAINED
            help_ = " Let the probe send its time along, or not ask the broker to keep it." if kept else ""
            shown = "." if what.startswith(BEYOND_ITS_POINTS) else ": shown, not judged."
            said = f"{one.probe.id} {what}{shown}{help_}"
            yield _note(
                "kept by the broker" if kept else "not believed", one.probe.id, said, at=newest.received_at
            )


def _undated(undated: Iterable[Undated], heard: dict[str, Heard], saying: Saying) -> Iterator[NoteShape]:
    """Values that waited at the broker while we were away and carry no time."""
    recent = sorted((u for u in undated if saying.at - u.received_at < RECENT), key=lambda u: u.probe)
    for probe, group in groupby(recent, key=lambda u: u.probe):
        waited = sorted(group, key=lambda u: u.arrival)
        newest, known = waited[-1], heard.get(probe)
        value = _value_words(known.probe, newest.value, saying) if known else f"{newest.value:g}"
        many = f"{words.amount(len(waited), 'value')} of {probe} came in {saying.when(newest.received_at)}"
        said = f"{many} from a time nobody knows, the last {value}: they waited while nobody listened. Not judged."
        yield _note("time unknown", probe, said, at=newest.received_at, count=len(waited))


def _value_words(probe: Probe, value: float, saying: Saying) -> str:
    unit = unit_of(probe.measures, calibrated=probe.judged)
    return value_words(judged_value(probe, value), unit, saying.units)


def _refused(store: Store, saying: Saying) -> Iterator[NoteShape]:
    """Messages that no reading could be made of: by topic and kind, those of the last day."""
    counts = store.refusal_counts()
    together: dict[tuple[str, str], list[Refusal]] = {}
    for refusal in store.refusals(LOOKED_AT):
        together.setdefault((refusal.topic, str(refusal.kind)), []).append(refusal)
    for key, group in together.items():
        last, count = group[-1], counts.get(key, len(group))
        if saying.at - last.received_at < RECENT:
            often = "once" if count == 1 else f"{count} times so far, the last"
            when = f"{often} {saying.when(last.received_at)}"
            said = f"{plain(last.topic)}{_for_whom(group)}: refused {when}. {plain(last.reason)}"
            yield _note("refused", last.topic, said, at=last.received_at, count=count)


def _for_whom(group: Sequence[Refusal]) -> str:
    names = list(dict.fromkeys(r.probe for r in group if r.probe is not None))
    more = [f"{len(names) - FEW} more"] if len(names) > FEW else []
    return f" (for {words.joined([*names[:FEW], *more])})" if names else ""


def _contradicted(counts: dict[str, int], saying: Saying) -> Iterator[NoteShape]:
    known = saying.rules.probes()
    for probe, count in counts.items():
        if probe in known:
            often = words.amount(count, "time")
            said = f"{probe} gave another value {often} for a moment it had spoken of before: the first counts."
            yield _note("contradicted", probe, said, at=None, count=count)
