"""What one value alone cannot tell: whether the parts of the file fit each other."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from datetime import date
from zoneinfo import ZoneInfo, available_timezones

from monitor.errors import BadValue
from monitor.rules import Control
from monitor.science.worms import names, species
from monitor.settings.following import check_follow
from monitor.settings.mistakes import Paper, Path, listed, meant, nearest, quoted, sayable
from monitor.settings.placements import is_moved
from monitor.settings.schema import BinShape, FileShape, MatShape, PersonShape, SiteLimits
from monitor.settings.sources import check_probes
from monitor.settings.was import check_was

LONGEST_ID = 32
_ID = re.compile(r"[a-z][a-z0-9-]*")
_BY_THE_CLOCK = ("evening", "sign_of_life", "away")
RESERVED = ("mats", "alive", "durable", "marker")
"""Words that stand where a bin's id stands in our own topics."""


def crosschecked(model: FileShape, paper: Paper, today: date) -> None:
    """Note on `paper` every mistake that lies between two values, or between a value and the calendar."""
    _site(model, paper)
    _ids(model, paper)
    _bins(model, paper, today)
    _limits(model, paper)
    check_probes(model, paper, today)
    check_was(model, paper)
    _mats(model, paper)
    subjects = [*(paper.keys("places") or [model.site.id]), *paper.keys("bins")]
    for key, person in model.people.items():
        _person(paper, key, person, subjects)
    _broker(model, paper)
    _outdoors(model, paper)


def _known(paper: Paper, path: Path, word: str, known: Collection[str], what: str) -> bool:
    """Whether `word` is one of `known`; else a mistake that says which is near."""
    if word in known:
        return True
    if paper.whole(path):
        paper.wrong(path, f"{quoted(word)} is {what}.", meant(word, known))
    return False


def _item(paper: Paper, path: Path, index: int) -> Path:
    """The path of one word of a list, or of the single word that stands in its place."""
    return (*path, index) if isinstance(paper.raw(*path), list) else path


# --- site ---


def _site(model: FileShape, paper: Paper) -> None:
    zone = model.site.timezone
    if zone is not None and not _is_timezone(zone):
        near = nearest(zone, {z.lower(): z for z in available_timezones()}, at_least=0.8)
        exact = next((z for z in available_timezones() if z.lower() == near), None)
        hint = f"Did you mean {exact}?" if exact else "Write region and city, for example Europe/Lisbon."
        paper.wrong(("site", "timezone"), f"{quoted(zone)} is no time zone.", hint)
    if zone is None and not paper.keys("site").count("timezone"):
        hours = ((k, name) for k, p in model.people.items() for name in _BY_THE_CLOCK if getattr(p, name))
        first = next(hours, None)
        if first is not None:
            said = "An hour of the day means nothing without a time zone."
            hint = "Write for example `timezone: Europe/Lisbon` under `site:`."
            paper.wrong(("people", *first), said, hint)


def _is_timezone(name: str) -> bool:
    if not re.fullmatch(r"[A-Z][A-Za-z0-9_+-]*(/[A-Za-z0-9_+-]+)*", name):
        return False
    try:
        ZoneInfo(name)
    except (ValueError, OSError, KeyError):
        return False
    return True


# --- ids ---


def _ids(model: FileShape, paper: Paper) -> None:
    if paper.whole(("site", "id")):
        _id(paper, ("site", "id"), model.site.id, key=False)
    for section in ("places", "profiles", "bins", "mats", "people", "channels"):
        for key in paper.keys(section):
            _id(paper, (section, key), key)
    for bed in paper.keys("bins"):
        for zone in paper.keys("bins", bed, "zones"):
            _id(paper, ("bins", bed, "zones", zone), zone)
        if bed in RESERVED:
            hint = f"Our own topics need {listed(RESERVED, 'and')}."
            paper.wrong(("bins", bed), f"A bin cannot be called '{bed}'.", hint, key=True)
        if bed in paper.keys("places"):
            hint = "Give one of them another id."
            paper.wrong(("bins", bed), f"A bin and a place are both called {quoted(bed)}.", hint, key=True)
    _probe_ids(paper)


def _probe_ids(paper: Paper) -> None:
    seen: dict[str, Path] = {}
    for path in _probe_paths(paper):
        probe = str(path[-1])
        _id(paper, path, probe)
        if probe in seen and not (is_moved(paper, path) and is_moved(paper, seen[probe])):
            first = paper.spots.find(seen[probe])
            where = f"line {first.key_line}" + (
                "" if first.file == paper.spots.find(path).file else f" of {first.file}"
            )
            said = f"Two probes are called {quoted(probe)} (first on {where})."
            paper.wrong(path, said, "Every probe of the site needs an id of its own.", key=True)
        seen.setdefault(probe, path)


def _probe_paths(paper: Paper) -> Iterator[Path]:
    """The paths of all probes, in the order of the file."""
    for place in paper.keys("places"):
        for probe in paper.keys("places", place, "probes"):
            yield ("places", place, "probes", probe)
    for bed in paper.keys("bins"):
        for zone in paper.keys("bins", bed, "zones"):
            for probe in paper.keys("bins", bed, "zones", zone, "probes"):
                yield ("bins", bed, "zones", zone, "probes", probe)


def _id(paper: Paper, path: Path, text: str, *, key: bool = True) -> None:
    if len(text) > LONGEST_ID:
        paper.wrong(
            path, f"{quoted(text)} is too long for an id.", f"Use at most {LONGEST_ID} characters.", key=key
        )
    elif not _ID.fullmatch(text):
        plain = re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
        hint = "Use a–z, 0–9 and -, beginning with a letter" + (f": {plain}." if _ID.fullmatch(plain) else ".")
        safe = hint if quoted(text) == f"'{text}'" else hint.partition(":")[0].rstrip(".") + "."
        paper.wrong(path, f"{quoted(text)} cannot be an id.", safe, key=key)


# --- bins ---


def _bins(model: FileShape, paper: Paper, today: date) -> None:
    if "bins" in paper.data and not paper.keys("bins") and paper.whole(("bins",)):
        paper.wrong(
            ("bins",), "There is no bin.", "Write at least one: its id, `species:` and `zones:`.", key=True
        )
    for key, bed in model.bins.items():
        path: Path = ("bins", key)
        _species(paper, (*path, "species"), bed)
        _stands_in(paper, path, bed)
        _zones(paper, (*path, "zones"))
        _vessel(paper, (*path, "vessel"), bed)
        if bed.started is not None and bed.started > today:
            paper.wrong(
                (*path, "started"), f"{bed.started} has not come yet.", "Write the day the bin was started."
            )


def _species(paper: Paper, path: Path, bed: BinShape) -> None:
    if not paper.whole(path):
        return
    if not bed.species:
        paper.wrong(path, "No species is written.", f"Known here: {listed(names(), 'and')}.")
    for index, name in enumerate(bed.species):
        at = _item(paper, path, index)
        if bed.species.index(name) < index:
            paper.wrong(at, f"{quoted(name)} is written twice.", "Keep one of them.")
        elif name not in names():
            paper.wrong(at, f"{quoted(name)} is no species we know.", _nearest_species(name))


def _nearest_species(name: str) -> str:
    """The worm that was probably meant, also by a trade name, else all of them."""
    try:
        species(name)
    except BadValue as error:
        near = re.search(r"did you mean ([a-z-]+)\?", str(error).rpartition("; ")[2])
        if near:
            return f"Did you mean {near[1]}?"
    return f"Known here: {listed(names(), 'and')}."


def _stands_in(paper: Paper, path: Path, bed: BinShape) -> None:
    places = paper.keys("places")
    if bed.stands_in is not None:
        if places:
            _known(paper, (*path, "stands_in"), bed.stands_in, places, "no place of this file")
        else:
            said = f"{quoted(bed.stands_in)} is no place of this file."
            paper.wrong((*path, "stands_in"), said, "Write it under `places:`, or delete this line.")
    elif len(places) > 1 and paper.whole((*path, "stands_in")):
        hint = f"Write `stands_in:` {listed(sayable(places))}."
        paper.wrong(path, "Which place does this bin stand in?", hint, key=True)


def _zones(paper: Paper, path: Path) -> None:
    if not paper.whole(path[:2]) and not isinstance(paper.raw(*path), dict):
        return
    if paper.raw(*path) == {}:
        paper.wrong(path, "This bin has no zone.", "Write at least one zone with a probe in it.", key=True)
    for zone in paper.keys(*path):
        if paper.raw(*path, zone, "probes") == {}:
            hint = "Write at least one: its id, `measures:` and `topic:`."
            paper.wrong((*path, zone, "probes"), f"Zone {quoted(zone)} has no probe.", hint, key=True)


def _vessel(paper: Paper, path: Path, bed: BinShape) -> None:
    vessel = bed.vessel
    if vessel.floor and vessel.depth and vessel.holds:
        paper.wrong(
            (*path, "holds"), "Floor, depth and volume are all three written.", "Any two give the third.", key=True
        )
    elif vessel.holds and not vessel.floor and not vessel.depth and paper.whole(path):
        paper.wrong(
            (*path, "holds"),
            "A volume alone says nothing of the bed's shape.",
            "Write floor or depth too.",
            key=True,
        )


def _limits(model: FileShape, paper: Paper) -> None:
    _harms(paper, ("site", "limits"), model.site.limits)
    for key, bed in model.bins.items():
        _harms(paper, ("bins", key, "limits"), bed.limits)
        for name, zone in bed.zones.items():
            _harms(paper, ("bins", key, "zones", name, "limits"), zone.limits)


def _harms(paper: Paper, path: Path, limits: SiteLimits) -> None:
    for key in ("temperature", "moisture"):
        written = getattr(limits, key)
        at: Path = (*path, key, "harm")
        if written is None or written.harm is None or not isinstance(paper.raw(*at), list) or not paper.whole(at):
            continue
        if not written.harm:
            paper.wrong(at, "No harm limit stands here.", "Write at least one, or delete the line.")
        for index, each in enumerate(written.harm):
            if (each.below is None) == (each.above is None):
                hint = (
                    "Write two of them, one with `below` and one with `above`."
                    if each.below
                    else "Write one of them."
                )
                paper.wrong((*at, index), "A harm limit is either `below` or `above`.", hint)


# --- mats, people, broker, outdoors ---


def _mats(model: FileShape, paper: Paper) -> None:
    for key, mat in model.mats.items():
        path: Path = ("mats", key)
        if not mat.warms and paper.whole((*path, "warms")):
            paper.wrong(
                (*path, "warms"), "This mat warms nothing.", "Write the zones above it, for example fig.west."
            )
        for index, (bed, zone) in enumerate(mat.warms):
            at = _item(paper, (*path, "warms"), index)
            if not paper.whole((*path, "warms")):
                continue
            if mat.warms.index((bed, zone)) < index:
                paper.wrong(at, f"{quoted(f'{bed}.{zone}')} is written twice.", "Keep one of them.")
            elif _known(paper, at, bed, paper.keys("bins"), "no bin of this file"):
                _known(paper, at, zone, paper.keys("bins", bed, "zones"), f"no zone of {listed(sayable([bed]))}")
        if mat.set_to is not None and mat.control is not Control.THERMOSTAT and paper.whole((*path, "control")):
            said = "Only a thermostat can be set to a temperature."
            paper.wrong((*path, "set_to"), said, "Write `control: thermostat`, or delete this.", key=True)
        check_follow(model, paper, path, mat)
        _timer(paper, path, mat)


def _timer(paper: Paper, path: Path, mat: MatShape) -> None:
    """A timer has both of its hours, or none; nothing else has any."""
    for key, one, other in (("on_from", mat.on_from, mat.on_for), ("on_for", mat.on_for, mat.on_from)):
        if one is None or not paper.whole((*path, "control")):
            continue
        if mat.control is not Control.TIMER:
            paper.wrong(
                (*path, key), "Only a timer has hours.", "Write `control: timer`, or delete this.", key=True
            )
        elif other is None and paper.whole((*path, "on_for" if key == "on_from" else "on_from")):
            need = "on_for: 9 h" if key == "on_from" else 'on_from: "21:00"'
            paper.wrong(
                (*path, key), "A timer's hours are when and for how long.", f"Write `{need}` beside it.", key=True
            )


def _person(paper: Paper, key: str, person: PersonShape, subjects: Collection[str]) -> None:
    path: Path = ("people", key)
    _hours(paper, path, person)
    _words(paper, (*path, "channels"), person.channels, paper.keys("channels"), "no channel of this file")
    if person.hears is not None:
        _words(paper, (*path, "hears"), person.hears, subjects, "neither a bin nor a place")
    _follower(paper, path, person)
    _daily(paper, path, person)


def _daily(paper: Paper, path: Path, person: PersonShape) -> None:
    """A sign of life that wakes somebody is none that they want."""
    at, evening, up = person.sign_of_life, person.evening, person.up
    if at is None or evening is None or up is None or not paper.whole((*path, "sign_of_life")):
        return
    asleep = evening < at < up if evening < up else at > evening or at < up
    if asleep and paper.whole((*path, "evening"), (*path, "up")):
        said = f"At {at:%H:%M} {path[-1]} sleeps."
        paper.wrong((*path, "sign_of_life"), said, f'Write a time from "{up:%H:%M}" to "{evening:%H:%M}".')


def _words(paper: Paper, path: Path, words: list[str], known: Collection[str], what: str) -> None:
    """A list that names things of this file: at least one, and each of them known."""
    if not words and paper.whole(path):
        paper.wrong(path, "This list is empty.", "Write at least one name, or delete the whole entry.")
    for index, word in enumerate(words):
        if paper.whole(path):
            _known(paper, _item(paper, path, index), word, known, what)


def _follower(paper: Paper, path: Path, person: PersonShape) -> None:
    at: Path = (*path, "then")
    if person.then is not None:
        if (
            _known(paper, at, person.then, paper.keys("people"), "no person of this file")
            and person.then == path[-1]
        ):
            paper.wrong(at, "Nobody follows after themselves.", "Write another person.")
    elif person.after is not None and paper.whole(at):
        hint = "Write `then:` and a person, or delete this."
        paper.wrong((*path, "after"), "`after` is written without `then`.", hint, key=True)


def _hours(paper: Paper, path: Path, person: PersonShape) -> None:
    written = [k for k in ("evening", "up") if k in paper.keys(*path)]
    if len(written) == 1:
        other = "up" if written == ["evening"] else "evening"
        said = f"`{written[0]}` is written without `{other}`."
        paper.wrong((*path, written[0]), said, "Sleeping hours need both, or neither.", key=True)
    elif (
        person.evening is not None
        and person.evening == person.up
        and paper.whole((*path, "up"), (*path, "evening"))
    ):
        said = "`evening` and `up` are the same time."
        paper.wrong((*path, "up"), said, "Delete both when there are no sleeping hours.")


def _broker(model: FileShape, paper: Paper) -> None:
    broker = model.broker
    if broker.password is not None and broker.user is None and paper.whole(("broker", "user")):
        paper.wrong(("broker", "password"), "A password needs a user.", "Write `user:` too.", key=True)
    if broker.ca_file is not None and not broker.url[2] and paper.whole(("broker", "url")):
        hint = "Write an mqtts:// url, or delete this."
        paper.wrong(("broker", "ca_file"), "A CA file is for mqtts:// only.", hint, key=True)


def _outdoors(model: FileShape, paper: Paper) -> None:
    outdoors = model.outdoors
    if outdoors is None or not paper.whole(("outdoors", "topic"), ("outdoors", "url")):
        return
    if (outdoors.topic is None) == (outdoors.url is None):
        hint = "Write either `topic:` or `url:`."
        paper.wrong(("outdoors",), "The forecast comes from one place.", hint, key=True)
    elif outdoors.every is not None and outdoors.url is None:
        said = "A topic speaks when it wants to."
        paper.wrong(("outdoors", "every"), said, "`every` belongs to a `url`: delete it.", key=True)
