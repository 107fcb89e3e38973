"""What people ask for, applied at the start of a round: one handler for each `what`.

Pure, like `judge`, whose desk it is handed. A request that nobody knows (left by a newer command), or whose body is not
what its `what` needs, changes nothing.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import Any, Protocol

from monitor import words
from monitor.advice.acts import Act, Advice
from monitor.alarms import cycle, quiet
from monitor.alarms.cycle import Alarm, Transition
from monitor.alarms.holds import Shelf, Work, shelf_key
from monitor.alarms.quiet import Ended
from monitor.checks.findings import AlarmKey, Kind, Subject
from monitor.checks.squeezes import STATISTIC, Squeeze
from monitor.diary import Deed, Entry
from monitor.errors import BadValue
from monitor.readings import Millis
from monitor.reckoning import CLOCK_RIGHT
from monitor.science.squeeze import Feel
from monitor.store.promises import Request

TAKEN_BACK = "the squeeze was taken back"
"""Why an alarm ends that rested on a handful which was never squeezed."""


class Desk(Protocol):
    """What a handler may see and change of the round at work."""

    now: Millis
    alarms: dict[AlarmKey, Alarm]
    diary: list[Entry]
    advice: dict[str, Advice]
    shelves: dict[str, Shelf]
    works: dict[str, Work]
    squeezes: dict[str, Squeeze]
    last_word: dict[str, Millis]
    """When it was last said of a bin that it is worked in, or is no longer."""
    unshelved: dict[str, Ended]
    returned: dict[str, Ended]

    @property
    def bins(self) -> Collection[str]:
        """The ids of the bins that the settings know."""

    def put(self, key: AlarmKey, after: Alarm | None, moves: Iterable[Transition]) -> None:
        """Keep what an alarm became."""


def apply(desk: Desk, requests: Sequence[Request]) -> None:
    """Each request in the order of asking, before anything new is looked at."""
    for request in requests:
        handler = HANDLERS.get(request.what)
        if handler is not None:
            handler(desk, request)


def _body(request: Request) -> dict[str, Any]:
    """What else belongs to a request; nothing when it is no JSON object."""
    try:
        found = json.loads(request.body)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _until(request: Request) -> Millis | None:
    """Up to when, by a length that counts from the asking: a clock that was off then and is put right moves both."""
    length = _body(request).get("for")
    return request.at + length if type(length) is int else None


def _of(desk: Desk, number: int) -> Alarm | None:
    return next((a for a in desk.alarms.values() if a.number == number), None)


def _seen(desk: Desk, request: Request) -> Alarm | None:
    """Acknowledges; the alarm as it was, None when it stands no longer."""
    alarm = _of(desk, request.alarm)
    if alarm is not None:
        who, at, note = request.who, request.at, request.note
        desk.put(alarm.key, *cycle.acknowledge(alarm, who, at=at, round_at=desk.now, note=note))
    return alarm


def _done(desk: Desk, request: Request) -> None:
    """Acknowledges, and writes the diary."""
    alarm = _seen(desk, request)
    subject = str(alarm.key.subject) if alarm else ""
    entry = Entry(
        request.at, desk.now, request.who, Deed.DONE, subject, request.note, request.alarm, number=request.id
    )
    desk.diary.append(entry)
    if alarm is not None:
        desk.diary.extend(_what_that_means(desk, request, alarm))


_MEANS = {
    Act.MAT_ON: (Deed.MAT_ON, Kind.MAT),
    Act.MAT_OFF: (Deed.MAT_OFF, Kind.MAT),
    Act.WATER: (Deed.WATERED, Kind.BIN),
    Act.DAMPEN: (Deed.WATERED, Kind.BIN),
}
"""What somebody has done who did what was advised, as far as later advice needs to know it."""


def _what_that_means(desk: Desk, request: Request, alarm: Alarm) -> Iterable[Entry]:
    """The entries that `done` stands for besides its own: which mat is on now, and what was watered."""
    advice = desk.advice.get(alarm.key.subject.place)
    for order in advice.orders if advice else ():
        if alarm.number in order.alarms and order.act in _MEANS:
            deed, kind = _MEANS[order.act]
            said = f"as alarm {alarm.number} asked"
            subject = str(Subject(kind, order.target, ""))
            yield Entry(request.at, desk.now, request.who, deed, subject, said, number=request.id)


def _shelve(desk: Desk, request: Request) -> None:
    """Puts a standing alarm aside until a time; nothing when that is over by now."""
    alarm, until = _of(desk, request.alarm), _until(request)
    if alarm is not None and until is not None and until > desk.now:
        shelf = quiet.put_aside(alarm, request.who, at=request.at, until=until, note=request.note)
        desk.shelves[shelf_key(alarm.key)] = shelf
        desk.unshelved.pop(shelf_key(alarm.key), None)


def _unshelve(desk: Desk, request: Request) -> None:
    """Takes off its shelf the alarm of that number, or what came after the one that was put there."""
    alarm = _of(desk, request.alarm)
    for key, shelf in list(desk.shelves.items()):
        if request.alarm == shelf.number or (alarm is not None and shelf_key(alarm.key) == key):
            del desk.shelves[key]
            ended = Ended(f"Taken off the shelf by {request.who}.", request.at, request.who, request.note)
            desk.unshelved[key] = ended


def _working(desk: Desk, request: Request) -> None:
    """Begins, goes on with or ends the work in a bin; both are written into the diary."""
    bed, until = _body(request).get("bin"), _until(request)
    if not isinstance(bed, str) or bed not in desk.bins or until is None:
        return
    if _body(request).get("dated") and request.at <= desk.last_word.get(bed, 0):
        return  # a message that was kept or came again: what was said since then holds
    desk.last_word[bed] = request.at
    before = desk.works.get(bed)
    if until > max(request.at, desk.now):
        work = quiet.begin_work(
            desk.alarms.values(), bed, request.who, at=request.at, until=until, note=request.note, before=before
        )
        desk.works[bed] = work
        desk.returned.pop(bed, None)
        long = f"for {words.duration(work.until - request.at)}"
        desk.diary.append(_entry(desk, request, Deed.WORKING, bed, long))
    elif before is not None:
        del desk.works[bed]
        desk.returned[bed] = Ended(f"{request.who} is done in {bed}.", request.at, request.who, request.note)
        desk.diary.append(_entry(desk, request, Deed.WORKED, bed, ""))


def _entry(desk: Desk, request: Request, deed: Deed, bed: str, text: str) -> Entry:
    said = "; ".join(filter(None, (text, request.note)))
    return Entry(request.at, desk.now, request.who, deed, f"bin:{bed}", said, number=request.id)


def _jot(desk: Desk, request: Request) -> None:
    """Writes the diary."""
    entry = entry_of(request)
    if entry is not None:
        bed = _speaks_no_longer(desk, request)
        if bed is not None:
            _ends_what_it_raised(desk, bed)
        desk.diary.append(entry)


def _speaks_no_longer(desk: Desk, request: Request) -> str | None:
    """What a corrected handful said of its bed is forgotten, unless somebody has squeezed another since: the bed's id then."""
    match _body(request).get("was"):
        case [str(name), int(at)] if (known := desk.squeezes.get(name)) is not None and known.at == at:
            del desk.squeezes[name]
            return name.partition(":")[2].partition(".")[0]
    return None


def _ends_what_it_raised(desk: Desk, bed: str) -> None:
    """The alarms of a bed that only a handful spoke for, which nobody squeezed: no other would ever end them."""
    for key, alarm in list(desk.alarms.items()):
        if key.subject.bed == bed and alarm.evidence.statistic == STATISTIC:
            desk.put(key, None, cycle.remove(alarm, TAKEN_BACK, round_at=desk.now))


def entry_of(request: Request) -> Entry | None:
    """The diary entry that a request asks for; None for one that a newer command wrote or that makes no sense."""
    try:
        return written(request)
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError):
        return None


def written(request: Request) -> Entry:
    """As `entry_of`. Raises for what makes no sense."""
    body: dict[str, Any] = json.loads(request.body)
    amount, corrects = body.get("amount"), body.get("corrects")
    if amount is not None and not 0 <= float(amount) < math.inf:
        raise BadValue(f"{amount} is no amount")
    return Entry(
        at=request.at - min(max(int(body.get("ago", 0)), 0), request.at),
        written_at=request.at,
        who=request.who,
        deed=Deed(body["deed"]),
        subject=str(body.get("subject", "")),
        text=request.note,
        amount=None if amount is None else float(amount),
        unit=str(body.get("unit", "")),
        number=request.id,
        corrects=None if corrects is None else int(corrects),
    )


def _squeeze(desk: Desk, request: Request) -> None:
    """Keeps what a squeezed handful did, and writes it into the diary; an older one than is known only the diary."""
    body = _body(request)
    name, feel, ago = body.get("of"), body.get("feel"), body.get("ago", 0)
    if not isinstance(name, str) or feel not in list(Feel) or type(ago) is not int or not 0 <= ago <= request.at:
        return
    one = Squeeze(request.at - ago, Feel(feel), request.who)
    _speaks_no_longer(desk, request)
    known = desk.squeezes.get(name)
    if known is None or known.at <= one.at:
        desk.squeezes[name] = one
    said = "; ".join(filter(None, (feel, request.note)))
    corrects = body.get("corrects") if type(body.get("corrects")) is int else None
    entry = Entry(one.at, desk.now, request.who, Deed.SQUEEZED, name, said, number=request.id, corrects=corrects)
    desk.diary.append(entry)


def _limits(desk: Desk, request: Request) -> None:
    """Writes into the diary which limits somebody accepted, and why; that they hold is told by the settings themselves."""
    body = _body(request)
    said, subject = body.get("said"), body.get("subject", "")
    if not isinstance(said, list) or not isinstance(subject, str):
        return
    text = "; ".join([*map(str, said), *filter(None, [request.note])])
    desk.diary.append(
        Entry(request.at, desk.now, request.who, Deed.LIMITS_CHANGED, subject, text, number=request.id)
    )


def _verdict(desk: Desk, request: Request) -> None:
    """Writes into the diary what a notice was called, once for each alarm it told of."""
    body = _body(request)
    useful, of = body.get("useful"), body.get("of")
    if not isinstance(useful, bool) or not isinstance(of, list):
        return
    for one in of:
        if not (
            isinstance(one, list)
            and len(one) == 3
            and type(one[0]) is int
            and all(isinstance(x, str) for x in one[1:])
        ):
            continue
        alarm, subject, condition = one
        said = "; ".join(filter(None, (f"{condition}: notice {body.get('notice', '')}", request.note)))
        deed = Deed.USEFUL if useful else Deed.NEEDLESS
        desk.diary.append(Entry(request.at, desk.now, request.who, deed, subject, said, alarm, number=request.id))


def _clock_right(_desk: Desk, _request: Request) -> None:
    """Changes nothing here: the clock was looked at before the round."""


HANDLERS: Mapping[str, Callable[[Desk, Request], object]] = {
    "seen": _seen,
    "done": _done,
    "diary": _jot,
    "shelve": _shelve,
    "later": _shelve,
    "unshelve": _unshelve,
    "working": _working,
    "squeeze": _squeeze,
    "limits": _limits,
    "verdict": _verdict,
    CLOCK_RIGHT: _clock_right,
}
"""By `what`. `shelve` and `later` carry `{"for": ms}`, `working` carries `{"bin": id, "for": ms}`, where 0 is done, and
`"dated": true` when the time of asking is not that of arriving; `squeeze` `{"of": "zone:fig.west", "feel": word, "ago": ms}`.
`diary` and `squeeze` carry `corrects`, a number, and `"was": ["zone:fig.west", ms]` where that was a squeezed handful."""
