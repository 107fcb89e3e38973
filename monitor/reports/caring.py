"""Food and water of every bin: when to look, how much, and what stands behind it. Read from what is stored, when asked."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypedDict

from monitor import words
from monitor.advice.acts import Act
from monitor.advice.cautions import GLOVES, ICE_WATER, LIFT, NO_POWDERS, NO_SPOILT_FOOD, TRAY, sourced, that_belong
from monitor.advice.dryness import ANEW, Dryness, Wet, dryness
from monitor.advice.feeding import Due, Fed, Feeding, feeding, next_absence
from monitor.advice.present import on_from
from monitor.advice.scene import limits_of
from monitor.advice.unusual import Felt, unusual
from monitor.advice.weighing import Scale, beside, weighed
from monitor.bed.hours import duty_of
from monitor.bed.living import zones_of
from monitor.bed.mats import Watch
from monitor.bed.shifted import LOOKS_BACK, QUARTER, Quarter, Shifted, shifted
from monitor.checks.drift import groups
from monitor.checks.squeezes import squeezes_in
from monitor.checks.values import percent
from monitor.diary import EVERY, Entry, in_force, switches
from monitor.masses import mass_of
from monitor.readings import DAY, Measures, Millis
from monitor.reports.saying import Saying, instant
from monitor.rules import Ability, Bin, Probe, Role, Rules, plug_id
from monitor.science.correction import corrected
from monitor.science.moisture import Firm, firm
from monitor.science.squeeze import Band, band
from monitor.store.promises import Past, Store

BACK = 120
"""Days that are looked back on: several dry-downs, or two months without grit (proposal)."""
HEAT_BACK = 10
"""Days of warmth above the air that are looked back on (proposal)."""
WEIGHED_BACK = 45
"""Days of weights that are looked back on: a whole dry-down and the watering before it (proposal)."""
ENOUGH = 3
"""Quarters of a day that must be known for its median (proposal)."""


class RangeShape(TypedDict):
    """From and to, in the unit that its field names."""

    low: float
    high: float


class FeedShape(TypedDict):
    """`due`: look now, later, not now or unknown; `days` until a look, null when nobody can tell; `kilos` of one feed."""

    due: str
    words: str
    days: float | None
    kilos: RangeShape | None
    more: list[str]
    lacks: list[str]


class WaterShape(TypedDict):
    """`moisture` in % wet basis as it is believed; `days` until its own dry limit, null beyond telling; `litres` in all."""

    words: str
    moisture: float | None
    days: float | None
    litres: RangeShape | None
    first: float | None
    more: list[str]
    lacks: list[str]
    recalibrate: list[str]


class HeatShape(TypedDict):
    """What is not as usual in its heat, and what could not be looked at."""

    unusual: list[str]
    lacks: list[str]


class CareShape(TypedDict):
    """One bin. `cautions` belong to feeding and watering it."""

    bin: str
    name: str
    feed: FeedShape
    water: WaterShape
    heat: HeatShape
    cautions: list[str]


class _Fed(TypedDict):
    bin: str
    name: str
    feed: FeedShape
    water: WaterShape


class CaresShape(TypedDict):
    """`vermistat care`."""

    at: str
    bins: list[CareShape]


def care_facts(store: Store, rules: Rules, at: Millis, *, beds: Sequence[str] | None = None) -> CaresShape:
    """Food and water of these bins, or of all."""
    from monitor.hourly import beds_in, documents_of, zone_names  # heavy, and `now` does without

    entries, past = in_force(store.diary(EVERY), at), store.load()
    documents = documents_of(store, zone_names([rules.bins[bed] for bed in beds or rules.bins]))
    learned = {zone: bed.watch for zone, (bed, _) in beds_in(documents).items()}
    found = []
    for bed in beds or rules.bins:
        one = _care(store, rules, rules.bins[bed], past=past, entries=entries, at=at)
        felt = _felt(store, rules, rules.bins[bed], learned=learned, entries=entries, at=at)
        heat = unusual(felt)
        found.append(
            CareShape(
                **one,
                heat={"unusual": list(heat.lines), "lacks": list(heat.lacks)},
                cautions=_cautions(rules, bed, ice=bool(felt.left)),
            )
        )
    return {"at": instant(at), "bins": found}


def _cautions(rules: Rules, bed: str, *, ice: bool) -> list[str]:
    """What belongs to hands, food and water in a bed, the mat in it first, and to a probe in ice water."""
    last = (GLOVES, TRAY, LIFT, NO_SPOILT_FOOD, NO_POWDERS, *(ICE_WATER if ice else ()))
    return list(that_belong(Act.WATER, mat=bool(rules.mats_of(bed)), last=last))


def _care(store: Store, rules: Rules, bed: Bin, *, past: Past, entries: Sequence[Entry], at: Millis) -> _Fed:
    mine = [e for e in entries if e.bed == bed.id]
    mass = mass_of(bed, mine, at=at, tz=rules.site.timezone)
    fed = feeding(_fed(store, rules, bed, entries=mine, worms=mass.worms, at=at))
    wet = dryness(_wet(store, rules, bed, past=past, entries=mine, mass=mass.bedding, at=at))
    scale = _scale(store, rules, bed, past=past, entries=mine, at=at)
    if scale is not None:
        wet = beside(wet, weighed(scale))
    return {"bin": bed.id, "name": bed.name, "feed": _feed(fed), "water": _water(wet)}


def _scale(
    store: Store, rules: Rules, bed: Bin, *, past: Past, entries: Sequence[Entry], at: Millis
) -> Scale | None:
    """What the scales under a bin weighed, together; None of a bin on none."""
    scales = [p for zone in bed.zones for p in zone.probes if p.measures is Measures.MASS]
    if not scales:
        return None
    edges = [at - n * QUARTER for n in range(4 * WEIGHED_BACK, -1, -1)]
    each = [dict(_quarters(store, probe, edges)) for probe in scales]
    known = sorted(set.intersection(*map(set, each)))
    warm: dict[Millis, list[float]] = {}
    for probe in _probes(bed, Measures.TEMPERATURE):
        for end, value in _quarters(store, probe, edges):
            warm.setdefault(end, []).append(value)
    low = limits_of(bed, None, Measures.MOISTURE).low
    return Scale(
        bed=bed,
        weights=[(end, sum(one[end] for one in each)) for end in known],
        entries=entries,
        at=at,
        tz=rules.site.timezone,
        units=rules.site.units,
        warmth=[(end, statistics.fmean(values)) for end, values in sorted(warm.items())],
        squeezed=_squeezed(past, bed),
        low=None if low is None else low.value,
    )


def _quarters(store: Store, probe: Probe, edges: Sequence[Millis]) -> Iterator[tuple[Millis, float]]:
    """The mean of each quarter of a day, by its end."""
    for bucket in store.spans(probe.id, edges):
        if probe.stands(bucket.start):
            value = corrected(bucket.mean, offset=probe.offset, scale=probe.scale)
            yield _edge(edges, bucket.start) + QUARTER, value


def _squeezed(past: Past, bed: Bin) -> tuple[Millis, Band] | None:
    """The newest squeeze of a bin: when, and the band it stands for."""
    found = squeezes_in(past.standing)
    mine = [one for key, one in found.items() if key.partition(":")[2].partition(".")[0] == bed.id]
    newest = max(mine, key=lambda one: one.at, default=None)
    return None if newest is None else (newest.at, band(newest.feel, bed.made_of))


def _felt(
    store: Store, rules: Rules, bed: Bin, *, learned: Mapping[str, Watch], entries: Sequence[Entry], at: Millis
) -> Felt:
    edges = [at - (HEAT_BACK - n) * DAY for n in range(HEAT_BACK + 1)]
    place, together = rules.places.get(bed.place), {p.id for group in groups(rules) for p in group.probes}
    air = _days(store, [p for p in place.probes if p.measures is Measures.TEMPERATURE] if place else [], edges)
    warm = [_days(store, [probe], edges) for probe in _probes(bed, Measures.TEMPERATURE)]
    days = sorted({day for one in warm for day in one} & set(air))
    mats = rules.mats_of(bed.id)
    on = {mat.id: told[-1][1] if (told := switches(entries, mat.id)) else None for mat in mats}
    may_be = True if True in on.values() else None if None in on.values() else False
    return Felt(
        bed=bed,
        entries=[e for e in entries if e.bed == bed.id],
        above=[(day, max(one[day] for one in warm if day in one) - air[day]) for day in days],
        watches={zone.id: learned.get(f"{bed.id}.{zone.id}") for zone in zones_of(bed)},
        at=at,
        tz=rules.site.timezone,
        units=rules.site.units,
        mat=may_be,
        lone={
            p.id: _shifted(store, rules, bed, p, entries=entries, at=at)
            for p in _probes(bed, Measures.TEMPERATURE)
            if p.id not in together
        },
    )


def _shifted(
    store: Store, rules: Rules, bed: Bin, probe: Probe, *, entries: Sequence[Entry], at: Millis
) -> Shifted | None:
    """How a thermometer without neighbours stands to its air."""
    place = rules.places.get(bed.place)
    around = [p for p in place.probes if p.measures is Measures.TEMPERATURE] if place else []
    if not around:
        return None
    edges = [at - n * QUARTER for n in range(4 * LOOKS_BACK, -1, -1)]
    air: dict[Millis, list[float]] = {}
    for one in around:
        for end, value in _quarters(store, one, edges):
            air.setdefault(end, []).append(value)
    warmth, off = dict(_quarters(store, probe, edges)), _off(store, rules, bed, entries, edges)
    return shifted(
        [
            Quarter(end, warmth.get(end), statistics.fmean(air[end]) if end in air else None, end in off)
            for end in edges[1:]
        ],
        since=max((e.at for e in entries if e.bed == bed.id and e.deed in ANEW), default=0),
    )


def _off(
    store: Store, rules: Rules, bed: Bin, entries: Sequence[Entry], edges: Sequence[Millis]
) -> frozenset[Millis]:
    """The ends of the quarters in which every mat of a bin was off, by its plug or by the diary."""
    plugs, off = rules.plugs(), frozenset(edges[1:])
    for mat in rules.mats_of(bed.id):
        if mat.state is not None:
            plug = plugs[plug_id(mat.id)]
            least = on_from(mat, plug)
            still = {_edge(edges, b.start) + QUARTER for b in store.spans(plug.id, edges) if b.high < least}
        else:
            wrote = switches(entries, mat.id)
            still = {end for end in edges[1:] if duty_of(mat, (), wrote, start=end - QUARTER, end=end)[0] == 0}
        off &= still
    return off


def _days(store: Store, probes: Sequence[Probe], edges: Sequence[Millis]) -> dict[Millis, float]:
    found: dict[Millis, list[float]] = {}
    for probe in probes:
        for bucket in store.spans(probe.id, edges):
            found.setdefault(_edge(edges, bucket.start), []).append(bucket.mean + probe.offset)
    return {day: statistics.fmean(values) for day, values in found.items()}


def _feed(one: Feeding) -> FeedShape:
    return {
        "due": str(one.due),
        "words": one.words,
        "days": None if one.days is None else round(one.days, 1),
        "kilos": _range(one.kilos),
        "more": list(one.more),
        "lacks": list(one.lacks),
    }


def _water(one: Dryness) -> WaterShape:
    days = None if one.days is None or one.days[0] > 1000 else round(one.days[0], 1)
    return {
        "words": one.words,
        "moisture": None if one.moisture is None else round(one.moisture, 1),
        "days": days,
        "litres": _range((one.litres.low, one.litres.high)) if one.litres else None,
        "first": round(one.litres.first, 2) if one.litres else None,
        "more": list(one.more),
        "lacks": list(one.lacks),
        "recalibrate": list(one.recalibrate),
    }


def _range(ends: tuple[float, float] | None) -> RangeShape | None:
    return None if ends is None else {"low": round(ends[0], 2), "high": round(ends[1], 2)}


def _fed(
    store: Store, rules: Rules, bed: Bin, *, entries: Sequence[Entry], worms: float | None, at: Millis
) -> Fed:
    edges = [at - (BACK - n) * DAY for n in range(BACK + 1)]
    days: dict[Millis, list[float]] = {}
    highest: list[float] = []
    for probe in _probes(bed, Measures.TEMPERATURE):
        for bucket in store.spans(probe.id, edges):
            days.setdefault(_edge(edges, bucket.start), []).append(bucket.mean)
            if bucket.start >= edges[-2]:
                highest.append(bucket.high)
    warmth = [(day, statistics.fmean(values)) for day, values in sorted(days.items())]
    fresh = warmth and warmth[-1][0] == edges[-2]
    feeders = [p.away for p in rules.people.values() if Ability.FEED in p.may]
    today = words.local(at, rules.site.timezone).date()
    return Fed(
        bed=bed,
        entries=entries,
        warmth=warmth,
        now=warmth[-1][1] if fresh else None,
        highest=max(highest, default=None),
        at=at,
        tz=rules.site.timezone,
        units=rules.site.units,
        worms=worms,
        leaves=next_absence(feeders, today),
    )


def _wet(
    store: Store, rules: Rules, bed: Bin, *, past: Past, entries: Sequence[Entry], mass: float | None, at: Millis
) -> Wet:
    probes = _probes(bed, Measures.MOISTURE)
    known = [p for p in probes if p.judged]
    return Wet(
        bed=bed,
        medians=list(_medians(store, known, at)),
        entries=entries,
        at=at,
        tz=rules.site.timezone,
        units=rules.site.units,
        mass=mass,
        blind=tuple(p.id for p in probes if p not in known),
        squeezed=_squeezed(past, bed),
        each={p.id: list(_medians(store, [p], at)) for p in known}
        if len(known) > 1
        else {p.id: () for p in known},
        beyond=dict(_beyond(store, known, at)),
    )


def _beyond(store: Store, probes: Sequence[Probe], at: Millis) -> Iterator[tuple[str, Firm]]:
    """Probes that read beyond their points in the last quarter of a day, with what that says for sure."""
    for probe in probes:
        for bucket in store.spans(probe.id, [at - QUARTER, at + 1]):
            known = firm(probe, bucket.mean)
            if known is not None and known.side and probe.stands(at):
                yield probe.id, known


def _medians(store: Store, probes: Sequence[Probe], at: Millis) -> Iterator[tuple[Millis, float]]:
    """Four times a day the median of the day's quarters, of these probes together."""
    edges = [at - n * QUARTER for n in range(4 * BACK, -1, -1)]
    quarters: dict[Millis, list[float]] = {}
    for probe in probes:
        for bucket in store.spans(probe.id, edges):
            value = percent(probe, bucket.mean) if probe.stands(bucket.start) else None
            if value is not None:
                quarters.setdefault(_edge(edges, bucket.start), []).append(value)
    means = {edge: statistics.fmean(values) for edge, values in quarters.items()}
    for end in edges[1:]:
        day = [means[end - n * QUARTER] for n in range(1, 5) if end - n * QUARTER in means]
        if len(day) >= ENOUGH:
            yield end, statistics.median(day)


def _edge(edges: Sequence[Millis], start: Millis) -> Millis:
    """The edge at which the span begins in which a bucket lies."""
    width = edges[1] - edges[0]
    return edges[0] + (start - edges[0]) // width * width


def _probes(bed: Bin, measures: Measures) -> list[Probe]:
    living = [z for z in bed.zones if z.role is Role.LIVING] or list(bed.zones)
    return [p for zone in living for p in zone.probes if p.measures is measures]


SOON = 2.0
"""Days to the dry limit, or fewer, that are worth a line beside everything else (proposal)."""


def due(store: Store, rules: Rules, at: Millis, beds: Iterable[str]) -> Iterator[tuple[str, str]]:
    """(bin, sentence) where something is due: a look under the cover, the dry limit within SOON days, other points of a probe."""
    entries, past = in_force(store.diary(EVERY), at), store.load()
    for bed in beds:
        one = _care(store, rules, rules.bins[bed], past=past, entries=entries, at=at)
        if one["feed"]["due"] == Due.NOW:
            yield bed, _sentence(one["feed"]["words"])
        yield from ((bed, _sentence(said)) for said in one["water"]["recalibrate"])
        water, first = one["water"], one["water"]["first"]
        if water["days"] is not None and water["days"] <= SOON:
            pour = (
                f"; pour {words.litres(first, first, rules.site.units)} first, and look under the bin"
                if first
                else ""
            )
            yield bed, _sentence(f"{water['words']}{pour}")


def _sentence(said: str) -> str:
    return f"{said[0].upper()}{said[1:]}."


def care_text(facts: CaresShape, saying: Saying) -> str:
    """The same in sentences."""
    return "\n\n".join("\n".join(_lines(one)) for one in facts["bins"]) or "No bin is in the settings."


def _lines(one: CareShape) -> Iterator[str]:
    yield f"{one['name']}:"
    told: FeedShape | WaterShape
    for what, told in (("food", one["feed"]), ("water", one["water"])):
        yield f"  {what}: {told['words']}"
        yield from (f"    {line}" for line in told["more"])
        yield from (f"    not known: {line}" for line in told["lacks"])
    yield from (f"  calibrate: {line}." for line in one["water"]["recalibrate"])
    yield from (f"  heat: {line}" for line in one["heat"]["unusual"])
    yield from (f"    not known: {line}" for line in one["heat"]["lacks"])
    yield from (f"  caution: {sourced(line)}" for line in one["cautions"])
