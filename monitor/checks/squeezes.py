"""What a squeeze of the hand says where no calibrated probe speaks: an observation with its own uncertainty.

It is dry or wet only when the whole band of the feel lies beyond the limit. It speaks for a while; an alarm that it raised
stands until another squeeze, or a probe, says otherwise.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from monitor.checks.arithmetic import quantity
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding, Subject
from monitor.checks.memory import ProbeMemory, is_fresh
from monitor.checks.values import percent
from monitor.checks.watches import subjects
from monitor.readings import DAY, Measures, Millis
from monitor.rules import Bin, Bound, Level, Limits, Rules, Zone
from monitor.science.squeeze import SAID, Band, Feel, band

SQUEEZE = "squeeze"
"""The kind of their documents among those that stand between rounds."""

SPEAKS: Millis = 3 * DAY
"""How long a squeeze speaks for a bed: an open bed loses a few points in so long (proposal)."""

STATISTIC = "squeeze of the hand"

_SIDES = ((True, Condition.DRY), (False, Condition.WET))


@dataclass(frozen=True, slots=True)
class Squeeze:
    """One squeeze of a handful: when, what it did, and whose hand it was."""

    at: Millis
    feel: Feel
    who: str


Squeezes = Mapping[str, Squeeze]
"""The newest by `bin:fig` (the whole bin) or `zone:fig.west`."""


def squeeze_text(one: Squeeze) -> str:
    """A squeeze as the store keeps it."""
    return json.dumps([one.at, one.feel, one.who])


def squeeze_of(text: str) -> Squeeze:
    """The squeeze of such a text."""
    at, feel, who = json.loads(text)
    return Squeeze(at, Feel(feel), who)


def squeezes_in(standing: Mapping[tuple[str, str], str]) -> dict[str, Squeeze]:
    """Those among what stands between rounds."""
    return {key: squeeze_of(body) for (kind, key), body in standing.items() if kind == SQUEEZE}


def can_be_squeezed(rules: Rules, name: str) -> bool:
    """Whether `bin:fig` or `zone:fig.west` is a bin of the settings, or a zone of one."""
    kind, _, id_ = name.partition(":")
    bed, _, zone = id_.partition(".")
    known = rules.bins.get(bed)
    return known is not None and (kind == "bin" or any(z.id == zone for z in known.zones))


def keys_of(bed: Bin) -> Iterator[AlarmKey]:
    """What a squeeze can raise in a bin."""
    for subject, _, climate in subjects(bed):
        if Measures.MOISTURE in climate:
            yield from (AlarmKey(subject, condition) for _, condition in _SIDES)


def of_zone(bed: Bin, zone: Zone, squeezes: Squeezes) -> Squeeze | None:
    """The newest squeeze that speaks for a zone: its own, or one of the whole bin."""
    found = [squeezes.get(f"zone:{bed.id}.{zone.id}"), squeezes.get(f"bin:{bed.id}")]
    return max((one for one in found if one is not None), key=lambda one: one.at, default=None)


def look_at_squeezes(
    beds: Iterable[Bin],
    squeezes: Squeezes,
    *,
    memory: Mapping[str, ProbeMemory],
    standing: Collection[AlarmKey],
    now: Millis,
) -> list[Finding]:
    """What the squeezes of the last days say of the subjects for which no calibrated probe speaks. `standing` are the keys of
    the alarms whose condition is there.
    """
    if not squeezes:
        return []
    touched = {key.partition(":")[2].partition(".")[0] for key in squeezes}
    return [
        finding
        for bed in beds
        if bed.id in touched
        for subject, zones, climate in subjects(bed)
        if Measures.MOISTURE in climate and not _probe_speaks(zones, memory, now)
        for finding in _of_subject(
            _Hand(bed, subject, climate[Measures.MOISTURE], dict(_known(bed, zones, squeezes, now=now))), standing
        )
    ]


@dataclass(frozen=True, slots=True)
class _Hand:
    """One subject with what the hand says of each of its zones."""

    bed: Bin
    subject: Subject
    limits: Limits
    zones: Mapping[str, tuple[Squeeze, Band]]


def _known(
    bed: Bin, zones: Iterable[Zone], squeezes: Squeezes, *, now: Millis
) -> Iterator[tuple[str, tuple[Squeeze, Band]]]:
    for zone in zones:
        one = of_zone(bed, zone, squeezes)
        if one is not None and now - one.at <= SPEAKS:
            yield zone.id, (one, band(one.feel, bed.made_of))


def _probe_speaks(zones: Iterable[Zone], memory: Mapping[str, ProbeMemory], now: Millis) -> bool:
    probes = [p for zone in zones for p in zone.probes if p.measures is Measures.MOISTURE and p.judged]
    return any(
        (kept := memory.get(p.id)) is not None and is_fresh(p, kept, at=now) and percent(p, kept.value) is not None
        for p in probes
    )


def _of_subject(hand: _Hand, standing: Collection[AlarmKey]) -> Iterator[Finding]:
    for below, condition in _SIDES if hand.zones else ():
        key = AlarmKey(hand.subject, condition)
        # the best zone decides, and of it the end of the band that lies nearest to all right
        zone, (one, feel) = (max if below else min)(
            hand.zones.items(), key=lambda item: item[1][1].high if below else item[1][1].low
        )
        met = _met(hand.limits, feel, below=below)
        if met is not None:
            level, bound = met
            evidence = _evidence(hand, zone, one=one, feel=feel, bound=bound, below=below)
            yield Finding(key, level, one.at, one.at, evidence)
        elif key in standing:
            yield from _over(hand, key, zone, one=one, feel=feel, below=below)


def _met(limits: Limits, feel: Band, *, below: bool) -> tuple[Level, Bound] | None:
    """The worst limit that the whole band lies beyond. A squeeze is one moment, so no delay is asked of it."""
    harms = [h.bound for h in limits.harm if h.below is below and _beyond(feel, h.bound, below=below)]
    if harms:
        return Level.HARM, (min if below else max)(harms, key=lambda b: b.value)
    comfort = limits.low if below else limits.high
    return (Level.COMFORT, comfort) if comfort and _beyond(feel, comfort, below=below) else None


def _beyond(feel: Band, bound: Bound, *, below: bool) -> bool:
    return feel.high <= bound.value if below else feel.low >= bound.value


def _over(hand: _Hand, key: AlarmKey, zone: str, *, one: Squeeze, feel: Band, below: bool) -> Iterator[Finding]:
    """The end of an alarm: the middle of the band is back inside."""
    bound = hand.limits.low if below else hand.limits.high
    if bound is not None and (feel.middle > bound.value if below else feel.middle < bound.value):
        evidence = _evidence(hand, zone, one=one, feel=feel, bound=bound, below=below)
        yield Finding(key, None, one.at, one.at, evidence)


def _evidence(hand: _Hand, zone: str, *, one: Squeeze, feel: Band, bound: Bound, below: bool) -> Evidence:
    value = feel.high if below else feel.low
    met = _beyond(feel, bound, below=below)
    where = f"{zone}: " if len(hand.zones) > 1 else ""
    side = "below" if below else "above"
    how = f"wholly at or {side}" if met else f"its middle {quantity(feel.middle, '%')} no longer {side}"
    text = (
        f"{where}a squeezed handful: {SAID[one.feel]}, in {hand.bed.made_of} bedding {feel.low:g} to {feel.high:g} % "
        f"({feel.source} [{feel.mark}]), {how} {quantity(bound.value, '%')}"
    )
    clear = bound.value + (hand.limits.deadband if below else -hand.limits.deadband)
    return Evidence(
        text,
        value=value,
        bound=bound.value,
        unit="%",
        source=bound.source,
        mark=bound.mark,
        zone=zone,
        below=below,
        clear_at=clear,
        statistic=STATISTIC,
        side=-1 if below else 1,
    )
