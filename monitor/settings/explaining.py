"""What `vermistat check` says: in plain sentences, what a file will do, what it cannot do, and what it changes
nothing by. Secrets are stars.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import time
from urllib.parse import urlsplit

from monitor import words
from monitor.addresses import ASKED_EVERY, ASKED_LEAST, STARS, Asking, Backup, Broker, Database, Outdoors, Page
from monitor.checks.watches import WET_DELAY
from monitor.intake.quality import silence
from monitor.readings import Measures
from monitor.rules import (
    Bedding,
    Bin,
    Bound,
    Control,
    Harm,
    JudgeBy,
    Level,
    Limits,
    Mat,
    Probe,
    Role,
    Rules,
    Site,
    Units,
    Zone,
)
from monitor.science.squeeze import Feel, band
from monitor.science.worms import species
from monitor.settings.alike import together
from monitor.settings.explaining_people import channels, people, reaches
from monitor.settings.loading import Settings
from monitor.settings.pending import sentence_for

LOCAL = ("localhost", "127.0.0.1", "::1")


def explain(settings: Settings) -> list[str]:
    """Sentences for the keeper, in the order of the file; the lines of a bin are indented below it."""
    rules = settings.rules
    said = [*_site(settings), *_broker(settings.broker)]
    for lines in together((bed, list(_bin(rules, bed))) for bed in rules.bins.values()):
        said += ["", *lines]
    said += ["", *_places(rules), *_mats(rules), *people(rules), *channels(settings)]
    said += _block("Not there yet, needed before it can run:", settings.missing)
    return said + _block("Read, checked and without effect yet:", _without_effect(settings.ineffective))


def _block(title: str, lines: Sequence[str]) -> list[str]:
    return ["", title, *(f"  {line}" for line in lines)] if lines else []


def _without_effect(keys: Sequence[str]) -> list[str]:
    """Each sentence once, with all the keys it is about."""
    by_sentence: dict[str, list[str]] = {}
    for key in keys:
        by_sentence.setdefault(sentence_for(key), []).append(key)
    return [f"{_first_of(all_)}: {sentence}" for sentence, all_ in by_sentence.items()]


def _first_of(keys: Sequence[str]) -> str:
    """A few of them by name, the rest counted: a large site has hundreds of one kind."""
    return words.joined(keys) if len(keys) <= 3 else f"{', '.join(keys[:2])} and {len(keys) - 2} more"


def _site(settings: Settings) -> Iterator[str]:
    site = settings.rules.site
    units = "°C, litres and kilograms" if site.units is Units.METRIC else "°F, gallons and pounds"
    by = " by a clock of 12 hours" if words.hours(time(13), site.timezone) != "13:00" else ""
    yield f"{site.name} ({site.id}): times of {site.timezone}{by}, {units}; settings {settings.rules.version}."
    if settings.store is not None:
        yield f"Everything is kept in {settings.store}."
    if settings.database is not None:
        yield from _database(settings.database)
    if settings.outdoors is not None:
        yield from _outdoors(settings.outdoors)
    if settings.publishers:
        who = words.joined(settings.publishers)
        yield f"How wired probes are is heard from {who}: `vermistat probes` says why one is silent."
    if settings.backup is not None:
        yield from _backup(settings.backup)
    if settings.page is not None:
        yield from _page(settings.page)


def _outdoors(outdoors: Outdoors) -> Iterator[str]:
    every = words.duration(max(ASKED_LEAST, outdoors.every or ASKED_EVERY))
    whence = f"an address asked every {every}" if outdoors.topic is None else "from its topic"
    yield (
        f"The outdoor forecast is {whence}: times at {outdoors.times}, temperatures"
        f" ({outdoors.sends}) at {outdoors.temperatures}. Each place learns within a week how it follows; until then, and"
        " whenever none comes, nights are told by the place's own past."
    )


def _backup(backup: Backup) -> Iterator[str]:
    weeks = f" and {words.amount(backup.weeks, 'week')}" if backup.weeks else ""
    yield (
        f"Every night at {backup.nightly // 60:02}:{backup.nightly % 60:02} a backup is made in {backup.to}; the newest of"
        f" each of the last {words.amount(backup.days, 'day')}{weeks} is kept."
    )
    if backup.same_disk:
        yield "Beware: that place may lie on the disk of the store, and dies with it."


def _database(database: Database) -> Iterator[str]:
    days = words.duration(database.here)
    yield (
        f"Readings go on to {database.bucket} at {database.url} and lie there; the newest {days} lie here as well, and"
        " while the database does not answer everything does."
    )
    host = urlsplit(database.url).hostname or ""
    if database.url.startswith("http:") and database.token is not None and host not in LOCAL:
        yield "Anybody on the way to that database can read its token: write https:// in its address."


_ASKS = {
    Asking.EVERYTHING: "asks for its passphrase before anything is shown or done",
    Asking.ACTING: "shows everything to whoever reaches it, and asks for its passphrase before anything is done",
}


def _page(page: Page) -> Iterator[str]:
    host = f"[{page.host}]" if ":" in page.host else page.host
    reached = f" and reached at {page.address}" if page.address else ""
    asks = _ASKS[page.asks_for] if page.asks else "lets whoever reaches it act"
    yield f"The page is served at http://{host}:{page.port}{reached}; it {asks}."
    if not page.asks and page.host not in LOCAL:
        yield "Beware: without a passphrase anybody on that network can answer for you and write into the diary."
    if page.address and page.address.startswith("http:") and urlsplit(page.address).hostname not in LOCAL:
        yield "Beware: without https:// in its address anybody on the way can read the page and its passphrase."


def _broker(broker: Broker) -> Iterator[str]:
    host = f"[{broker.host}]" if ":" in broker.host else broker.host
    login = "without a login" if broker.user is None else f"as {broker.user}"
    secret = f", password {STARS}" if broker.password is not None else ""
    spoken = {"auto": "5, or 3.1.1 where that is refused"}.get(broker.protocol, broker.protocol)
    url = f"{'mqtts' if broker.tls else 'mqtt'}://{host}:{broker.port}"
    yield f"Messages come from {url}, {login}{secret}, by MQTT {spoken}."
    if not broker.tls and broker.host not in LOCAL:
        what = "the password and every reading" if broker.password is not None else "every reading"
        yield f"Beware: without TLS {what} can be read, and readings can be forged, by anybody on that network."


# ── a bin ─────────────────────────────────────────────────────────────────────────────────────────────────────


def _bin(rules: Rules, bed: Bin) -> Iterator[str]:
    units = rules.site.units
    name = f"{bed.name} ({bed.id})" if bed.name != bed.id else bed.id
    yield f"Bin {name}: {words.joined(bed.species)}, stands in {rules.places[bed.place].name}."
    for measure in _judged_quantities(bed):
        yield from (
            f"  {line}" for line in _limits(bed.limits[measure], measure, units, f"{measure}".capitalize())
        )
    for zone in bed.zones:
        yield from (f"  {line}" for line in _zone(bed, zone, units, rules.site.timezone))
    yield f"  {_judged(bed)}"
    yield f"  {_by_hand(bed)}"
    yield f"  {_silence(bed)}"
    if rules.people:
        yield f"  {_told(rules, bed)}"
    yield from (f"  {line}" for line in _cannot(rules, bed))


def _judged_quantities(bed: Bin) -> list[Measures]:
    """What its probes can be held against: moisture only with a calibration."""
    can = {probe.measures for zone in bed.zones for probe in zone.probes if probe.judged}
    return [measure for measure in (Measures.TEMPERATURE, Measures.MOISTURE) if measure in can]


def _limits(limits: Limits, measure: Measures, units: Units, subject: str) -> Iterator[str]:
    """Comfort with its delays, then each side of harm."""
    if limits.low is not None or limits.high is not None:
        delay = f"told after {words.duration(limits.comfort_delay)} outside"
        if measure is Measures.MOISTURE:
            wet = words.duration(max(limits.comfort_delay, WET_DELAY))
            delay += f" (too wet: {wet}; dry goes by the median of a day)"
        yield f"{subject}: comfort {_band(limits, measure, units)}, {delay}; {_over(limits, measure, units)}."
    sources = {(harm.bound.source, harm.bound.mark) for harm in limits.harm}
    if len(sources) == 1:
        all_ = words.joined([_harm(harm, measure, units) for harm in limits.harm])
        yield f"{subject}: harm {all_} {_cited(limits.harm[0].bound)}."
    else:
        yield from (f"{subject}: harm {_harm(h, measure, units)} {_cited(h.bound)}." for h in limits.harm)


def _band(limits: Limits, measure: Measures, units: Units) -> str:
    ends = [bound for bound in (limits.low, limits.high) if bound is not None]
    if len(ends) == 1:
        side = "from" if limits.low is not None else "up to"
        return f"{side} {_value(ends[0].value, measure, units)} {_cited(ends[0])}"
    low, high = ends
    if (low.source, low.mark) == (high.source, high.mark):
        return f"{_value(low.value, measure, units)} to {_value(high.value, measure, units)} {_cited(low)}"
    return " to ".join(f"{_value(bound.value, measure, units)} {_cited(bound)}" for bound in ends)


def _over(limits: Limits, measure: Measures, units: Units) -> str:
    if measure is Measures.TEMPERATURE:
        inside = words.difference(limits.deadband, units)
    else:
        inside = f"{limits.deadband:g} points"
    return f"over when {inside} inside it again for {words.duration(limits.off_delay)}"


def _harm(harm: Harm, measure: Measures, units: Units) -> str:
    lasting = "at once" if harm.lasting == 0 else f"for {words.duration(harm.lasting)}"
    side = "at or below" if harm.below else "at or above"
    return f"{side} {_value(harm.bound.value, measure, units)} {lasting}"


def _cited(bound: Bound) -> str:
    return f"({bound.source})" if bound.mark == "settings" else f"({bound.source} [{bound.mark}])"


def _value(value: float, measure: Measures, units: Units) -> str:
    return words.limit(value, units) if measure is Measures.TEMPERATURE else f"{value:g} %"


def _zone(bed: Bin, zone: Zone, units: Units, tz: str) -> Iterator[str]:
    probes = words.joined([f"{p.id} ({p.measures})" for p in zone.probes])
    yield f"Zone {zone.id} ({zone.role}): {probes}."
    for measure in _judged_quantities(bed):
        if zone.limits[measure] != bed.limits[measure]:
            yield from (
                f"  {line}" for line in _limits(zone.limits[measure], measure, units, f"Its own {measure}")
            )
    for probe in zone.probes:
        if probe.measures is Measures.MOISTURE and probe.calibration:
            ends = sorted(probe.calibration, key=lambda point: point.moisture)
            low, high = ends[0], ends[-1]
            yield (
                f"  {probe.id}: {low.counts:g} is read as {low.moisture:g} % moisture, {high.counts:g} as "
                f"{high.moisture:g} %, from {len(ends)} points."
            )
        yield from (f"  {line}" for line in _correction(probe, units))
        if probe.moved:
            yield f"  {_placed(probe, tz)}"
        if probe.measures is Measures.HUMIDITY:
            yield f"  {probe.id}: humidity inside a bin is kept and shown, not judged."
        if probe.measures is Measures.MASS:
            yield f"  {probe.id}: the scale says what the bin loses and gains (`vermistat care`); no limit is held to it."


def _placed(probe: Probe, tz: str) -> str:
    """From when to when a probe stands in a zone."""
    ends = [
        f"{word} {words.stamp(at, tz)}"
        for word, at in (("from", probe.since), ("until", probe.until))
        if at is not None
    ]
    return f"{probe.id} stands here {' '.join(ends)}; what it says at any other time is of another place."


def _correction(probe: Probe, units: Units) -> Iterator[str]:
    """What a keeper's offset and scale make of a value."""
    if probe.offset or probe.scale != 1.0:
        times = f"{probe.scale:g} times " if probe.scale != 1.0 else ""
        plus = ""
        if probe.offset:
            by = words.shifted(abs(probe.offset), probe.measures, units)
            plus = f", {'plus' if probe.offset > 0 else 'minus'} {by}"
        about = " (of its °C)" if times and probe.measures is Measures.TEMPERATURE and units is Units.US else ""
        yield (
            f"{probe.id} is judged and shown as {times}what it sends{about}{plus}; what is stored stays as sent, so "
            "the past is judged anew with it."
        )


def _judged(bed: Bin) -> str:
    apart = [zone.id for zone in bed.zones if zone.role is Role.AT_THE_MAT]
    also = f" At the mat ({words.joined(apart)}) each zone is judged for itself." if apart else ""
    if bed.judge is JudgeBy.EVERY_ZONE:
        return "Judged zone by zone: an alarm for each zone that is outside." + also
    living = [zone.id for zone in bed.zones if zone.role is Role.LIVING]
    if not living:
        return "Beware: it has no living zone, so nothing says whether the worms have a refuge." + also
    where = f"its living zones ({words.joined(living)}) is" if len(living) > 1 else f"{living[0]} is not"
    return f"Judged by refuge: an alarm when {'none of ' if len(living) > 1 else ''}{where} inside." + also


def _by_hand(bed: Bin) -> str:
    """What a squeeze of the hand is worth here."""
    feel = band(Feel.DROPS, bed.made_of)
    stuff = "Bedding of no known kind (`made_of`)" if bed.made_of is Bedding.MIXED else f"{bed.made_of} bedding"
    stuff = stuff[:1].upper() + stuff[1:]
    return (
        f"{stuff}: a few drops from a squeezed handful are {feel.low:g} to {feel.high:g} % moisture "
        f"({feel.source} [{feel.mark}])."
    )


def _silence(bed: Bin) -> str:
    """From when on a probe that says nothing is told."""
    spans: dict[str, list[str]] = {}
    for probe in (probe for zone in bed.zones for probe in zone.probes):
        spans.setdefault(words.duration(silence(probe.every)), []).append(probe.id)
    told = [f"{words.joined(probes)} {span}" for span, probes in spans.items()]
    if len(told) > 1:
        return f"A probe counts as silent after so long without a word: {'; '.join(told)}."
    return f"A probe counts as silent when it has said nothing for {next(iter(spans), '')}."


def _told(rules: Rules, bed: Bin) -> str:
    hearing = [person for person in rules.people.values() if reaches(person, bed)]
    if not hearing:
        return "Beware: nobody hears of it."
    told = words.joined([f"{person.id} by {words.joined(person.channels)}" for person in hearing])
    wake = "Only harm" if bed.wake_for is Level.HARM else "Harm and discomfort"
    sleepers = any(person.evening is not None for person in hearing)
    return f"Told: {told}." + (f" {wake} may wake." if sleepers else "")


# ── what cannot work ──────────────────────────────────────────────────────────────────────────────────────────


def _cannot(rules: Rules, bed: Bin) -> Iterator[str]:
    yield from _without_probes(bed)
    if bed.bedding is None and Measures.MOISTURE in _judged_quantities(bed):
        yield "Without `bedding` (its mass) watering is advised, but no amount."
    if not bed.can and not rules.mats_of(bed.id):
        yield "It has no mat and no `can:`, so nothing can be advised against cold or heat but to look."
    for key in bed.species:
        if (warning := species(key).warning) is not None:
            yield f"Beware: {warning}"


def _without_probes(bed: Bin) -> Iterator[str]:
    living = [zone for zone in bed.zones if zone.role is Role.LIVING] or list(bed.zones)
    for zone in living:
        if not any(probe.measures is Measures.TEMPERATURE for probe in zone.probes):
            yield f"Without a temperature probe in {zone.id} nothing is said about cold or heat there."
    damp = [probe for zone in bed.zones for probe in zone.probes if probe.measures is Measures.MOISTURE]
    if not damp:
        yield "Without a moisture probe nothing is said about dry or wet but by your own hand: `vermistat squeeze`."
    for probe in damp:
        if not probe.judged:
            yield f"{probe.id} has no calibration: it shows a trend, but no dry or wet alarm and no litres."


def _places(rules: Rules) -> Iterator[str]:
    for place in rules.places.values():
        if place.probes:
            probes = words.joined([f"{probe.id} ({probe.measures})" for probe in place.probes])
            yield f"Air of {place.name}: {probes}."
            for probe in place.probes:
                yield from (f"  {line}" for line in _correction(probe, rules.site.units))


def _mats(rules: Rules) -> Iterator[str]:
    for mat in rules.mats.values():
        zones = words.joined([f"{bed}.{zone}" for bed, zone in mat.warms])
        power = f"{mat.power:g} W, " if mat.power is not None else ""
        plug = f"; its plug speaks on {mat.state.topic}" if mat.state is not None else ""
        yield f"Mat {mat.id}: {power}warms {zones}, {_control(mat, rules.site)}{plug}."
        yield from _mat_warnings(rules, mat)


def _control(mat: Mat, site: Site) -> str:
    if mat.control is Control.THERMOSTAT:
        return "held by a thermostat" + (
            f" at {words.limit(mat.set_to, site.units)}" if mat.set_to is not None else ""
        )
    if mat.control is Control.TIMER and mat.hours is not None:
        begins, lasts = mat.hours
        return f"on a timer from {words.hours(begins, site.timezone)} for {words.duration(lasts)}"
    said = {Control.TIMER: "on a timer", Control.HAND: "switched by hand", Control.ALWAYS: "always on"}
    return said.get(mat.control, "nobody says what controls it")


def _mat_warnings(rules: Rules, mat: Mat) -> Iterator[str]:
    if mat.control is not Control.THERMOSTAT:
        yield f"Beware: {mat.id} has no thermostat. What nothing switches off can cook a bed: put one before it."
    if mat.follow:
        topic = f"vermistat/{rules.site.id}/mats/{mat.id}"
        yield f"Beware: a switch may follow {topic}. It must fail off, and the mat's own thermostat stays in its line."
    for bed, zone in mat.warms:
        limits = next(z for z in rules.bins[bed].zones if z.id == zone).limits[Measures.TEMPERATURE]
        hot = min((h.bound.value for h in limits.harm if not h.below), default=None)
        if mat.set_to is not None and hot is not None and mat.set_to >= hot:
            set_to, harm = (words.limit(value, rules.site.units) for value in (mat.set_to, hot))
            yield f"Beware: {mat.id} is set to {set_to}, and harm in {bed}.{zone} begins at {harm}."
    others = [m.id for m in rules.mats.values() if m.id != mat.id and set(m.warms) & set(mat.warms)]
    if others:
        yield f"Beware: {mat.id} and {words.joined(others)} warm the same zone. Mats must never overlap."
