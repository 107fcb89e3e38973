"""Every probe with what is known of it: heard, believed, refused, placed and calibrated; the worst first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypedDict

from monitor import words
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Kind
from monitor.checks.memory import interval, middle
from monitor.checks.trend import SLOT, Trend, trends
from monitor.diary import Deed, Entry, in_force
from monitor.intake.publishers import KIND as PUBLISHER
from monitor.intake.publishers import Publisher, publishers_in
from monitor.readings import DAY, MINUTE, Beside, Measures, Millis, Refusal
from monitor.reports.notes import plain
from monitor.reports.probes import Heard, doubt, heard, judged_value, value_facts
from monitor.reports.publishers import wired_facts, wired_words
from monitor.reports.saying import RAW, Saying, instant, millis, value_words
from monitor.reports.shapes import ProbeRowShape, ProbesShape, RefusedShape
from monitor.rules import Bin, Probe, Rules, Unit
from monitor.science.moisture import firm
from monitor.science.points import Felt, Proposed, proposed
from monitor.science.squeeze import Feel, band
from monitor.store.promises import Store

SHARED = 100
"""Of so many probes at most the share of good readings in a day is counted: that reads a day of each."""
LOOKED_AT = 1000
"""So many of the newest refusals are looked through for the last reason."""
BESIDE: Millis = 30 * MINUTE
"""How far from a squeeze a probe's reading may lie to be one beside it (proposal)."""
HANDS = 10_000
"""So many of the newest diary entries are looked through for squeezes."""
DISAGREES = 5.0
"""Points by which a calibrated probe must miss the whole band of a squeeze to be doubted (a hand is good to ±5)."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A probe and where it stands: `fig.west` in its bin, or a place's air."""

    probe: Probe
    where: str
    bed: Bin | None


@dataclass(frozen=True, slots=True)
class _Table:
    """What is asked of the store once, for all probes."""

    store: Store
    saying: Saying
    heard: Mapping[str, Heard]
    trouble: Mapping[str, Sequence[Alarm]]
    refused: Mapping[str, Sequence[RefusedShape]]
    contradicted: Mapping[str, int]
    undated: Mapping[str, int]
    squeezes: Sequence[Entry]
    shared: bool
    beside: Mapping[str, Beside]
    publishers: Mapping[str, Publisher]


def placed(rules: Rules, at: Millis, bed: str | None = None) -> list[Placed]:
    """Every probe, or those of one bin, once: where it stands at that time, else where it is written last."""
    air = (
        [Placed(p, place.id, None) for place in rules.places.values() for p in place.probes] if bed is None else []
    )
    beds = [b for b in rules.bins.values() if bed in (None, b.id)]
    every = air + [Placed(p, f"{b.id}.{z.id}", b) for b in beds for z in b.zones for p in z.probes]
    here = {one.probe.id for one in every if one.probe.stands(at)}
    last = {one.probe.id: one for one in every if one.probe.id not in here}
    return [one for one in every if one.probe.stands(at) or last.get(one.probe.id) is one]


def probes_facts(store: Store, rules: Rules, at: Millis, *, bed: str | None = None) -> ProbesShape:
    """Every probe of the site, or of one bin, the worst first."""
    saying, mine = Saying(rules, at), placed(rules, at, bed)
    table = _table(store, saying, mine)
    rows = [_row(one, table) for one in mine]
    order = sorted(range(len(rows)), key=lambda n: (-worst(rows[n]), n))
    return {"at": instant(at), "bin": bed, "probes": [rows[n] for n in order]}


def _table(store: Store, saying: Saying, mine: Sequence[Placed]) -> _Table:
    trouble: dict[str, list[Alarm]] = defaultdict(list)
    for alarm in store.load().alarms:
        if alarm.active and alarm.key.subject.kind is Kind.PROBE:
            trouble[alarm.key.subject.id].append(alarm)
    undated: dict[str, int] = defaultdict(int)
    for one in store.undated(LOOKED_AT):
        undated[one.probe] += 1
    return _Table(
        store=store,
        saying=saying,
        heard=heard(store, [one.probe for one in mine]),
        trouble=trouble,
        refused=_refused(store, [one.probe for one in mine]),
        contradicted=store.contradictions(),
        undated=undated,
        squeezes=[e for e in in_force(store.diary(HANDS), saying.at) if e.deed is Deed.SQUEEZED],
        shared=len(mine) <= SHARED,
        beside=store.beside(),
        publishers=publishers_in(store.standing(PUBLISHER)),
    )


def _refused(store: Store, probes: Sequence[Probe]) -> dict[str, list[RefusedShape]]:
    """By probe: how often what came for it on its topic was ever refused, by kind, with the newest reason."""
    last: dict[tuple[str, str, str | None], Refusal] = {}
    for refusal in store.refusals(LOOKED_AT):
        last[refusal.topic, str(refusal.kind), refusal.probe] = refusal
    counts: dict[str, dict[str, int]] = defaultdict(dict)
    for (topic, kind), count in store.refusal_counts().items():
        counts[topic][kind] = count
    found: dict[str, list[RefusedShape]] = defaultdict(list)
    for probe in probes:
        for kind, count in counts.get(probe.source.topic, {}).items():
            newest = last.get((probe.source.topic, kind, probe.id)) or last.get((probe.source.topic, kind, None))
            others = [key for key in last if key[:2] == (probe.source.topic, kind)]
            if newest is None and others:
                continue  # what was refused there was for another probe of the same message
            found[probe.id].append(
                {
                    "kind": kind,
                    "count": count,
                    "last": plain(newest.reason) if newest else None,
                    "at": instant(newest.received_at) if newest else None,
                }
            )
    return found


def _row(one: Placed, table: _Table) -> ProbeRowShape:
    probe, known, saying = one.probe, table.heard[one.probe.id], table.saying
    value = value_facts(known, saying)
    every = interval(probe, known.memory)
    count, share = _day(table.store, probe, saying.at) if table.shared else (None, None)
    points = _suggestion(one, table)
    return {
        "probe": probe.id,
        "measures": str(probe.measures),
        "placed": one.where,
        "topic": probe.source.topic,
        "heard": instant(known.memory.heard) if known.memory.heard is not None else None,
        "every_seconds": every // 1000 if every else None,
        "every_is_told": probe.every is not None,
        "value": value["value"],
        "unit": value["unit"],
        "age_seconds": value["age_seconds"],
        "fresh": value["fresh"],
        "quality": known.newest.quality.name.lower().replace("_", " ") if known.newest else None,
        "readings_of_a_day": count,
        "good_share": share,
        "alarms": [a.number for a in table.trouble.get(probe.id, ())],
        "trouble": [str(a.key.condition) for a in table.trouble.get(probe.id, ())],
        "doubt": doubt(known, saying),
        "refused": list(table.refused.get(probe.id, ())),
        "contradicted": table.contradicted.get(probe.id, 0),
        "undated": table.undated.get(probe.id, 0),
        "calibration": _calibration(probe, saying),
        **_beside(table.beside.get(probe.source.topic)),
        "trend": _trend(probe, table),
        "hand": _hand(one, table),
        "suggested": list(_lines(points)) if points else [],
        "wired": wired_facts(probe, table.publishers),
    }


class _BesideShape(TypedDict):
    battery: float | None
    battery_unit: str
    signal: float | None
    signal_unit: str


def _beside(told: Beside | None) -> _BesideShape:
    one = told or Beside("")
    return {
        "battery": one.battery,
        "battery_unit": one.battery_unit,
        "signal": one.signal,
        "signal_unit": one.signal_unit,
    }


def told_words(value: float | None, unit: str) -> str:
    """A battery or a signal as it was told: "81 %", "−67 dBm", "81 as sent"; empty when it never was."""
    return "" if value is None else f"{value:.6g} {unit or RAW}".replace("-", "−")


def _day(store: Store, probe: Probe, at: Millis) -> tuple[int, float | None]:
    """How many readings of the last day there are, and which share of them is trusted."""
    day = store.window(probe.id, at - DAY, at + 1)
    return len(day), round(sum(r.quality.trusted for r in day) / len(day), 4) if day else None


def _calibration(probe: Probe, saying: Saying) -> str:
    if probe.measures is Measures.MOISTURE:
        if not probe.judged:
            return "none: shown, not judged"
        days = [p.taken for p in probe.calibration if p.taken is not None]
        return f"{len(probe.calibration)} points" + (f", the oldest of {min(days).isoformat()}" if days else "")
    if probe.offset or probe.scale != 1.0:
        by = words.shifted(abs(probe.offset), probe.measures, saying.units)
        parts = [f"times {probe.scale:g}"] if probe.scale != 1.0 else []
        parts += [f"{'plus' if probe.offset > 0 else 'minus'} {by}"] if probe.offset else []
        return ", ".join(parts)
    return "as it speaks"


# ── moisture: which way it goes, and what hands have said ─────────────────────────────────────────────────────


def _trend(probe: Probe, table: _Table) -> str | None:
    """Which way a probe without points goes, the longer span first."""
    if probe.measures is not Measures.MOISTURE or probe.judged:
        return None
    return trend_words(probe, table.store, table.saying.at)


def trend_words(probe: Probe, store: Store, at: Millis) -> str:
    """Which way a moisture probe without points goes: over a week if that shows, else over a day."""
    slots = [(b.start, b.mean) for b in store.buckets(probe.id, at - 8 * DAY, at, SLOT)]
    found = trends(slots, at)
    if not found:
        return "which way it goes is not known yet: that takes two days"
    moved = [t for t in reversed(found) if t.moved]
    return _moved(probe, moved[0]) if moved else "neither wetter nor drier than its own noise, over a day"


def _moved(probe: Probe, trend: Trend) -> str:
    span = "a day" if trend.days == 1 else "a week"
    by = f"{abs(trend.change):.4g} (noise {trend.error:.2g})"
    if probe.source.sends is Unit.COUNTS:
        way = "fell" if trend.change < 0 else "rose"
        most = "wetter" if trend.change < 0 else "drier"
        return f"its counts {way} by {by} in {span}: {most}, if it is a board that reads less the wetter it is"
    return f"{'wetter' if trend.change > 0 else 'drier'} than {span} ago, by {by} of what it sends"


def _felt(one: Placed, table: _Table) -> Iterator[tuple[Felt, Entry]]:
    """Every squeeze that was of this probe's zone, with what the probe sent beside it."""
    if one.bed is None or one.probe.measures is not Measures.MOISTURE:
        return
    for entry in table.squeezes:
        feel = entry.text.partition(";")[0].strip()
        if entry.subject not in (f"zone:{one.where}", f"bin:{one.bed.id}") or feel not in list(Feel):
            continue
        near = table.store.window(one.probe.id, entry.at - BESIDE, entry.at + BESIDE + 1)
        sent = [r.value for r in near if r.quality.trusted]
        if sent:
            day = words.local(entry.at, table.saying.rules.site.timezone).date()
            yield Felt(middle(sent), Feel(feel), band(Feel(feel), one.bed.made_of), day), entry


def _suggestion(one: Placed, table: _Table) -> tuple[Proposed, Proposed] | None:
    if one.probe.judged or one.probe.source.sends is not Unit.COUNTS:
        return None
    return proposed(felt for felt, _ in _felt(one, table))


def _lines(points: Sequence[Proposed]) -> Iterator[str]:
    """YAML to paste below the probe."""
    yield "sends: counts"
    yield "calibration:"
    for point in points:
        yield f"  - {{counts: {point.counts:.6g}, moisture: {point.moisture:g} %, taken: {point.day.isoformat()}}}"


def _hand(one: Placed, table: _Table) -> str | None:
    """What the newest squeeze says of a calibrated probe, where the two cannot both be right."""
    felt = list(_felt(one, table)) if one.probe.judged else []
    if not felt:
        return None
    last, entry = felt[-1]
    known = firm(one.probe, last.counts)
    if known is None or (last.band.low - DISAGREES <= known.percent <= last.band.high + DISAGREES):
        return None
    return (
        f"a hand felt {last.band.low:g} to {last.band.high:g} % at {table.saying.clock(entry.at)}, while it read "
        f"{words.percent(judged_value(one.probe, last.counts))}: calibrate it again"
    )


# ── in sentences ──────────────────────────────────────────────────────────────────────────────────────────────


SHOWN = 40
"""So many probes with which something is the matter are told at once; the rest by bin."""


def is_well(row: ProbeRowShape) -> bool:
    """Whether nothing at all is the matter with a probe."""
    return worst(row) == 0


def worst(row: ProbeRowShape) -> int:
    """How much is the matter: an alarm, a doubt or a hand that disagrees, silence from the first, what was refused, else 0."""
    if row["alarms"]:
        return 5
    if row["doubt"] or row["hand"]:
        return 4
    if row["heard"] is None or not row["fresh"]:
        return 3
    if row["good_share"] is not None and row["good_share"] < 0.99:
        return 2
    return 1 if row["refused"] or row["contradicted"] or row["undated"] or row["suggested"] else 0


def probes_text(facts: ProbesShape, saying: Saying) -> str:
    """The same in sentences: first what is the matter, then the rest, on a large site only counted."""
    rows = facts["probes"]
    bad, well = [r for r in rows if not is_well(r)], [r for r in rows if is_well(r)]
    whose = f" of {facts['bin']}" if facts["bin"] else ""
    lines = [
        f"{words.amount(len(rows), 'probe')}{whose}: {len(well)} as {'they' if len(rows) > 1 else 'it'} should be."
    ]
    for row in bad[:SHOWN]:
        lines += ["", *_of_one(row, saying)]
    if len(bad) > SHOWN:
        lines += ["", f"{len(bad) - SHOWN} more with which something is the matter: `vermistat probes --bin BIN`."]
    if len(well) > SHOWN and not facts["bin"]:
        return "\n".join([*lines, "", f"The other {len(well)} are heard and believed; `--bin BIN` shows them."])
    for row in well:
        lines += ["", *_of_one(row, saying)]
    return "\n".join(lines)


def _of_one(row: ProbeRowShape, saying: Saying) -> Iterator[str]:
    yield f"{row['probe']} ({row['measures']}, {row['placed']}, {row['topic']}): {speaks(row, saying)}"
    for line in troubles(row, saying):
        yield f"  {line}"
    if row["suggested"]:
        yield "  Two handfuls lie far enough apart to calibrate it by hand, to five points at best. Below it, write:"
        yield from (f"      {line}" for line in row["suggested"])


def speaks(row: ProbeRowShape, saying: Saying) -> str:
    """What it said last, how long ago, how often it speaks, and how it is calibrated."""
    if row["heard"] is None:
        return "never heard."
    ago = saying.ago(millis(row["heard"]))
    every = "" if row["every_seconds"] is None else f", every {words.duration(row['every_seconds'] * 1000)}"
    learned = " (learned)" if every and not row["every_is_told"] else ""
    good = ""
    if row["good_share"] is not None:
        good = f"; {100 * row['good_share']:.4g} % of {row['readings_of_a_day']:,} in a day good"
    value = ""
    if row["value"] is not None:
        value = f"{value_words(row['value'], row['unit'], saying.units)}, "
    return f"{value}heard {ago} ago{every}{learned}{good}{_itself(row)}; calibration: {row['calibration']}."


def _itself(row: ProbeRowShape) -> str:
    battery = told_words(row["battery"], row["battery_unit"])
    signal = told_words(row["signal"], row["signal_unit"])
    return f"{f'; battery {battery}' if battery else ''}{f'; signal {signal}' if signal else ''}"


def troubles(row: ProbeRowShape, saying: Saying) -> Iterator[str]:
    """All that is the matter with it, a sentence each."""
    for number, condition in zip(row["alarms"], row["trouble"], strict=True):
        yield f"{condition.capitalize()}: alarm {number}."
    if row["doubt"]:
        yield f"It {row['doubt']}."
    if row["hand"]:
        yield f"{row['hand'][:1].upper()}{row['hand'][1:]}."
    if row["heard"] is not None and not row["fresh"]:
        yield "No good value that is recent enough to be judged by."
    if row["trend"]:
        yield f"Without points: {row['trend']}."
    for refused in row["refused"]:
        last = f", the last {saying.when(millis(refused['at']))}: {refused['last']}" if refused["at"] else "."
        yield f"Refused {words.amount(refused['count'], 'message')} ({refused['kind']}){last}"
    if row["wired"]:
        yield from wired_words(row["wired"], saying)
    if row["contradicted"]:
        yield f"Gave another value for a moment it had spoken of {words.amount(row['contradicted'], 'time')}: the first counts."
    if row["undated"]:
        yield f"{words.amount(row['undated'], 'value')} from a time nobody knows."
