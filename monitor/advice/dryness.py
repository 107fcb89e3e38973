"""How long until a bed is too dry, and how much water it takes then: from what the probe said, the scale and the diary.

A probe that is not calibrated, or that has left what else is known, gives no days and no litres: a squeezed handful is asked for.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from monitor import words
from monitor.advice.present import MOISTURE_SPREAD
from monitor.advice.scene import limits_of, worm_of
from monitor.bed import drying
from monitor.bed.drying import Drying
from monitor.bed.strayed import FULL, Strayed, strayed
from monitor.diary import Deed, Entry
from monitor.errors import BadValue
from monitor.readings import DAY, HOUR, Measures, Millis
from monitor.rules import Bin, Bound, Units
from monitor.science.moisture import Firm
from monitor.science.squeeze import Band
from monitor.science.water import POUR_DEPTH, Dose, dose, dry_basis, lost

Median = tuple[Millis, float]
"""When it was, and the day's median until then: % wet basis."""

CLIMB = 3.0
"""Points that a bed may not grow wetter in ten days without water, feed or bedding (proposal)."""
CLIMBS_OVER: Millis = 10 * DAY
"""Over so long a climb is held against a probe: by then a bed at rest has lost more than a day's noise (proposal)."""
UNKNOWN_LIKES, ABOVE_LOW = 5.0, 2.0
"""Points above the dry limit that water aims at: where no worm of ours says what it likes, and at least (proposal)."""
SQUEEZE_SPEAKS: Millis = 14 * DAY
"""How old a squeeze may be to be held against a probe (proposal)."""
FRESH: Millis = 2 * DAY
"""How old the newest median may be to be told from: a bed at rest loses a point in that time (proposal)."""
APART, APART_OVER = 5.0, 21 * DAY
"""Points by which a probe may come away from its neighbours in so long: the squeeze's own ± 5, beyond which a hand tells which of
them is wrong (proposal)."""
WEEKLY = 14
"""Medians of a week, of 28, that must be known of both (proposal)."""
ANEW = frozenset({Deed.BEDDING, Deed.HARVESTED, Deed.MOVED})
"""After these a bed dries and holds heat otherwise, and what is usual is learned anew (proposal)."""
AWAY = 5.0
"""Points by which a probe may stray from how its own bed dries, in three weeks: the squeeze's own ± 5 again (proposal; on
simulated beds 0.3 a bed and year stray without cause, own bench `drying`)."""
LATE = 1.0
"""Days by which the line is too late in the mean on simulated beds; taken off (measured: our own bench)."""
HELD = (0.3, 1.0)
"""Shares of a watering that a bed may be said to have kept: less than 0.3 by the probe is a pour that ran past it, more than all
of it is its error (proposal)."""


@dataclass(frozen=True, slots=True)
class Wet:
    """All that water depends on. `medians` four a day, oldest first, of the probes that are calibrated; `blind` are those that
    are not. `squeezed` is the newest squeeze: when, and the band it stands for.
    """

    bed: Bin
    medians: Sequence[Median]
    entries: Sequence[Entry]
    at: Millis
    tz: str
    units: Units = Units.METRIC
    mass: float | None = None
    blind: tuple[str, ...] = ()
    squeezed: tuple[Millis, Band] | None = None
    each: Mapping[str, Sequence[Median]] = field(default_factory=dict)
    """The medians of each calibrated probe by itself."""
    beyond: Mapping[str, Firm] = field(default_factory=dict)
    """Probes that read beyond their points now: at least (1) or at most (−1) so much."""


@dataclass(frozen=True, slots=True)
class Dryness:
    """What is to be said of a bin's water. `days` (likely, early, late) until its own dry limit; `litres` in all and first."""

    words: str
    moisture: float | None = None
    days: tuple[float, float, float] | None = None
    litres: Dose | None = None
    more: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    recalibrate: tuple[str, ...] = ()
    """Which probes want other points, and why."""


def dryness(wet: Wet) -> Dryness:
    """What is to be said of a bin's water."""
    strays = from_its_bed(wet, wet.medians)
    return replace(_dryness(wet, strays), lacks=tuple(_lacks(wet, strays)), recalibrate=tuple(_beyond(wet)))


def _dryness(wet: Wet, strays: Strayed | None) -> Dryness:
    weighed = tuple(_weighed(wet))
    if not wet.medians or wet.at - wet.medians[-1][0] > FRESH:
        return Dryness(_SQUEEZE, more=weighed)
    doubt = doubts(wet, strays)
    if doubt is not None:
        return Dryness(f"{_SQUEEZE}: {doubt}", more=weighed)
    low = limits_of(wet.bed, None, Measures.MOISTURE).low
    state, moisture = learned(wet), wet.medians[-1][1]
    need = _dose(wet, moisture)
    more = (
        *_rate_lines(state),
        *_day_lines(state, low),
        *_kept(wet),
        *_litres(wet, need),
        *_drains(wet, moisture),
        *weighed,
    )
    if low is None:
        return Dryness("it has no dry limit", moisture, None, need, more)
    ends = drying.until(state, low.value)
    limit = words.percent(low.value)
    if ends is None:
        return Dryness("how it dries is being learned since it was watered", moisture, None, need, more)
    days = max(0.0, ends.likely - LATE), max(0.0, ends.early - LATE), ends.late
    if ends.likely <= 0:
        return Dryness(f"it is at its dry limit of {limit}", moisture, (0.0, 0.0, 0.0), need, more)
    said = f"{drying.words_for(days[0])} it is at its dry limit of {limit}"
    return Dryness(said, moisture, days, need, more)


_SQUEEZE = "squeeze a handful and say what it does (`vermistat squeeze`)"


def learned(wet: Wet) -> Drying:
    """The bed's dry-downs, from its medians and the waterings of the diary."""
    pours = sorted(e.at for e in wet.entries if e.bed == wet.bed.id and e.deed is Deed.WATERED)
    state, number = Drying(), 0
    for at, moisture in wet.medians:
        while number < len(pours) and pours[number] <= at:
            state, number = drying.watered(state, pours[number]), number + 1
        if 0 <= moisture < FULL:
            state = drying.seen(state, at, moisture)
    return state


def doubts(wet: Wet, strays: Strayed | None) -> str | None:
    """Why a probe cannot be believed, in a clause; None where nothing speaks against it. `strays` is how it stands to its bed."""
    if wet.squeezed is not None and wet.at - wet.squeezed[0] <= SQUEEZE_SPEAKS:
        then, band = wet.squeezed
        said = _near(wet.medians, then)
        if said is not None and not _agree(said, band):
            hand = f"{band.low:.0f} to {band.high:.0f} %"
            return f"the probe said {words.percent(said)} when the hand said {hand}, so it wants calibrating"
    at, now = wet.medians[-1]
    before = _near(wet.medians, at - CLIMBS_OVER)
    wetting = (Deed.WATERED, Deed.FED, Deed.BEDDING, Deed.HARVESTED, Deed.MOVED)
    touched = any(
        e.bed == wet.bed.id and e.deed in wetting and e.at >= at - CLIMBS_OVER - DAY for e in wet.entries
    )
    if before is not None and now - before > CLIMB and not touched:
        return f"its probe climbed {now - before:.0f} points in ten days, and the diary tells of no water or feed"
    return apart(wet) or _strayed(strays)


def _agree(said: float, band: Band) -> bool:
    return band.low - MOISTURE_SPREAD <= said <= band.high + MOISTURE_SPREAD


def from_its_bed(wet: Wet, medians: Sequence[Median]) -> Strayed | None:
    """How these medians stand to how the bed dries, since a hand last agreed with them; None while that is not known."""
    mine = [e for e in wet.entries if e.bed == wet.bed.id]
    anew = max((e.at for e in mine if e.deed in ANEW), default=0)
    poured = [e.at for e in mine if e.deed in (Deed.WATERED, Deed.DRAINED)]
    trusted = 0
    if wet.squeezed is not None:
        then, band = wet.squeezed
        said = _near(medians, then)
        trusted = then if said is not None and _agree(said, band) else 0
    return strayed(medians, poured, since=anew, trusted=trusted)


def _strayed(found: Strayed | None) -> str | None:
    """That its moisture has left what its own drying explains, in a clause; whether probe or bed did, nobody can say."""
    if found is None or abs(found.points) <= AWAY:
        return None
    wetter = found.points > 0
    away = f"{abs(found.points):.0f} points {'wetter' if wetter else 'drier'}"
    why = "water or feed that nobody wrote down" if wetter else "a mat, an open cover or drier air"
    return f"it is {away} than its usual drying leaves it in three weeks, so the probe drifts, or it was {why}"


def apart(wet: Wet) -> str | None:
    """Which moisture probe has come away from its neighbours in three weeks, in a clause; of two nobody can say which it was."""
    moved = {probe: by for probe in wet.each if (by := _moved(wet, probe)) is not None}
    if not moved:
        return None
    worst = max(moved, key=lambda probe: abs(moved[probe]))
    by = moved[worst]
    if abs(by) <= APART:
        return None
    if len(wet.each) == 2:
        which = _which(wet)
        drifts = "one of them drifts" if which is None else f"one of them drifts: {which}, by how its bed dries"
        return f"{words.joined(list(wet.each))} have come {abs(by):.0f} points apart in three weeks, so {drifts}"
    way = "above" if by > 0 else "below"
    return f"{worst} has come {abs(by):.0f} points further {way} its neighbours in three weeks, so it drifts"


def _which(wet: Wet) -> str | None:
    """Which of two probes alone has left what its bed's drying explains."""
    found = {probe: from_its_bed(wet, medians) for probe, medians in wet.each.items()}
    known = {probe: abs(one.points) for probe, one in found.items() if one is not None}
    left = [probe for probe, points in known.items() if points > AWAY]
    return left[0] if len(known) == len(found) and len(left) == 1 else None


def _moved(wet: Wet, probe: str) -> float | None:
    """Points by which a probe stands further above the others' median than three weeks ago, each time by the median of a week."""
    others = [dict(medians) for id_, medians in wet.each.items() if id_ != probe]
    away = [
        (at, value - statistics.median(beside))
        for at, value in wet.each[probe]
        if (beside := [one[at] for one in others if at in one])
    ]
    newest = wet.each[probe][-1][0] if wet.each[probe] else 0
    now = [by for at, by in away if at > newest - 7 * DAY]
    then = [by for at, by in away if newest - APART_OVER - 7 * DAY < at <= newest - APART_OVER]
    if wet.at - newest > FRESH or len(now) < WEEKLY or len(then) < WEEKLY:
        return None
    return statistics.median(now) - statistics.median(then)


def _beyond(wet: Wet) -> Iterator[str]:
    """What nobody would be told otherwise: beyond its points a probe says at least, or at most, so much, and no more."""
    for probe, known in wet.beyond.items():
        end = words.percent(known.percent)
        if known.side > 0:
            yield (
                f"{probe} reads wetter than its wettest point of {end}, so nobody can say when it is too wet: squeeze a handful,"
                " and calibrate it again with a wetter point"
            )
        else:
            yield (
                f"{probe} reads drier than its driest point of {end}, so nobody can say how dry it is: is it still in the bed?"
                " Squeeze a handful, and calibrate it again with a drier point"
            )


def _near(medians: Sequence[Median], at: Millis) -> float | None:
    near = min(medians, key=lambda one: abs(one[0] - at), default=None)
    return near[1] if near is not None and abs(near[0] - at) <= DAY else None


def _dose(wet: Wet, moisture: float) -> Dose | None:
    if wet.mass is None or limits_of(wet.bed, None, Measures.MOISTURE).low is None:
        return None
    target, vessel = _target(wet), wet.bed.vessel
    try:
        return dose(
            wet.mass,
            moisture,
            target=target,
            uncertainty=MOISTURE_SPREAD,
            floor=vessel.floor,
            drains=vessel.drains,
        )
    except BadValue:
        return None


def _target(wet: Wet) -> float:
    """Where its worms like it (%), a little above the keeper's own dry limit at least."""
    worm, low = worm_of(wet.bed), limits_of(wet.bed, None, Measures.MOISTURE).low
    least = low.value if low is not None else 0.0
    liked = worm.target_moisture[0] if worm is not None else least + UNKNOWN_LIKES
    return max(liked, least + ABOVE_LOW)


def _litres(wet: Wet, need: Dose | None) -> Iterator[str]:
    if need is None or wet.mass is None:
        return
    if need.high <= 0:
        yield "It wants no water now."
        return
    first = (
        f"; first {words.litres(need.first, need.first, wet.units)}, then wait 4 to 12 h and measure"
        if need.first > 0
        else ""
    )
    yield (
        f"To bring {words.kilograms(wet.mass, wet.units)} to where its worms like it: "
        f"{words.litres(need.low, need.high, wet.units)} in all{first} (W = m(B − A)/(1 − B), NRAES-54, seen as quoted; A"
        f" {words.percent(wet.medians[-1][1])} ± {MOISTURE_SPREAD:g}, proposal, B {words.percent(_target(wet))}; first a third,"
        f" no more than {POUR_DEPTH:g} L/m² of floor, half without drains, proposal). Bed-warm water; look under the bin first."
    )


def _rate_lines(state: Drying) -> Iterator[str]:
    rate, _ = drying.rate(state)
    if state.rates:
        yield f"It loses about {rate:.2f} kg of water for each kg dry a day, by {len(state.rates)} dry-downs and this one."
    else:
        yield "No dry-down was lived through to its end yet, so the rate is a first guess (proposal)."


def _day_lines(state: Drying, low: Bound | None) -> Iterator[str]:
    """The arithmetic of the days: X = M/(1 − M) now and at the limit, divided by what is lost a day."""
    slope, error = drying.rate(state)
    if low is None or state.newest is None or slope <= 0:
        return
    now, then = drying.level(state), dry_basis(low.value)
    if now > then:
        yield (
            f"({now:.2f} − {then:.2f} kg of water for each kg dry) / {slope:.3f} ± {error:.3f} a day = {(now - then) / slope:.0f}"
            f" days, less {LATE:g} for a line that is late (own bench). {then:.2f} is {words.percent(low.value)} by definition,"
            f" its dry limit: {low.source} ({low.mark})."
        )


def _kept(wet: Wet) -> Iterator[str]:
    """How much of the last waterings stayed in the bed, by the probe."""
    shares = [share for e in wet.entries if (share := _share(wet, e)) is not None]
    if len(shares) >= 2:
        said = statistics.median(shares[-4:])
        yield f"Of the last {len(shares[-4:])} waterings about {said * 100:.0f} % stayed in the bed, by the probe and its mass."


def _share(wet: Wet, pour: Entry) -> float | None:
    if (
        pour.bed != wet.bed.id
        or pour.deed is not Deed.WATERED
        or pour.unit != "L"
        or not pour.amount
        or wet.mass is None
    ):
        return None
    before, after = _near(wet.medians, pour.at - 6 * HOUR), _near(wet.medians, pour.at + 36 * HOUR)
    if before is None or after is None or not (0 <= before < 99 and 0 <= after < 99):
        return None
    now = wet.medians[-1][1]
    dry = wet.mass * (1 - now / 100)
    share = (dry_basis(after) - dry_basis(before)) * dry / pour.amount
    return min(share, HELD[1]) if share >= HELD[0] else None


def _drains(wet: Wet, moisture: float) -> Iterator[str]:
    high = limits_of(wet.bed, None, Measures.MOISTURE).high
    if high is None or moisture <= high.value or wet.mass is None:
        return
    litres = lost(wet.mass, moisture, now=high.value)
    yield (
        f"It has to lose {words.litres(litres, litres, wet.units)} before it is inside comfort: empty its tray, and never"
        " pour leachate back (common practice)."
    )


def _weighed(wet: Wet) -> Iterator[str]:
    """What two weighings say, whatever the probe does."""
    mine = [e for e in wet.entries if e.bed == wet.bed.id]
    scales = [e for e in mine if e.deed is Deed.WEIGHED and e.amount is not None]
    if len(scales) < 2 or scales[-1].at - scales[-2].at < DAY:
        return
    first, second = scales[-2], scales[-1]
    between = [e for e in mine if first.at < e.at <= second.at and e.amount is not None and e.deed in IN_AND_OUT]
    put = sum(IN_AND_OUT[e.deed] * (e.amount or 0.0) for e in between if e.unit in ("kg", "L"))
    days = (second.at - first.at) / DAY
    gone = ((first.amount or 0.0) + put - (second.amount or 0.0)) / days
    if gone <= 0 or not math.isfinite(gone):
        return
    both = [words.kilograms(one.amount or 0.0, wet.units) for one in (first, second)]
    yield (
        f"By its weight it loses {words.litres(gone, gone, wet.units)} a day ({both[0]} to {both[1]} in {days:.0f} days,"
        " with what went in and out between)."
    )
    yield from _by_weight(wet, first, second, gone)


IN_AND_OUT = {
    Deed.WATERED: 1,
    Deed.FED: 1,
    Deed.BEDDING: 1,
    Deed.WORMS_ADDED: 1,
    Deed.HARVESTED: -1,
    Deed.WORMS_TAKEN: -1,
    Deed.DRAINED: -1,
}
"""What goes into a bin (1) or out of it (−1), a litre of water being a kg (definition)."""


def _by_weight(wet: Wet, first: Entry, second: Entry, gone: float) -> Iterator[str]:
    """Days until the dry limit by weighing alone, where a hand said how wet it was at one of them."""
    low = limits_of(wet.bed, None, Measures.MOISTURE).low
    if wet.squeezed is None or low is None or second.amount is None:
        return
    then, band = wet.squeezed
    if abs(then - second.at) > 2 * DAY:
        return
    ends = [lost(second.amount, max(end, low.value), now=low.value) / gone for end in (band.low, band.high)]
    yield f"By weighing alone and the squeeze beside it: {ends[0]:.0f} to {ends[1]:.0f} days to its dry limit."


def _lacks(wet: Wet, strays: Strayed | None) -> Iterator[str]:
    if wet.blind:
        yield f"{words.joined(wet.blind)} {'is' if len(wet.blind) == 1 else 'are'} not calibrated"
    elif not wet.medians or wet.at - wet.medians[-1][0] > FRESH:
        yield "no moisture probe speaks"
    alone = next(iter(wet.each)) if len(wet.each) == 1 else None
    if alone is not None and (wet.squeezed is None or wet.at - wet.squeezed[0] > SQUEEZE_SPEAKS):
        shows = (
            "against how its bed dries"
            if strays is not None
            else "as a climb, until seven weeks of its drying are known"
        )
        yield (
            f"{alone} has no probe beside it and no hand was squeezed for two weeks, so a drift of it shows only {shows}:"
            " `vermistat squeeze`"
        )
    if wet.mass is None:
        yield "nobody says how much `bedding` it holds, so no litres are told"
