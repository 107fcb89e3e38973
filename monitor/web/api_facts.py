"""What each address of `/api/` answers: the facts of the commands, and the three answers to an alarm."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from monitor import __version__, keeper, words
from monitor.errors import RequestError
from monitor.readings import DAY, MINUTE, Millis
from monitor.reports import alarm_shapes, post_shapes, shapes
from monitor.reports.asking import asked_facts
from monitor.reports.bed_shapes import LearnedShape
from monitor.reports.caring import CaresShape, care_facts
from monitor.reports.diary import diary_facts
from monitor.reports.facts import alarms_facts, now_facts
from monitor.reports.holding import holdings
from monitor.reports.journal import journal_facts
from monitor.reports.learned import learned_facts
from monitor.reports.post import notice_facts, notices_facts
from monitor.reports.probes import as_read
from monitor.reports.review import review_facts
from monitor.reports.roster import probes_facts
from monitor.reports.saying import Saying, instant
from monitor.reports.species import species_facts
from monitor.reports.versions import settings_facts
from monitor.reports.week import monday_of, week_facts, week_of
from monitor.reports.week_shapes import WeekShape
from monitor.reports.why import why_facts
from monitor.science.worms import names, species
from monitor.web import api_shapes
from monitor.web.describing import Described, Parameter
from monitor.web.desk import Desk
from monitor.web.problem import Refused

Given = Mapping[str, Any]
LONGEST_SPAN: Millis = 7 * DAY
"""Of readings at once: a week of one a minute is 10,080."""
LONGEST_REVIEW = 366

BIN = Parameter("bin", "query", "text", "Only of this bin.")
SINCE = Parameter("since", "query", "time", "From when on.")
NUMBER = Parameter("number", "path", "number", "Its number.")


# ── what is read ──────────────────────────────────────────────────────────────────────────────────────────────


def _here(desk: Desk, _given: Given) -> api_shapes.ApiShape:
    site = desk.rules().site
    return {
        "site": site.id,
        "name": site.name,
        "version": __version__,
        "at": instant(desk.now()),
        "description": "/api/description.json",
    }


@dataclass(frozen=True, slots=True)
class Address(Described):
    """One address, described, with what answers it: its facts, out of what was asked."""

    facts: Callable[[Desk, Given], Any] = _here


def _now(desk: Desk, _given: Given) -> shapes.NowShape:
    return now_facts(desk.store, desk.rules(), desk.now())


def _bin(desk: Desk, given: Given) -> shapes.BinShape:
    _known_bin(desk, given["bin"])
    return next(bed for bed in _now(desk, given)["bins"] if bed["id"] == given["bin"])


def _alarms(desk: Desk, _given: Given) -> shapes.AlarmsShape:
    return alarms_facts(desk.store, desk.rules(), desk.now())


def _journal(desk: Desk, given: Given) -> alarm_shapes.JournalShape:
    bed = _known_bin(desk, given.get("bin"))
    return journal_facts(desk.store, desk.rules(), desk.now(), since=given.get("since"), bed=bed)


def _review(desk: Desk, given: Given) -> alarm_shapes.ReviewShape:
    days = given.get("days", 30)
    if days > LONGEST_REVIEW or days != int(days):
        raise Refused(400, f"`days` is a whole number up to {LONGEST_REVIEW}.")
    return review_facts(desk.store, desk.rules(), desk.now(), days=int(days))


def _why(desk: Desk, given: Given) -> shapes.WhyShape:
    found = why_facts(desk.store, desk.rules(), given["number"], desk.now())
    if found is None:
        raise Refused(404, f"No alarm has had the number {given['number']} so far.")
    return found


def _notices(desk: Desk, given: Given) -> post_shapes.NoticesShape:
    days, person = given.get("days", 7.0), given.get("person")
    if person is not None and person not in desk.rules().people:
        raise Refused(404, "The settings know nobody of that name.")
    return notices_facts(desk.store, desk.now(), days=min(days, 100_000), person=person)


def _notice(desk: Desk, given: Given) -> post_shapes.NoticesShape:
    found = notice_facts(desk.store, given["number"])
    if found is None:
        raise Refused(404, f"There is no notice {given['number']}.")
    return found


def _probes(desk: Desk, given: Given) -> shapes.ProbesShape:
    return probes_facts(desk.store, desk.rules(), desk.now(), bed=_known_bin(desk, given.get("bin")))


def _week(desk: Desk, given: Given) -> WeekShape:
    """The week of a day, else the last that is over."""
    day = given.get("of")
    first = None if day is None else monday_of(day)
    if first is not None and week_of(first, desk.rules().site.timezone, desk.now()).start > desk.now():
        raise Refused(400, "That week has not begun yet.")
    return week_facts(desk.store, desk.rules(), desk.now(), first=first)


def _readings(desk: Desk, given: Given) -> api_shapes.ReadingsShape:
    probe = desk.rules().probes().get(given["probe"])
    if probe is None:
        raise Refused(404, "The settings know no probe of that name.")
    until = given.get("until", desk.now())
    since = given.get("since", until - DAY)
    if not 0 <= until - since <= LONGEST_SPAN:
        raise Refused(400, "`since` comes before `until`, by seven days at most.")
    found = [(r, as_read(probe, r)) for r in desk.store.window(probe.id, since, until)]
    return {
        "probe": probe.id,
        "measures": str(probe.measures),
        "since": instant(since),
        "until": instant(until),
        "readings": [
            {
                "probe": probe.id,
                "at": instant(reading.at),
                "value": value,
                "unit": unit,
                "believed": reading.quality.trusted,
            }
            for reading, (value, unit) in found
        ],
    }


def _diary(desk: Desk, given: Given) -> shapes.DiaryListShape:
    bed = _known_bin(desk, given.get("bin"))
    return diary_facts(desk.store, desk.rules(), desk.now(), bed=bed, since=given.get("since"))


def _limits(desk: Desk, _given: Given) -> api_shapes.LimitsShape:
    written = desk.settings().written
    return {
        "at": instant(desk.now()),
        "holdings": [
            {
                "subject": str(one.subject),
                "about": one.name,
                "zones": list(one.zones),
                "measures": str(one.measures),
                "judged": one.judged,
                "limits": [
                    {
                        "level": str(n.level),
                        "below": n.below,
                        "value": n.value,
                        "unit": n.unit,
                        "lasting_minutes": n.lasting / MINUTE,
                        "source": n.source,
                        "mark": n.mark,
                        "said_by": str(n.said_by),
                        "to_change": n.change_at,
                        "written": n.written,
                        "sentence": n.sentence,
                    }
                    for n in one.numbers
                ],
                "over": one.over,
            }
            for one in holdings(desk.rules(), written, desk.now())
        ],
    }


def _learned(desk: Desk, _given: Given) -> LearnedShape:
    return learned_facts(desk.store, desk.rules(), desk.now())


def _care(desk: Desk, given: Given) -> CaresShape:
    bed = _known_bin(desk, given.get("bin"))
    return care_facts(desk.store, desk.rules(), desk.now(), beds=None if bed is None else [bed])


def _settings(desk: Desk, _given: Given) -> shapes.SettingsShape:
    settings = desk.settings()
    saying = Saying(settings.rules, desk.now())
    return settings_facts(desk.store, saying, digest=settings.digest, files=[str(file) for file in settings.files])


def _species(_desk: Desk, given: Given) -> shapes.SpeciesListShape:
    wanted = given.get("key")
    if wanted is not None and wanted not in names():
        raise Refused(404, f"No species of that key is known here: {', '.join(names())}.")
    return {"species": [species_facts(species(key)) for key in ([wanted] if wanted else names())]}


def _known_bin(desk: Desk, bed: str | None) -> str | None:
    if bed is not None and bed not in desk.rules().bins:
        raise Refused(404, "The settings know no bin of that name.")
    return bed


# ── what is answered ──────────────────────────────────────────────────────────────────────────────────────────


def _answer(what: str, desk: Desk, given: Given) -> tuple[int, shapes.AskedShape]:
    """Leaves `seen`, `done` or `later`, and waits a little for the round that takes it up."""
    store, rules, at, number = desk.store, desk.rules(), desk.now(), given["number"]
    if store.heard_of(number) is None:
        raise Refused(*_not_there(desk, number))
    who, note = given["body"].get("who"), given["body"].get("note", "")
    try:
        if what == "later":
            until = time_of("until", given["body"]["until"]) if "until" in given["body"] else None
            asked = keeper.later(store, rules, alarm=number, until=until, who=who, note=note, at=at)
        else:
            asked = keeper.ask(store, rules, what=what, alarm=number, who=who, note=note, at=at)
    except RequestError as error:
        said = str(error).replace("with --as", "in `who`")
        raise Refused(422, words.sentence(said)) from None
    taken_up = desk.soon(asked.request)
    return 200 if taken_up else 202, asked_facts(asked, rules, store.load().last_round)


def _not_there(desk: Desk, number: int) -> tuple[int, str]:
    if number < desk.store.load().next_alarm:
        return 409, f"Alarm {number} is over, so there is nothing to answer."
    return 404, f"No alarm has had the number {number} so far."


def time_of(name: str, text: object) -> Millis:
    """An RFC 3339 time. Raises Refused (400)."""
    try:
        found = datetime.fromisoformat(text) if isinstance(text, str) else None
        if found is not None and found.tzinfo is not None:
            return round(found.timestamp() * 1000)
    except (ValueError, OverflowError):
        pass
    raise Refused(
        400, f"`{name}` is a time with its offset, such as 2026-11-25T02:10:00Z (in an address + is written %2B)."
    )


# ── the table ─────────────────────────────────────────────────────────────────────────────────────────────────

_DAYS = Parameter("days", "query", "days", "So many days back.")
_S, _A, _P, _W = shapes, alarm_shapes, post_shapes, api_shapes

ADDRESSES: tuple[Address, ...] = (
    Address("GET", "/api/", "here", "What is here.", _W.ApiShape, facts=_here),
    Address("GET", "/api/now", "now", "What to do, every bin, and what else there is to know.", _S.NowShape, facts=_now),
    Address("GET", "/api/bins/{bin}", "bin", "One bin: how it is, its zones and its alarms.", _S.BinShape,
            (Parameter("bin", "path", "text", "Its id."),), refuses=(404,), facts=_bin),
    Address("GET", "/api/alarms", "alarms", "What stands, is put aside or is worked at.", _S.AlarmsShape, facts=_alarms),
    Address("GET", "/api/alarms/journal", "journal", "Every step of every alarm.", _A.JournalShape, (BIN, SINCE),
            refuses=(400, 404), facts=_journal),
    Address("GET", "/api/alarms/review", "review", "How well the alarms serve.", _A.ReviewShape, (_DAYS,), refuses=(400,),
            facts=_review),
    Address("GET", "/api/alarms/{number}", "why", "One alarm from the reading to the telling, also when it is over.",
            _S.WhyShape, (NUMBER,), refuses=(404,), facts=_why),
    Address("POST", "/api/alarms/{number}/seen", "seen", "Somebody has seen it.", _S.AskedShape, (NUMBER,), _W.SaysShape,
            (400, 404, 409, 413, 415, 422), partial(_answer, "seen")),
    Address("POST", "/api/alarms/{number}/done", "done", "Somebody has done what was to be done: acknowledged, and in the diary.",
            _S.AskedShape, (NUMBER,), _W.SaysShape, (400, 404, 409, 413, 415, 422), partial(_answer, "done")),
    Address("POST", "/api/alarms/{number}/later", "later", "Somebody will see to it later: put aside until then.",
            _S.AskedShape, (NUMBER,), _W.LaterShape, (400, 404, 409, 413, 415, 422), partial(_answer, "later")),
    Address("GET", "/api/notices", "notices", "Who was told what, and what became of it.", _P.NoticesShape,
            (_DAYS, Parameter("person", "query", "text", "Only to this person.")), refuses=(400, 404), facts=_notices),
    Address("GET", "/api/notices/{number}", "notice", "One notice, and why it was written.", _P.NoticesShape, (NUMBER,),
            refuses=(404,), facts=_notice),
    Address("GET", "/api/probes", "probes", "Every probe, the worst first.", _S.ProbesShape, (BIN,), refuses=(404,),
            facts=_probes),
    Address("GET", "/api/probes/{probe}/readings", "readings", "What a probe said: the last day, or up to seven days.",
            _W.ReadingsShape,
            (Parameter("probe", "path", "text", "Its id."), SINCE, Parameter("until", "query", "time", "Up to when.")),
            refuses=(400, 404), facts=_readings),
    Address("GET", "/api/week", "week", "Every bin's week: the last that is over, or that of a day.", WeekShape,
            (Parameter("of", "query", "day", "A day of it, such as 2026-11-20."),), refuses=(400,), facts=_week),
    Address("GET", "/api/diary", "diary", "What was done and seen.", _S.DiaryListShape, (BIN, SINCE), refuses=(400, 404),
            facts=_diary),
    Address("GET", "/api/limits", "limits", "What holds for each bin, and where it comes from.", _W.LimitsShape,
            facts=_limits),
    Address("GET", "/api/learned", "learned", "What each bed has learned of its own heat.", LearnedShape, facts=_learned),
    Address("GET", "/api/care", "care", "What follows for food and water.", CaresShape, (BIN,), refuses=(404,), facts=_care),
    Address("GET", "/api/settings", "settings", "Which settings were in force when, and what each changed.", _S.SettingsShape,
            facts=_settings),
    Address("GET", "/api/species", "species", "Every species that is known, with its limits.", _S.SpeciesListShape,
            facts=_species),
    Address("GET", "/api/species/{key}", "one_species", "One species with its limits.", _S.SpeciesListShape,
            (Parameter("key", "path", "text", "Its key."),), refuses=(404,), facts=_species),
)  # fmt: skip
"""What is answered, in the order in which it is looked for."""
