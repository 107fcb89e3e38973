"""What people ask for, applied at the start of a round: one handler for each `what`.

Pure, like `judge`, whose desk it is handed. A request that nobody knows (left by a newer command) changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Protocol

from monitor.alarms import cycle
from monitor.alarms.cycle import Alarm, Transition
from monitor.checks.findings import AlarmKey
from monitor.diary import Deed, Entry
from monitor.readings import Millis
from monitor.store.promises import Request


class Desk(Protocol):
    """What a handler may see and change of the round at work."""

    now: Millis
    alarms: dict[AlarmKey, Alarm]
    diary: list[Entry]

    def put(self, key: AlarmKey, after: Alarm | None, moves: Iterable[Transition]) -> None:
        """Keep what an alarm became."""


def apply(desk: Desk, requests: Sequence[Request]) -> None:
    """Each request in the order of asking, before anything new is looked at."""
    for request in requests:
        handler = HANDLERS.get(request.what)
        if handler is not None:
            handler(desk, request)


def _seen(desk: Desk, request: Request) -> Alarm | None:
    """Acknowledges; the alarm as it was, None when it stands no longer."""
    alarm = next((a for a in desk.alarms.values() if a.number == request.alarm), None)
    if alarm is not None:
        who, at, note = request.who, request.at, request.note
        desk.put(alarm.key, *cycle.acknowledge(alarm, who, at=at, round_at=desk.now, note=note))
    return alarm


def _done(desk: Desk, request: Request) -> None:
    """Acknowledges, and writes the diary."""
    alarm = _seen(desk, request)
    subject = str(alarm.key.subject) if alarm else ""
    entry = Entry(request.at, desk.now, request.who, Deed.DONE, subject, request.note, request.alarm)
    desk.diary.append(entry)


HANDLERS: Mapping[str, Callable[[Desk, Request], object]] = {"seen": _seen, "done": _done}
"""By `what`."""
