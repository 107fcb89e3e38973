"""What becomes of kept times when the clock they were told by turns out to have been off by one span.

One line for each kind of document: which of its times are stamps, which lie ahead of them. A standing document
that holds times needs a line in STANDING; one without is left as it is.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from monitor.advice.acts import Advice
from monitor.alarms.cycle import Alarm, Transition
from monitor.alarms.holds import Shelf, Work, shelf_of, shelf_text, work_of, work_text
from monitor.bed import kept
from monitor.bed.outside import KIND as OUTDOORS
from monitor.checks.ahead import KIND as AHEAD
from monitor.checks.ahead import outlook_of, outlook_text
from monitor.checks.delays import PhaseName
from monitor.checks.findings import PastEpisode
from monitor.checks.mat_years import KIND as MAT_YEAR
from monitor.checks.mat_years import year_of, year_text
from monitor.checks.memory import SHORTEST_SILENCE
from monitor.checks.squeezes import squeeze_of, squeeze_text
from monitor.diary import Entry
from monitor.intake.publishers import KIND as PUBLISHER
from monitor.notify.notices import Decision, Notice, Untold
from monitor.readings import Millis
from monitor.store.promises import TakenUp

Document = TypeVar("Document")
Hold = TypeVar("Hold", Shelf, Work)


@dataclass(frozen=True, slots=True)
class Move:
    """Everything from `begin` on is `by` off; truly it is `now`. Times before `begin` were told by another clock."""

    by: Millis
    begin: Millis
    now: Millis

    def stamp(self, at: Millis) -> Millis:
        """Where a moment that has been lies: never later than now."""
        return min(self.ahead(at, at), self.now)

    def ahead(self, at: Millis, made: Millis) -> Millis:
        """Where a moment lies that was reckoned from the stamp `made`."""
        return at + self.by if made >= self.begin else at


def moved(document: Document, by: Move) -> Document:
    """The same document at its right times. Raises KeyError for a kind that has no line here."""
    found: Document = _DOCUMENTS[type(document)](document, by)
    return found


def _transition(one: Transition, by: Move) -> Transition:
    until = one.until and _reckoned(one.until, one.at, by)
    return replace(one, at=by.stamp(one.at), round_at=by.stamp(one.round_at), until=until)


def _reckoned(until: Millis, since: Millis, by: Move) -> Millis:
    """An end that was reckoned from its beginning keeps its distance from it."""
    return by.ahead(until, since)


def _held(hold: Hold, by: Move) -> Hold:
    return replace(hold, since=by.stamp(hold.since), until=_reckoned(hold.until, hold.since, by))


def _alarm(one: Alarm, by: Move) -> Alarm:
    since, raised, changed = by.stamp(one.since), by.stamp(one.raised_at), by.stamp(one.changed_at)
    return replace(
        one,
        since=since,
        raised_at=raised,
        changed_at=changed,
        shelf=one.shelf and _held(one.shelf, by),
        work=one.work and _held(one.work, by),
    )


def _untold(one: Untold, by: Move) -> Untold:
    began = None if one.began is None else by.stamp(one.began)
    return replace(one, transition=_transition(one.transition, by), began=began)


def _past(one: PastEpisode, by: Move) -> PastEpisode:
    return replace(one, began=by.stamp(one.began), ended=by.stamp(one.ended))


def _advice(one: Advice, by: Move) -> Advice:
    orders = tuple(replace(o, by=None if o.by is None else by.ahead(o.by, one.at)) for o in one.orders)
    return replace(one, at=by.stamp(one.at), orders=orders, valid_until=by.ahead(one.valid_until, one.at))


def _decision(one: Decision, by: Move) -> Decision:
    return replace(one, at=by.stamp(one.at), until=None if one.until is None else by.ahead(one.until, one.at))


def _notice(one: Notice, by: Move) -> Notice:
    """Its lines stay what they are: they are what somebody has read."""
    return replace(one, at=by.stamp(one.at))


def _entry(one: Entry, by: Move) -> Entry:
    return replace(one, at=by.stamp(one.at), written_at=by.stamp(one.written_at))


def _taken_up(one: TakenUp, by: Move) -> TakenUp:
    return replace(one, at=by.stamp(one.at))


_DOCUMENTS: Mapping[type, Callable[[Any, Move], Any]] = {
    Transition: _transition,
    Alarm: _alarm,
    Untold: _untold,
    PastEpisode: _past,
    Advice: _advice,
    Decision: _decision,
    Notice: _notice,
    Entry: _entry,
    TakenUp: _taken_up,
}


def _condition(body: str, by: Move, away: Millis) -> str | None:
    """A phase. No delay is counted across a while in which nothing was known: how long that was is known only now.
    One that had begun before is found anew in the stored readings.
    """
    name, since, began = json.loads(body)
    if away >= SHORTEST_SILENCE and since < by.begin:
        if name == PhaseName.PENDING:
            return None
        name = PhaseName.PRESENT
    return json.dumps([name, by.stamp(since), by.stamp(began)])


def _probe(body: str, by: Move, _away: Millis) -> str | None:
    return json.dumps(by.stamp(json.loads(body)))


def _read_since(body: str, by: Move, _away: Millis) -> str | None:
    print_, since = json.loads(body)
    return json.dumps([print_, by.stamp(since)])


def _squeeze(body: str, by: Move, _away: Millis) -> str | None:
    one = squeeze_of(body)
    return squeeze_text(replace(one, at=by.stamp(one.at)))


def _shelf(body: str, by: Move, _away: Millis) -> str | None:
    return shelf_text(_held(shelf_of(body), by))


def _work(body: str, by: Move, _away: Millis) -> str | None:
    return work_text(_held(work_of("", body), by))


def _said(body: str, by: Move, _away: Millis) -> str | None:
    return json.dumps({act: [by.stamp(at), *more] for act, (at, *more) in json.loads(body).items()})


def _habit(body: str, by: Move, _away: Millis) -> str | None:
    """Its nights stay what they are: days by the clock that was believed then."""
    habit = json.loads(body)
    return json.dumps({**habit, "told": [[who, by.stamp(at)] for who, at in habit["told"]]}, ensure_ascii=False)


def _call(body: str, by: Move, _away: Millis) -> str | None:
    alarm, asked, answered = json.loads(body)
    return json.dumps([alarm, [[who, by.stamp(at)] for who, at in asked], answered])


def _ahead(body: str, by: Move, _away: Millis) -> str | None:
    one = outlook_of(body)
    return outlook_text(replace(one, at=by.stamp(one.at)))


def _mat_year(body: str, by: Move, _away: Millis) -> str | None:
    one = year_of(body)
    used = None if one.used_at is None else by.stamp(one.used_at)
    return year_text(replace(one, at=by.stamp(one.at), used_at=used))


def _bed(body: str, by: Move, _away: Millis) -> str | None:
    return kept.bed_moved(body, by.stamp, by.begin)


def _watch(body: str, by: Move, _away: Millis) -> str | None:
    return kept.watch_moved(body, by.stamp, by.begin)


def _room(body: str, by: Move, _away: Millis) -> str | None:
    return kept.room_moved(body, by.stamp, by.begin)


def _bed_hour(body: str, by: Move, _away: Millis) -> str | None:
    return body if kept.bed_hour_stays(body, by.begin) else None


def _room_hour(body: str, by: Move, _away: Millis) -> str | None:
    return body if kept.room_hour_stays(body, by.begin) else None


def _outdoors(body: str, by: Move, _away: Millis) -> str | None:
    """A forecast, or why none comes: when it came is ours, its hours are not."""
    found = json.loads(body)
    mine = "received" if "received" in found else "since"
    return json.dumps(found | {mine: by.stamp(found[mine])}, separators=(",", ":"))


def _publisher(body: str, by: Move, _away: Millis) -> str | None:
    """A publisher as it was heard."""
    found = json.loads(body)
    return json.dumps(found | {"heard": None if found["heard"] is None else by.stamp(found["heard"])})


STANDING: Mapping[str, Callable[[str, Move, Millis], str | None]] = {
    "condition": _condition,
    "probe": _probe,
    "shelf": _shelf,
    "work": _work,
    "last word": _probe,
    "squeeze": _squeeze,
    "read since": _read_since,
    "evening": _probe,
    "morning": _probe,
    "life": _probe,
    "week": _probe,
    "said": _said,
    "habit": _habit,
    "call": _call,
    AHEAD: _ahead,
    MAT_YEAR: _mat_year,
    kept.BED: _bed,
    kept.WATCH: _watch,
    kept.ROOM: _room,
    kept.BED_HOUR: _bed_hour,
    kept.ROOM_HOUR: _room_hour,
    OUTDOORS: _outdoors,
    PUBLISHER: _publisher,
}
"""By kind: the body at its right times, None when it is to go. `away` is how long nothing was heard before `begin`."""
