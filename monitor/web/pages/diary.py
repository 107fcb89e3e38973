"""The diary: what was done, written in two taps, and put right by new entries."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor import keeper, words
from monitor.alarms.holds import works_in
from monitor.deeds import SITE
from monitor.errors import RequestError
from monitor.readings import MINUTE
from monitor.reports.diary import SHOWN, diary_facts
from monitor.reports.entering import NOW, SQUEEZED, About, Offer, abouts, times
from monitor.reports.filling import NOT_SO, Filled, as_form, filled, write
from monitor.reports.saying import Saying
from monitor.reports.shapes import JottingShape
from monitor.reports.sheets import choosing, days
from monitor.rules import Rules
from monitor.science.squeeze import SAID
from monitor.web.desk import Desk
from monitor.web.showing import back, desk_of, form_of, render
from monitor.web.who import ask_who, remembered, who_of

MORE = 200
"""So many entries more each time that earlier ones are asked for."""
MOST = 5_000
LENGTHS = {"30": "half an hour", "60": "an hour", "120": "two hours", "240": "four hours"}
"""Minutes that work in a bin is said to last."""


@dataclass(frozen=True, slots=True)
class Kept:
    """The entry that a form corrects."""

    number: int
    sentence: str


def diary(request: Request) -> Response:
    """The list by day, and the buttons that begin an entry."""
    desk, asked = desk_of(request), request.query_params
    rules, at = desk.rules(), desk.now()
    bed = asked.get("bin") if asked.get("bin") in rules.bins else None
    shown = min(max(_number(asked.get("show")), SHOWN), MOST)
    facts = diary_facts(desk.store, rules, at, bed=bed, most=shown)
    saying = Saying(rules, at)
    bins, others = choosing(abouts(rules))
    return render(
        request,
        "diary.html",
        days=days(facts["entries"], saying),
        earlier=facts["earlier"],
        more=shown + MORE,
        bed=bed,
        bins=bins,
        others=others,
        works=_works(desk, saying),
        lengths=LENGTHS,
    )


def _works(desk: Desk, saying: Saying) -> list[tuple[str, str]]:
    """Each bin that somebody works in, and the sentence that says so."""
    found = works_in(desk.store.load().standing)
    return [
        (bed, f"{work.who} works in {saying.rules.bins[bed].name} until {saying.clock(work.until)}.")
        for bed, work in found.items()
        if bed in saying.rules.bins
    ]


def entry(request: Request) -> Response:
    """The form of one entry: chosen by its button, or to correct another."""
    desk, asked = desk_of(request), request.query_params
    form = {"about": asked.get("about", ""), "did": asked.get("did", ""), "when": NOW}
    kept = None
    if "number" in request.path_params:
        kept = _kept(desk, request.path_params["number"])
        old = as_form(kept, desk.rules())
        if asked.get("did"):
            old = (
                {name: value for name, value in old.items() if name in ("note", "own", "when", "part")}
                | form
                | {"when": old["when"]}
            )
        form = old
    if not _offer(desk.rules(), form):
        if kept is None:
            raise HTTPException(404, "Nothing of that kind can be written about that.")
        return _choose_anew(request, kept)
    return _form(request, form, kept=kept)


def _choose_anew(request: Request, kept: JottingShape) -> Response:
    bins, others = choosing(abouts(desk_of(request).rules()))
    return render(request, "anew.html", kept=kept, bins=bins, others=others)


def anew(request: Request) -> Response:
    """Chooses whom and what a corrected entry is about."""
    return _choose_anew(request, _kept(desk_of(request), request.path_params["number"]))


def _kept(desk: Desk, number: int) -> JottingShape:
    found = [
        e for e in diary_facts(desk.store, desk.rules(), desk.now(), most=MOST)["entries"] if e["number"] == number
    ]
    if not found:
        raise HTTPException(404, f"The diary has no entry {number}.")
    return found[0]


def _form(
    request: Request,
    form: Mapping[str, str],
    *,
    kept: JottingShape | None = None,
    sent: Filled | None = None,
    said: str = "",
) -> Response:
    desk = desk_of(request)
    rules, at = desk.rules(), desk.now()
    about, offer = _offer(rules, form) or (None, None)
    if about is None or offer is None:
        raise HTTPException(400, "Nothing of that kind can be written about that.")
    parts = [(one.name, one.shown) for one in abouts(rules) if one.bed == about.name and offer in one.offers]
    zones = [("", "the whole of it"), *parts] if parts else []
    return render(
        request,
        "entry.html",
        status=422 if sent or said else 200,
        about=about,
        offer=offer,
        form=form,
        kept=kept,
        zones=zones,
        feels=list(SAID.items()) if offer.word == SQUEEZED else [],
        times=[*times(at, rules.site.timezone)],
        twice=sent.twice if sent else (),
        wrong=dict(sent.wrong) if sent else {},
        said=said,
        people=list(rules.people) if len(rules.people) > 1 else [],
        who=form.get("who") or who_of(request) or "",
    )


def _offer(rules: Rules, form: Mapping[str, str]) -> tuple[About, Offer] | None:
    for about in abouts(rules):
        if about.name == form.get("about"):
            return next(((about, offer) for offer in about.offers if offer.word == form.get("did")), None)
    return None


def jot(request: Request) -> Response:
    """Leaves an entry and has a round take it up; a form with a mistake comes back as it was sent."""
    desk, form = desk_of(request), form_of(request)
    corrects = _number(form.get("corrects")) or None
    kept = _kept(desk, corrects) if corrects else None
    if not form.get("who"):
        form["who"] = who_of(request) or ""
    sent = filled(desk.rules(), form, desk.now())
    if sent.wrong:
        return _form(request, form, kept=kept, sent=sent)
    try:
        number = write(desk.store, desk.rules(), sent, corrects=corrects, at=desk.now())
    except RequestError as error:
        return _form(request, form, kept=kept, said=words.sentence(error))
    return _written(request, number, sent.who or "", kept)


def _written(request: Request, number: int, who: str, kept: JottingShape | None) -> Response:
    desk = desk_of(request)
    later = "" if desk.soon(number) else " It waits for the next round."
    entries = diary_facts(desk.store, desk.rules(), desk.now(), most=MOST)["entries"]
    said = next((e["sentence"] for e in entries if e["number"] == number), "It")
    instead = " The old entry stays, struck out." if kept else ""
    request.app.state.told.say(request.state.visit, f"Written: {said}.{instead}{later}")
    return remembered(request, back(request, f"/diary#entry-{number}"), who)


def not_so(request: Request) -> Response:
    """Takes an entry back that was never so: another one says it."""
    desk, form, number = desk_of(request), form_of(request), request.path_params["number"]
    kept = _kept(desk, number)
    who = who_of(request, form)
    if who is None:
        return ask_who(request, form)
    about = kept["subject"].partition(":")[2] or SITE
    sent = filled(desk.rules(), {"about": about, "did": "note", "note": NOT_SO, "who": who}, desk.now())
    if sent.wrong or sent.what is None:
        # what it is about has gone from the settings: the site itself says it
        sent = filled(desk.rules(), {"about": SITE, "did": "note", "note": NOT_SO, "who": who}, desk.now())
    try:
        wrote = write(desk.store, desk.rules(), sent, corrects=number, at=desk.now())
    except RequestError as error:
        raise HTTPException(409, words.sentence(error)) from None
    return _written(request, wrote, who, kept)


def work(request: Request) -> Response:
    """Begins, goes on with or ends work in a bin."""
    desk, form = desk_of(request), form_of(request)
    who = who_of(request, form)
    if who is None:
        return ask_who(request, form)
    minutes, at = _number(form.get("minutes")), desk.now()
    bed = form.get("bin", "")
    try:
        asked = keeper.work(
            desk.store, desk.rules(), bed=bed, length=minutes * MINUTE, who=who, note=form.get("note", ""), at=at
        )
    except RequestError as error:
        raise HTTPException(409, words.sentence(error)) from None
    desk.soon(asked.request)
    name = desk.rules().bins[bed].name
    long = words.duration(minutes * MINUTE) if minutes else ""
    said = (
        f"{who} works in {name} for {long}: until then nobody is told of it. Unplug the mat before hands go in."
        if minutes and desk.rules().mats_of(bed)
        else f"{who} works in {name} for {long}: until then nobody is told of it."
        if minutes
        else f"{name} is watched again. Is everything plugged in as it was?"
    )
    request.app.state.told.say(request.state.visit, said)
    return remembered(request, back(request, form.get("to", "/diary")), who)


def _number(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 10 else 0


ROUTES = [
    Route("/diary", diary),
    Route("/diary", jot, methods=["POST"]),
    Route("/diary/new", entry),
    Route("/diary/work", work, methods=["POST"]),
    Route("/diary/{number:int}", entry),
    Route("/diary/{number:int}/anew", anew),
    Route("/diary/{number:int}/not-so", not_so, methods=["POST"]),
]
