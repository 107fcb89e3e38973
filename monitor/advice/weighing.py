"""Water by weighing alone: what a scale under a bin says of what it loses, how long until it is too dry, and how much that is.

A scale knows no moisture. What it weighed when a hand said how wet the bed was, or after it was watered, is what everything is
told against. The diary says what else went in and out; what it does not explain is said, and nothing is reckoned across it.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from typing import NamedTuple

from monitor import words
from monitor.advice.dryness import IN_AND_OUT, Dryness
from monitor.bed.drying import words_for
from monitor.diary import Deed, Entry
from monitor.masses import FOOD_STAYS
from monitor.readings import DAY, HOUR, Millis
from monitor.rules import Bin, Units
from monitor.science.squeeze import Band
from monitor.science.units import pounds
from monitor.science.water import POUR_DEPTH, POUR_SHARE, Dose, lost

Weight = tuple[Millis, float]
"""When it was, and the mean mass (kg, less the tare) of the six hours until then."""

LEAST_STEP, STEP_SHARE = 0.5, 0.02
"""kg, and share of its mass, by which six hours may differ from the six before without a word in the diary: a bed that lies open
loses 3 kg of water a day from a square metre at most, 0.25 kg in six hours from a third of one (derived, `science.air`;
proposal)."""
FLOODS = 0.10
"""A step of this share of its mass within six hours is called a flood (proposal: 10 points of a bed's volume)."""
STILL: Millis = 12 * HOUR
"""So far an entry may lie from the step it explains: people write in the evening what they did in the morning (proposal)."""
LEAST_DAYS = 3.0
"""Days that a loss a day is told from (proposal)."""
OLDEST: Millis = 14 * DAY
"""Older weights say little of what a bed loses now (proposal)."""
SETTLES: Millis = 12 * HOUR
"""After a watering what runs through is gone, and the scale at rest (proposal: the probe's own 4 to 12 h)."""
BESIDE: Millis = 2 * DAY
"""How far a squeeze may lie from a weight that it is held beside (proposal)."""
FOLLOWS = 0.02
"""kg/K by which a weighing cell is said to follow the warmth: 10 K between day and night move it by what a bed loses in two or
three days (proposal)."""
SWINGS = 3.0
"""K that the warmth must have moved before anything is said of that (proposal)."""
FOOD_DRY = 0.25
"""Dry share of what a feed leaves in the bed (by definition: 75 % moisture, as in `masses`)."""


@dataclass(frozen=True, slots=True)
class Scale:
    """All that a weighing depends on. `weights` every six hours, oldest first; `warmth` the °C of the same hours, where a
    thermometer of the bin speaks; `low` its dry limit (% wet basis).
    """

    bed: Bin
    weights: Sequence[Weight]
    entries: Sequence[Entry]
    at: Millis
    tz: str
    units: Units = Units.METRIC
    warmth: Sequence[tuple[Millis, float]] = ()
    squeezed: tuple[Millis, Band] | None = None
    low: float | None = None


@dataclass(frozen=True, slots=True)
class Weighed:
    """What the scale says. `rate` in kg a day, `days` (early, late) until the dry limit, `litres` in all and at first."""

    lines: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    rate: float | None = None
    days: tuple[float, float] | None = None
    litres: float | None = None
    first: float | None = None


class Step(NamedTuple):
    """A change that the diary does not explain: between which weights, and by how many kg."""

    start: Millis
    end: Millis
    by: float
    mass: float


def weighed(scale: Scale) -> Weighed:
    """What a scale says of a bin's water."""
    if not scale.weights:
        return Weighed(lacks=("its scale says nothing",))
    steps = list(unexplained(scale))
    lines = [*_step_lines(scale, steps), *_follows_lines(scale)]
    whole = [w for w in scale.weights if w[0] > (steps[-1].end if steps else 0)]
    recent = [w for w in whole if w[0] >= scale.at - OLDEST]
    rate = loss(scale, recent)
    if rate is None:
        since = " since that step" if steps and steps[-1].end > scale.at - LEAST_DAYS * DAY else ""
        return Weighed(tuple(lines), (f"the scale has not weighed it for {LEAST_DAYS:g} days yet{since}",))
    span = (recent[-1][0] - recent[0][0]) / DAY
    lines.append(
        f"By its scale it loses {words.measured(max(rate, 0.0), 'kg', scale.units)} a day, over {span:.0f} days, with what the"
        " diary says went in and out counted off; the little that food turns into gas is in it."
    )
    days, lacks = _days(scale, whole, rate, lines)
    litres, first = _dose(scale, whole, lines)
    return Weighed(tuple(lines), lacks, rate, days, litres, first)


def beside(dry: Dryness, scale: Weighed) -> Dryness:
    """What is said of a bin's water, with what its scale says; by the scale alone where no probe says days or litres."""
    more, lacks = (*dry.more, *scale.lines), (*dry.lacks, *scale.lacks)
    said, days, litres = dry.words, dry.days, dry.litres
    if days is None and scale.days is not None:
        days = (scale.days[0], scale.days[0], scale.days[1])
        ends = "it is at its dry limit, by its weight and the hand"
        said = ends if scale.days[0] <= 0 else f"{words_for(scale.days[0])} {ends}"
    if litres is None and scale.litres is not None and scale.first is not None:
        litres = Dose(scale.litres, scale.litres, scale.first)
    return replace(dry, words=said, days=days, litres=litres, more=more, lacks=lacks)


# ── what it loses ─────────────────────────────────────────────────────────────────────────────────────────────


def put(entries: Sequence[Entry], bed: str, start: Millis, end: Millis) -> float:
    """kg that went into a bin by the diary, less what went out, after `start` until `end`."""
    return sum(
        IN_AND_OUT[e.deed] * e.amount
        for e in entries
        if e.bed == bed and start < e.at <= end and e.deed in IN_AND_OUT and e.amount is not None and _counts(e)
    )


def _counts(entry: Entry) -> bool:
    return entry.unit == "kg" or (entry.unit == "L" and entry.deed in (Deed.WATERED, Deed.DRAINED))


def loss(scale: Scale, weights: Sequence[Weight]) -> float | None:
    """kg a day, the median of the slopes between any two of these weights with what the diary put in taken off (Theil and Sen;
    Sen 1968, J. Am. Stat. Assoc. 63:1379–1389; memory), so that an hour told wrongly moves it little; None for too short a
    time.
    """
    if len(weights) < 4 or weights[-1][0] - weights[0][0] < LEAST_DAYS * DAY:
        return None
    first = weights[0][0]
    days = [(at - first) / DAY for at, _ in weights]
    net = [kg - put(scale.entries, scale.bed.id, first, at) for at, kg in weights]
    return -statistics.median(
        [(b - a) / (later - sooner) for (sooner, a), (later, b) in combinations(zip(days, net, strict=True), 2)]
    )


def unexplained(scale: Scale) -> Iterator[Step]:
    """Each change from one weight to the next that no entry of the diary within half a day explains, oldest first."""
    for (start, before), (end, after) in pairwise(scale.weights):
        least, by = max(LEAST_STEP, STEP_SHARE * before), after - before
        near = [
            e
            for e in scale.entries
            if e.bed == scale.bed.id and e.deed in IN_AND_OUT and start - STILL < e.at <= end + STILL
        ]
        if abs(by) >= least and not _explains(near, by, least):
            yield Step(start, end, by, before)


def _explains(near: Sequence[Entry], by: float, least: float) -> bool:
    """Whether what was done near by can have made a step: nobody said how many kg, or as many are there. Of what was watered some
    may have run through.
    """
    if any(e.amount is None or not _counts(e) for e in near):
        return True
    into = sum(e.amount or 0.0 for e in near if IN_AND_OUT[e.deed] > 0)
    out = sum(e.amount or 0.0 for e in near if IN_AND_OUT[e.deed] < 0 or e.deed is Deed.WATERED)
    return bool(near) and -out - least <= by <= into + least


def _step_lines(scale: Scale, steps: Sequence[Step]) -> Iterator[str]:
    for step in [s for s in steps if s.end >= scale.at - OLDEST][-2:]:
        when = words.clock_time(step.end, scale.tz, scale.at)
        by = words.measured(abs(step.by), "kg", scale.units)
        if step.by >= FLOODS * step.mass:
            yield (
                f"It grew {by} heavier within six hours until {when}, and the diary tells of nothing: that is a flood. Look "
                "under the bin and empty its tray; find where the water comes from."
            )
        elif step.by > 0:
            yield (
                f"It grew {by} heavier until {when}, and the diary tells of nothing: rain, a leak, something laid on it, or a "
                "watering or a feed that nobody wrote down."
            )
        else:
            yield (
                f"It grew {by} lighter at once until {when}, and the diary tells of nothing: leachate that ran off, a tray"
                f" that was emptied (`vermistat diary {scale.bed.id} drained`), a harvest, or something lifted off it."
            )


def _follows_lines(scale: Scale) -> Iterator[str]:
    by = follows(scale)
    if by is not None and abs(by) >= FOLLOWS:
        warm = "heavier" if by > 0 else "lighter"
        yield (
            f"The scale itself follows the warmth, by {words.measured(abs(by), 'kg', scale.units)} for each "
            f"{words.difference(1.0, scale.units)}, {warm} when it is warm: weigh at the same time of day, or go by days."
        )


def follows(scale: Scale) -> float | None:
    """kg/K, how the changes from weight to weight go with those of the warmth; None where warmth hardly moved."""
    warmth = dict(scale.warmth)
    pairs = [
        (warmth[end] - warmth[start], after - before)
        for (start, before), (end, after) in pairwise(scale.weights)
        if start in warmth and end in warmth and end >= scale.at - OLDEST
        and abs(after - before - put(scale.entries, scale.bed.id, start, end)) < LEAST_STEP
        and not put(scale.entries, scale.bed.id, start - STILL, end)
    ]  # fmt: skip
    known = [warmth[at] for at, _ in scale.weights if at in warmth and at >= scale.at - OLDEST]
    if len(pairs) < 12 or max(known) - min(known) < SWINGS or len({k for k, _ in pairs}) < 2:
        return None
    return statistics.linear_regression(*zip(*pairs, strict=True)).slope


# ── how long, and how much ────────────────────────────────────────────────────────────────────────────────────


def _days(
    scale: Scale, whole: Sequence[Weight], rate: float, lines: list[str]
) -> tuple[tuple[float, float] | None, tuple[str, ...]]:
    """Days to the dry limit, between the two ends of what a hand said."""
    if scale.low is None:
        return None, ()
    if scale.squeezed is None:
        return None, ("no hand said how wet it was since the scale weighs it: `vermistat squeeze`",)
    then, band = scale.squeezed
    beside = min(whole, key=lambda w: abs(w[0] - then), default=None)
    if beside is None or abs(beside[0] - then) > BESIDE:
        return None, ("no squeeze lies near a weight of this scale: `vermistat squeeze`",)
    if any(
        e.bed == scale.bed.id and e.at > beside[0] and e.deed in (Deed.BEDDING, Deed.HARVESTED)
        for e in scale.entries
    ):
        return None, ("bedding came or went since the last squeeze: squeeze again",)
    if rate <= 0:
        return None, ()
    ends = []
    for moisture in (band.low, band.high):
        now, kg = moisture_now(scale, beside, moisture, whole[-1])
        ends.append(lost(kg, max(now, scale.low), now=scale.low) / rate if now < 99.9 else math.inf)
    ready = f"{ends[0]:.0f} to {ends[1]:.0f} days" if math.isfinite(ends[1]) else f"{ends[0]:.0f} days or more"
    hand = f"{band.low:.0f} to {band.high:.0f} %"
    weight = _whole(beside[1], scale.units)
    lines.append(
        f"By weighing alone: {ready} to its dry limit of {words.percent(scale.low)}. A hand said {hand} when it weighed "
        f"{weight}, so {_whole(beside[1] * (1 - band.high / 100), scale.units)} to "
        f"{_whole(beside[1] * (1 - band.low / 100), scale.units)} of it are dry, and dry matter stays "
        "(m(A − B)/(1 − B), NRAES-54, seen as quoted)."
    )
    return (ends[0], ends[1]), ()


def moisture_now(scale: Scale, beside: Weight, moisture: float, newest: Weight) -> tuple[float, float]:
    """(% wet basis, kg) now, out of the weight at which a hand said `moisture`, what it weighs now and what was fed since."""
    fed = sum(
        e.amount
        for e in scale.entries
        if e.bed == scale.bed.id
        and beside[0] < e.at <= newest[0]
        and e.deed is Deed.FED
        and e.amount
        and e.unit == "kg"
    )
    dry = beside[1] * (1 - moisture / 100) + fed * FOOD_STAYS * FOOD_DRY
    return (max(0.0, 100 * (1 - dry / newest[1])) if newest[1] > 0 else 0.0), newest[1]


def _dose(scale: Scale, whole: Sequence[Weight], lines: list[str]) -> tuple[float | None, float | None]:
    """Litres straight from the mass that was lost since it was last watered and had settled."""
    pours = [e.at for e in scale.entries if e.bed == scale.bed.id and e.deed is Deed.WATERED and e.at <= scale.at]
    if not pours:
        return None, None
    settled = next((w for w in whole if w[0] >= pours[-1] + SETTLES), None)
    if settled is None or whole[-1][0] - settled[0] < DAY:
        return None, None
    gone = settled[1] + put(scale.entries, scale.bed.id, settled[0], whole[-1][0]) - whole[-1][1]
    litres = max(0.0, gone)
    if litres < LEAST_STEP / 2:
        lines.append("It weighs about what it did after it was last watered: it wants no water now.")
        return 0.0, 0.0
    floor, drains = scale.bed.vessel.floor, scale.bed.vessel.drains
    first = min(litres * POUR_SHARE, POUR_DEPTH * floor if floor else math.inf)
    first = first if drains else first / 2
    was, now = (_whole(w[1], scale.units) for w in (settled, whole[-1]))
    lines.append(
        f"It has lost {words.measured(litres, 'L', scale.units)} since it was last watered ({was} then, {now} now, and what"
        f" went in and out between): so much makes it as wet as it was. First {words.measured(first, 'L', scale.units)} (a third,"
        " no more than 5 L/m² of floor, half without drains; proposal), as warm as the bed; look under the bin first."
    )
    return litres, first


def _whole(kg: float, units: Units) -> str:
    """A weight to ten grams, so that what is lost can be read off two of them: "38.02 kg", "83.82 lb"."""
    return f"{kg:.2f} kg" if units is Units.METRIC else f"{pounds(kg):.2f} lb"
