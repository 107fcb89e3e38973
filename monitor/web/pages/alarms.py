"""One alarm: what was measured, by which limit, how it was reckoned, what to do with which cautions, and who was told."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor import words
from monitor.advice.cautions import sourced
from monitor.alarms.cycle import Alarm, State
from monitor.alarms.quiet import longest_shelf
from monitor.keeper import Asked
from monitor.notify.links import Link
from monitor.readings import HOUR
from monitor.reports.saying import Saying, limit_words, millis, value_words
from monitor.reports.shapes import EvidenceShape, OrderShape, ReadingShape, StepShape, WhyShape
from monitor.reports.text import told_text
from monitor.reports.why import why_facts
from monitor.verdicts import Called
from monitor.web.desk import Desk
from monitor.web.doors import BY, Doors, seal_of
from monitor.web.pages.answers import CALLS, after, given
from monitor.web.showing import desk_of, form_of, render

OVER = "That link opens nothing any more: each can be used once, and for two days."
LENGTHS = (1, 2, 4, 8, 24, 72, 168)
"""Hours for which something may be put aside, as far as its priority allows."""


@dataclass(frozen=True, slots=True)
class Moment:
    """When, what, and the lines behind it."""

    when: str
    said: str
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answers:
    """What may be answered: nothing of it when the alarm is over."""

    seen: bool = False
    done: bool = False
    lengths: tuple[tuple[int, str], ...] = ()
    unshelve: bool = False


def alarm(request: Request) -> Response:
    """Why. Answers 404 for a number that no alarm ever had. A notice's link opens it without a passphrase."""
    desk, number = desk_of(request), int(request.path_params["number"])
    link = _link(request)
    action = f"/alarms/{number}/answer?{BY}={seal_of(request.scope)}" if link else "/answer"
    person = link.person if link else ""
    return render(request, "alarm.html", action=action, person=person, **story(desk, number))


def answer(request: Request) -> Response:
    """What a notice's link is for, once: the answer of the person who was told. Answers 403 for one that opens nothing."""
    form, link = form_of(request), _link(request)
    if link is None:
        raise HTTPException(403, OVER)
    desk, doors, asked = desk_of(request), request.app.state.doors, list[Asked | Called]()
    mine = dict(form) | {"alarms": str(link.alarm), "notice": str(link.notice)}
    if not doors.once(link, lambda: asked.extend(given(desk, mine, link.person))):
        raise HTTPException(403, OVER)
    return render(request, "answered.html", sentence=after(desk, asked))


def _link(request: Request) -> Link | None:
    doors: Doors = request.app.state.doors
    return doors.link(seal_of(request.scope), int(request.path_params["number"]))


def story(desk: Desk, number: int) -> dict[str, Any]:
    """What the page of one alarm shows. Raises HTTPException, 404, for a number that no alarm ever had."""
    rules, at = desk.rules(), desk.now()
    facts = why_facts(desk.store, rules, number, at, by_command=False)
    if facts is None:
        raise HTTPException(404, f"No alarm has had the number {number} so far.")
    saying = Saying(rules, at)
    return {
        "facts": facts,
        "place": rules.places[facts["place"]].name if facts["place"] in rules.places else "",
        "answers": answers_to(desk.store.heard_of(number)),
        "measured": [_measured(one, saying) for one in facts["evidence"]],
        "limits": list(_limits(facts, saying)),
        "readings": [_reading(one, saying) for one in facts["readings"]],
        "orders": [Moment(_when(o["at"], saying), _imperative(o), (o["why"],)) for o in facts["advice"]],
        "behind": list(dict.fromkeys(line for o in facts["advice"] for line in o["more"])),
        "cautions": [sourced(c) for c in dict.fromkeys(c for o in facts["advice"] for c in o["cautions"])],
        "steps": [_step(one, saying) for one in facts["steps"]],
        "told": [[line.strip() for line in told_text(one, saying)] for one in facts["told"]],
        "notice": max((one["notice"] for one in facts["told"] if one["notice"] is not None), default=None),
        "called": _called(facts),
        "diary": [
            Moment(_when(e["at"], saying), f"{e['who']}, {e['deed']}: {e['text'] or '–'}") for e in facts["diary"]
        ],
    }


def answers_to(standing: Alarm | None) -> Answers:
    """Which buttons make sense for an alarm as it stands."""
    if standing is None:
        return Answers()
    over = standing.state is State.RETURNED
    return Answers(
        seen=standing.state is not State.ACKNOWLEDGED,
        done=True,
        lengths=() if over or standing.shelf else tuple(_lengths(longest_shelf(standing))),
        unshelve=standing.shelf is not None,
    )


def _lengths(longest: int) -> Iterator[tuple[int, str]]:
    return ((hours, words.duration(hours * HOUR)) for hours in LENGTHS if hours * HOUR <= longest)


def _called(facts: WhyShape) -> str:
    """What somebody called its notices last; empty when nobody did."""
    said = [one for one in facts["diary"] if one["deed"] in CALLS]
    return f"Called {said[-1]['deed']} by {said[-1]['who']}." if said else ""


def _measured(one: EvidenceShape, saying: Saying) -> Moment:
    reckoned = (f"Reckoned{_in_celsius(one, saying)}: {one['arithmetic'].rstrip('.')}.",)
    return Moment(
        _when(one["at"], saying), f"{one['event']}: {one['sentence']}", reckoned if one["arithmetic"] else ()
    )


def _in_celsius(one: EvidenceShape, saying: Saying) -> str:
    canonical = one["unit"] == "°C" and one["limit"] is not None
    return " in °C" if saying.units == "us" and canonical else ""


def _limits(facts: WhyShape, saying: Saying) -> Iterator[str]:
    """Each limit that had a say, with whose number it is."""
    found = {(e["limit"], e["unit"], e["source"], e["mark"]): None for e in facts["evidence"] if e["source"]}
    for limit, unit, source, mark in found:
        shown = f" of {limit_words(limit, unit, saying.units)}" if limit is not None else ""
        yield f"The limit{shown} comes from: {source} [{mark}]."


def _reading(one: ReadingShape, saying: Saying) -> Sequence[str]:
    believed = "" if one["believed"] else "not believed"
    shown = value_words(one["value"], one["unit"], saying.units)
    return one["probe"], _when(one["at"], saying), shown, believed


def _imperative(order: OrderShape) -> str:
    return f"{order['words'][:1].upper()}{order['words'][1:]}."


def _step(step: StepShape, saying: Saying) -> Moment:
    until = f" Until {_when(step['until'], saying)}." if step["until"] else ""
    note = f" “{step['note']}”" if step["note"] else ""
    return Moment(_when(step["at"], saying), f"{step['event']}: {step['cause']}{until}{note}")


def _when(instant: str, saying: Saying) -> str:
    return saying.clock(millis(instant))


ROUTES = [
    Route("/alarms/{number:int}", alarm),
    Route("/alarms/{number:int}/answer", answer, methods=["POST"]),
]
