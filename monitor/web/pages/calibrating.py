"""Calibrating a probe step by step: two tubs of one's own bedding, squeezed handfuls, or melting ice."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor import words
from monitor.deeds import Said
from monitor.diary import Deed
from monitor.errors import BadValue, RequestError
from monitor.jotting import leave
from monitor.readings import Measures, Millis, Reading
from monitor.reports.calibrating import ICE_CAUTIONS, SOURCE, TUB_CAUTIONS
from monitor.reports.diary import diary_facts
from monitor.reports.entering import NOW, SQUEEZED, times
from monitor.reports.filling import Filled, filled, write
from monitor.reports.roster import placed, probes_facts
from monitor.reports.saying import Saying, millis
from monitor.reports.shapes import JottingShape
from monitor.reports.steps import (
    BEGUN,
    IN_ICE,
    LASTS,
    MOST_TUBS,
    TubSoFar,
    dry,
    in_ice_since,
    in_it,
    outcome_in_ice,
    outcome_of_tubs,
    sends,
    sent_there,
    so_far,
    wet,
)
from monitor.rules import Bin, Probe
from monitor.science.squeeze import SAID
from monitor.science.tubs import Weighed
from monitor.web.desk import Desk
from monitor.web.pages.probes import probe_of, where
from monitor.web.showing import back, desk_of, form_of, render
from monitor.web.who import ask_who, remembered, who_of

HEAVIEST = 100_000.0
"""Grams beyond which a weight is a slip of the pen."""
Wrong = Mapping[str, str]


def tubs(request: Request) -> Response:
    """The steps with two tubs and more, as far as they have been walked."""
    return _tubs(request, {}, {})


def _tubs(request: Request, wrong: Wrong, form: Mapping[str, str]) -> Response:
    probe, desk = _for(request, Measures.MOISTURE), desk_of(request)
    saying, found = Saying(desk.rules(), desk.now()), _found(desk, probe)
    return render(
        request,
        "tubs.html",
        status=422 if wrong else 200,
        probe=probe,
        bed=_bed(desk, probe),
        tubs=[(tub, _sent(desk, probe, tub.since), _clock(tub.since, saying)) for tub in found],
        outcome=outcome_of_tubs(found, probe, saying),
        another=len(found) + 1 if len(found) < MOST_TUBS and all(tub.whole for tub in found) else 0,
        cautions=TUB_CAUTIONS,
        source=SOURCE,
        wrong=wrong,
        form=form,
    )


def _for(request: Request, measures: Measures) -> Probe:
    probe = probe_of(request)
    if probe.measures is not measures:
        raise HTTPException(404, f"{probe.id} measures {probe.measures}: that is calibrated in another way.")
    return probe


def _found(desk: Desk, probe: Probe) -> tuple[TubSoFar, ...]:
    return so_far(_notes(desk), probe.id, desk.now())


def _notes(desk: Desk) -> list[JottingShape]:
    return diary_facts(desk.store, desk.rules(), desk.now(), since=desk.now() - LASTS)["entries"]


def _bed(desk: Desk, probe: Probe) -> Bin | None:
    """The bin that a probe stands in."""
    here = (p.bed for p in placed(desk.rules(), desk.now()) if p.probe.id == probe.id)
    return next((bed for bed in here if bed is not None), None)


def _sent(desk: Desk, probe: Probe, since: Millis | None) -> object:
    return None if since is None else sent_there(_since(desk, probe, since))


def _since(desk: Desk, probe: Probe, since: Millis) -> list[Reading]:
    return desk.store.window(probe.id, since, desk.now() + 1)


def _clock(at: Millis | None, saying: Saying) -> str:
    return "" if at is None else saying.clock(at)


def tub_step(request: Request) -> Response:
    """Writes one step into the diary, or says beside the field what is wrong with it."""
    probe, form = _for(request, Measures.MOISTURE), form_of(request)
    desk, wrong = desk_of(request), dict[str, str]()
    number = int(form["tub"]) if form.get("tub", "") in {str(n) for n in range(1, MOST_TUBS + 1)} else 0
    step = STEPS.get(form.get("what", ""))
    if step is None or (number == 0 and form["what"] != "anew"):
        raise HTTPException(400, "This is no step that the page knows.")
    tub = next((t for t in _found(desk, probe) if t.number == number), TubSoFar(number))
    text = step(desk, probe, tub, form, wrong)
    if wrong:
        return _tubs(request, wrong, form)
    return _kept(
        request,
        form,
        probe,
        text,
        f"/probes/{probe.id}/tubs#tub-{number}" if number else f"/probes/{probe.id}/tubs",
    )


def _in(_desk: Desk, _probe: Probe, tub: TubSoFar, _form: Mapping[str, str], _wrong: dict[str, str]) -> str:
    return in_it(tub.number)


def _take(desk: Desk, probe: Probe, tub: TubSoFar, _form: Mapping[str, str], wrong: dict[str, str]) -> str:
    sent = sent_there(_since(desk, probe, tub.since)) if tub.since is not None else None
    if sent is None or sent.counts is None:
        wrong[f"take-{tub.number}"] = sent.why_not if sent else "Push the probe into the tub first."
        return ""
    return sends(tub.number, sent.counts)


def _wet(_desk: Desk, _probe: Probe, tub: TubSoFar, form: Mapping[str, str], wrong: dict[str, str]) -> str:
    n = tub.number
    heavy = _grams(form.get("wet", ""), f"wet-{n}", wrong)
    dish = _grams(form.get("dish", "") or "0", f"dish-{n}", wrong)
    step = _grams(form.get("step", "") or "1", f"step-{n}", wrong)
    if not wrong and heavy <= dish:
        wrong[f"wet-{n}"] = f"The dish alone weighs {dish:g} g: weigh the dish with the wet bedding in it."
    if not wrong and step <= 0:
        wrong[f"step-{n}"] = "The steps of the scales are more than nothing: 1 g, or 0.1 g."
    return "" if wrong else wet(n, heavy, dish=dish, step=step)


def _dry(_desk: Desk, _probe: Probe, tub: TubSoFar, form: Mapping[str, str], wrong: dict[str, str]) -> str:
    light = _grams(form.get("dry", ""), f"dry-{tub.number}", wrong)
    if wrong:
        return ""
    if tub.wet is None:
        wrong[f"dry-{tub.number}"] = "Weigh it wet first."
        return ""
    try:
        Weighed(wet=tub.wet, dry=light, dish=tub.dish, step=tub.step)
    except BadValue as error:
        wrong[f"dry-{tub.number}"] = words.sentence(error)
    return dry(tub.number, light)


def _anew(*_: object) -> str:
    return BEGUN


STEPS: Mapping[str, Callable[[Desk, Probe, TubSoFar, Mapping[str, str], dict[str, str]], str]] = {
    "in": _in,
    "take": _take,
    "wet": _wet,
    "dry": _dry,
    "anew": _anew,
}


def _grams(text: str, name: str, wrong: dict[str, str]) -> float:
    try:
        found = float(text.strip().removesuffix("g").strip().replace(",", "."))
    except ValueError:
        found = math.nan
    if not 0 <= found <= HEAVIEST:
        wrong[name] = (
            "Write the weight as a number of grams, such as 312." if text.strip() else "Write the weight in grams."
        )
        return math.nan
    return found


def _kept(request: Request, form: Mapping[str, str], probe: Probe, text: str, to: str) -> Response:
    """A step as a note about the probe, and on to where it shows."""
    who = who_of(request, form)
    if who is None:
        return ask_who(request, form)
    desk = desk_of(request)
    what = Said(f"probe:{probe.id}", Deed.NOTE, None, "", text)
    jotted = leave(desk.store, desk.rules(), what=what, who=who, when=None, corrects=None, at=desk.now())
    desk.soon(jotted.request)
    return remembered(request, back(request, to), who)


def ice(request: Request) -> Response:
    """Melting ice: what a thermometer reads in it, and the line that follows."""
    probe, desk = _for(request, Measures.TEMPERATURE), desk_of(request)
    saying = Saying(desk.rules(), desk.now())
    since = in_ice_since(_notes(desk), probe.id, desk.now())
    readings = [] if since is None else _since(desk, probe, since)
    return render(
        request,
        "ice.html",
        probe=probe,
        bed=_bed(desk, probe),
        since=_clock(since, saying),
        count=len(readings),
        outcome=None if since is None else outcome_in_ice(readings, probe, saying),
        cautions=ICE_CAUTIONS,
    )


def ice_step(request: Request) -> Response:
    """It hangs in the ice now, or it is begun anew."""
    probe, form = _for(request, Measures.TEMPERATURE), form_of(request)
    text = {"in": IN_ICE, "anew": BEGUN}.get(form.get("what", ""))
    if text is None:
        raise HTTPException(400, "This is no step that the page knows.")
    return _kept(request, form, probe, text, f"/probes/{probe.id}/ice")


def handfuls(request: Request) -> Response:
    """Squeezed handfuls beside a moisture probe, and what they come to."""
    return _handfuls(request, {}, None)


def _handfuls(request: Request, form: Mapping[str, str], sent: Filled | None) -> Response:
    probe, desk = _for(request, Measures.MOISTURE), desk_of(request)
    rules, at = desk.rules(), desk.now()
    stands = next((p for p in placed(rules, at) if p.probe.id == probe.id and p.bed is not None), None)
    if stands is None or stands.bed is None:
        raise HTTPException(404, f"{probe.id} stands in no bin, so no handful can be squeezed beside it.")
    row = next(
        r for r in probes_facts(desk.store, rules, at, bed=stands.bed.id)["probes"] if r["probe"] == probe.id
    )
    mine = {f"zone:{stands.where}", f"bin:{stands.bed.id}"}
    squeezed = [
        e for e in _notes(desk) if e["deed"] == Deed.SQUEEZED and e["subject"] in mine and not e["corrected_by"]
    ]
    saying = Saying(rules, at)
    return render(
        request,
        "handfuls.html",
        status=422 if sent else 200,
        probe=probe,
        row=row,
        feels=list(SAID.items()),
        squeezed=[(saying.clock(millis(e["at"])), e["sentence"]) for e in reversed(squeezed)],
        times=[one for one in times(at, rules.site.timezone) if one.key in (NOW, "hour")],
        form=form,
        wrong=dict(sent.wrong) if sent else {},
        people=list(rules.people) if len(rules.people) > 1 else [],
        who=form.get("who") or who_of(request) or "",
        where=where(row, rules),
    )


def squeeze(request: Request) -> Response:
    """A handful beside the probe: a reading of its own from the next round on."""
    probe, form, desk = _for(request, Measures.MOISTURE), form_of(request), desk_of(request)
    stands = next((p for p in placed(desk.rules(), desk.now()) if p.probe.id == probe.id), None)
    form["who"] = form.get("who") or who_of(request) or ""
    sent = filled(
        desk.rules(), form | {"about": stands.where if stands else "", "part": "", "did": SQUEEZED}, desk.now()
    )
    if sent.wrong:
        return _handfuls(request, form, sent)
    try:
        number = write(desk.store, desk.rules(), sent, corrects=None, at=desk.now())
    except RequestError as error:
        raise HTTPException(409, words.sentence(error)) from None
    desk.soon(number)
    request.app.state.told.say(request.state.visit, "Kept. Squeeze a drier or a wetter handful another day.")
    return remembered(request, back(request, f"/probes/{probe.id}/handfuls"), sent.who or "")


ROUTES = [
    Route("/probes/{probe}/tubs", tubs),
    Route("/probes/{probe}/tubs", tub_step, methods=["POST"]),
    Route("/probes/{probe}/ice", ice),
    Route("/probes/{probe}/ice", ice_step, methods=["POST"]),
    Route("/probes/{probe}/handfuls", handfuls),
    Route("/probes/{probe}/handfuls", squeeze, methods=["POST"]),
]
