"""The buttons beside what needs doing: seen, done, later, and taken up again; and what a notice is called afterwards."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor import keeper, verdicts
from monitor.errors import RequestError
from monitor.keeper import Asked
from monitor.readings import HOUR
from monitor.reports.asking import answered_text
from monitor.reports.verdicts import called_text
from monitor.verdicts import Called
from monitor.web.desk import Desk
from monitor.web.showing import back, desk_of, form_of
from monitor.web.who import ask_who, remembered, who_of

WAYS = ("seen", "done", "later", "unshelve")
CALLS = ("useful", "needless")
LONGEST_HOURS = 24 * 31


def answer(request: Request) -> Response:
    """Does what a button says, has a round take it up, and goes back to where the button stood."""
    form = form_of(request)
    who = who_of(request, form)
    if who is None:
        return ask_who(request, form)
    desk = desk_of(request)
    asked = given(desk, form, who)
    said = after(desk, asked)
    request.app.state.told.say(request.state.visit, said)
    return remembered(request, back(request, form.get("to", "/")), who)


def given(desk: Desk, form: Mapping[str, str], who: str) -> Sequence[Asked | Called]:
    """Leaves what the form asks for. Raises HTTPException: 400 for what no button of ours says, 409 for what is over."""
    what, alarms = form.get("what", ""), _numbers(form.get("alarms", ""))
    if what in CALLS:
        return [_called(desk, form, who)]
    if what not in WAYS or not alarms:
        raise HTTPException(400, "This is no answer that the page knows.")
    standing = [number for number in alarms if what == "unshelve" or desk.store.heard_of(number) is not None]
    if not standing:
        raise HTTPException(409, "That is over by now, so there is nothing to answer.")
    try:
        return [_one(desk, what if n == standing[0] else _beside(what), n, form=form, who=who) for n in standing]
    except RequestError as error:
        raise HTTPException(409, f"{str(error)[:1].upper()}{str(error)[1:]}.") from None


def _called(desk: Desk, form: Mapping[str, str], who: str) -> Called:
    numbers = _numbers(form.get("notice", ""))
    if len(numbers) != 1:
        raise HTTPException(400, "This is no answer that the page knows.")
    useful, note = form["what"] == "useful", form.get("note", "").strip()
    try:
        return verdicts.call(
            desk.store, desk.rules(), notice=numbers[0], useful=useful, who=who, note=note, at=desk.now()
        )
    except RequestError as error:
        raise HTTPException(409, f"{str(error)[:1].upper()}{str(error)[1:]}.") from None


def _beside(what: str) -> str:
    """One act that answers several alarms was done once: the diary tells of it once."""
    return "seen" if what == "done" else what


def _one(desk: Desk, what: str, alarm: int, *, form: Mapping[str, str], who: str) -> Asked:
    store, rules, at, note = desk.store, desk.rules(), desk.now(), form.get("note", "").strip()
    if what == "later":
        until = at + _hours(form["hours"]) * HOUR if form.get("hours") else None
        return keeper.later(store, rules, alarm=alarm, until=until, who=who, note=note, at=at)
    if what == "unshelve":
        return keeper.unshelve(store, rules, alarm=alarm, who=who, note=note, at=at)
    return keeper.ask(store, rules, what=what, alarm=alarm, who=who, note=note, at=at)


def after(desk: Desk, asked: Sequence[Asked | Called]) -> str:
    """Waits a little for the round that takes it up, and says what became of it."""
    taken_up = desk.soon(asked[-1].request)
    one = asked[0]
    if isinstance(one, Called):
        return f"{called_text(one)}."
    return answered_text(one, desk.rules(), taken_up=taken_up)


def _numbers(text: str) -> list[int]:
    parts = text.split(",")
    return [int(p) for p in dict.fromkeys(parts)] if all(p.isascii() and p.isdigit() for p in parts) else []


def _hours(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 < int(text) <= LONGEST_HOURS):
        raise HTTPException(400, "This is no answer that the page knows.")
    return int(text)


ROUTES = [Route("/answer", answer, methods=["POST"])]
