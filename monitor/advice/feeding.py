"""When to look under the cover, and how much to feed then. Never an alarm: it is read when somebody asks, by day.

A clock of warmth says when the last feed is likely gone; whoever looks decides. What is not known is said, not guessed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from monitor import words
from monitor.advice.scene import limits_of, worm_of
from monitor.diary import Deed, Entry
from monitor.readings import DAY, Measures, Millis
from monitor.rules import Bin, Units
from monitor.science import clocks, feed
from monitor.science.bands import ColdMeans, Species

LEAVES_WITHIN = 2
"""Days before a departure in which nothing new is fed (common practice: fresh food heats and sours first)."""
LONGEST_FEED = 7
"""Days for which one feed is meant at most (proposal)."""


class Due(StrEnum):
    """What the clock says."""

    NOW = "look now"
    LATER = "later"
    NOT = "not now"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Fed:
    """All that feeding depends on. `warmth` holds (when a day began, its mean °C in the living zones), oldest first; `now` and
    `highest` are °C of the last day; `leaves` is the next absence of everybody who may feed, or the one that runs.
    """

    bed: Bin
    entries: Sequence[Entry]
    warmth: Sequence[tuple[Millis, float]]
    now: float | None
    highest: float | None
    at: Millis
    tz: str
    units: Units = Units.METRIC
    worms: float | None = None
    leaves: tuple[date, date] | None = None


@dataclass(frozen=True, slots=True)
class Feeding:
    """What to do about food: whether to look, in words, how many kg (from, to), and what stands behind it."""

    due: Due
    words: str
    days: float | None = None
    """Until a look is due; 0 when it is."""
    kilos: tuple[float, float] | None = None
    more: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()


def feeding(fed: Fed) -> Feeding:
    """What to do about the food of a bin."""
    worm, more = worm_of(fed.bed), tuple(_besides(fed))
    stop = _stop(fed, worm)
    if stop is not None:
        return Feeding(Due.NOT, stop, more=more)
    last = _last_feed(fed)
    if worm is None or fed.now is None or last is None:
        return Feeding(
            Due.UNKNOWN, "look under the cover when you pass", more=more, lacks=tuple(_lacks(fed, worm, last))
        )
    clock, slow = feed.CLOCKS[worm.cold_means], _slow_food(last)
    gone = _gone(fed, last, clock) / (feed.SLOW if slow else 1.0)
    left = _left(fed, gone, last, clock=clock, slow=slow is not None)
    kilos = _kilos(fed, clock)
    lacks = tuple(_lacks(fed, worm, last))
    more = (*_reckoned(fed, last, gone, clock=clock, slow=slow), *_amount_lines(fed, kilos, clock), *more)
    if left <= 0:
        return Feeding(
            Due.NOW,
            f"look under the cover; if the last feed is gone, feed {_so_much(fed, kilos)}",
            0.0,
            kilos,
            more,
            lacks,
        )
    ahead = math.ceil(left)
    said = f"nothing yet: the last feed is likely gone in {'a day' if ahead == 1 else f'about {ahead} days'}"
    return Feeding(Due.LATER, said, left, kilos, more, lacks)


# ── what stops it ─────────────────────────────────────────────────────────────────────────────────────────────


def _stop(fed: Fed, worm: Species | None) -> str | None:
    limits = limits_of(fed.bed, None, Measures.TEMPERATURE)
    today = words.local(fed.at, fed.tz).date()
    if fed.leaves is not None and fed.leaves[0] - timedelta(days=LEAVES_WITHIN) <= today <= fed.leaves[1]:
        gone = fed.leaves[0] <= today
        when = "while everybody is away" if gone else f"new before {fed.leaves[0]:%-d %B}, when everybody is away"
        return f"feed nothing {when}"
    if limits.high and fed.highest is not None and fed.highest >= limits.high.value - feed.HOT_MARGIN:
        top = words.temperature(fed.highest, fed.units)
        return f"feed nothing while it is that warm ({top} within a day): food heats as it rots"
    if (
        limits.low
        and fed.now is not None
        and fed.now < limits.low.value
        and fed.bed.vessel.kind not in feed.KEEPS_WARM
    ):
        if worm is None or worm.cold_means is ColdMeans.ACT:
            return "feed nothing until it is warm again: they hardly eat in the cold"
        if any(h.below and fed.now <= h.bound.value for h in limits.harm):
            return "feed nothing while it is near freezing"
    return None


def next_absence(away: Sequence[Sequence[tuple[date, date]]], today: date) -> tuple[date, date] | None:
    """From when to when everybody of these is away, the next or the present time; None when somebody always stays."""
    if not away or not all(away):
        return None
    days = sorted({day for each in away for span in each for day in _days(span) if day >= today})
    common = [day for day in days if all(any(a <= day <= b for a, b in each) for each in away)]
    if not common:
        return None
    end = common[0]
    for day in common[1:]:
        if day - end > timedelta(days=1):
            break
        end = day
    return common[0], end


def _days(span: tuple[date, date]) -> Iterator[date]:
    return (span[0] + timedelta(days=n) for n in range(min((span[1] - span[0]).days, 400) + 1))


# ── the clock ─────────────────────────────────────────────────────────────────────────────────────────────────


def _last_feed(fed: Fed) -> Entry | None:
    return next(
        (e for e in reversed(fed.entries) if e.bed == fed.bed.id and e.deed is Deed.FED and e.at <= fed.at), None
    )


def _spans(fed: Fed, since: Millis) -> list[tuple[float, float]]:
    """(days, °C) since then; a day that nobody measured counts as the last one before it."""
    found, known = [], None
    for (begins, celsius), after in zip(fed.warmth, [*(b for b, _ in fed.warmth[1:]), fed.at], strict=True):
        known = celsius
        length = (min(after, fed.at) - max(begins, since)) / DAY
        if length > 0:
            found.append((length, known))
    return found


def _gone(fed: Fed, last: Entry, clock: feed.FeedClock) -> float:
    """How much of the last feed is gone, 1 being all: by what worms eat where both masses are known, else by degree-days."""
    limits = limits_of(fed.bed, None, Measures.TEMPERATURE)
    top = limits.high.value if limits.high else math.inf
    spans = _spans(fed, last.at)
    if fed.worms and last.amount and last.unit == "kg":
        eaten = sum(
            days * fed.worms * min(clocks.rate_at(celsius, rate=feed.MOST, at=feed.APPETITE_AT), feed.MOST)
            for days, celsius in spans
            if celsius <= top
        )
        return eaten / last.amount
    return clocks.summed(spans, base=clock.base, most=top) / clock.again


def _left(fed: Fed, gone: float, last: Entry, *, clock: feed.FeedClock, slow: bool) -> float:
    """Days until a look is due."""
    longest = clock.longest - (fed.at - last.at) / DAY
    if gone >= 1 or longest <= 0 or fed.now is None:
        return 0.0
    elapsed = max((fed.at - last.at) / DAY, 0.25)
    speed = gone / elapsed if gone > 0 else 0.0
    if speed <= 0:
        speed = max(fed.now - clock.base, 0.0) / clock.again / (feed.SLOW if slow else 1.0)
    return min(longest, (1 - gone) / speed) if speed > 0 else longest


# ── how much ──────────────────────────────────────────────────────────────────────────────────────────────────


def _age(fed: Fed) -> float | None:
    started = fed.bed.started
    return None if started is None else float((words.local(fed.at, fed.tz).date() - started).days)


def _kilos(fed: Fed, clock: feed.FeedClock) -> tuple[float, float] | None:
    """kg of one feed, from half of what they can eat to all of it; no more than lies on a third of the floor."""
    if fed.worms is None or fed.worms <= 0 or fed.now is None:
        return None
    most = feed.allowed(_age(fed)) * fed.worms * _appetite(fed.now) * _lasts(fed.now, clock)
    floor = fed.bed.vessel.floor
    most = min(most, feed.layer(floor)) if floor else most
    return most / 2, most


def _appetite(celsius: float) -> float:
    """What share of their appetite worms have."""
    return min(clocks.rate_at(celsius, rate=1.0, at=feed.APPETITE_AT), 1.0)


def _lasts(celsius: float, clock: feed.FeedClock) -> float:
    """Days that one feed is meant for."""
    return min(clock.again / max(celsius - clock.base, 1.0), LONGEST_FEED)


def _so_much(fed: Fed, kilos: tuple[float, float] | None) -> str:
    deep = "at most an inch deep" if fed.units is Units.US else "at most 2.5 cm deep"
    if kilos is None:
        return f"a little, {deep} on a third of the surface"
    return f"about {words.kilograms(kilos[1], fed.units)}, {deep} on a third of the surface"


def _amount_lines(fed: Fed, kilos: tuple[float, float] | None, clock: feed.FeedClock) -> Iterator[str]:
    if kilos is None or fed.worms is None or fed.now is None:
        return
    age = _age(fed)
    when = "nobody says when it began" if age is None else f"day {age:.0f} since it began"
    rate = feed.allowed(age)
    yield (
        f"{words.kilograms(fed.worms, fed.units)} of worms, {rate:g} of their weight a day ({when}; proposal; at most "
        f"{feed.MOST:g}, county extension, seen), less in the cold (Q10 2; seen)."
    )
    warm, lasts = _appetite(fed.now), _lasts(fed.now, clock)
    product = feed.allowed(age) * fed.worms * warm * lasts
    yield (
        f"{words.kilograms(fed.worms, fed.units)} × {feed.allowed(age):g} × {warm:.2f} (2^((T − 25)/10) at "
        f"{words.temperature(fed.now, fed.units)}) × {lasts:.1f} days until it is gone = "
        f"{words.measured(product, 'kg', fed.units)}."
    )
    if fed.bed.vessel.floor and kilos[1] >= feed.layer(fed.bed.vessel.floor) * 0.999:
        area = words.area(fed.bed.vessel.floor, fed.units)
        yield f"No more than lies on a third of {area} (common practice; scraps weigh 419 kg/m³, Missouri S&T, seen)."
    if fed.bed.vessel.kind in feed.KEEPS_WARM:
        yield "In a bed this large, winter's feed is its heat: go on feeding in its middle (common practice)."


def _reckoned(fed: Fed, last: Entry, gone: float, *, clock: feed.FeedClock, slow: str | None) -> Iterator[str]:
    when = words.clock_time(last.at, fed.tz, fed.at)
    spans = _spans(fed, last.at)
    total = clocks.summed(spans, base=clock.base)
    if fed.worms and last.amount and last.unit == "kg":
        how = f"{words.kilograms(last.amount, fed.units)} against what {words.kilograms(fed.worms, fed.units)} of worms eat"
    else:
        how = f"{total:.0f} of {clock.again:g} degree-days above {clock.base:g} °C (proposal)"
    yield f"Fed {when}; about {min(gone, 1.0) * 100:.0f} % of it gone: {how}."
    if slow:
        yield f"There was {slow} in it, which lies about twice as long (proposal)."


def _slow_food(last: Entry) -> str | None:
    text = last.text.lower()
    return next((food for food in feed.SLOW_FOODS if food in text), None)


# ── what else the diary tells ─────────────────────────────────────────────────────────────────────────────────


def _besides(fed: Fed) -> Iterator[str]:
    mine = [e for e in fed.entries if e.bed == fed.bed.id and e.at <= fed.at]
    fed_before = any(e.deed is Deed.FED and e.at < fed.at - feed.GRIT_EVERY * DAY for e in mine)
    gritty = any(
        e.at >= fed.at - feed.GRIT_EVERY * DAY and any(g in e.text.lower() for g in feed.GRIT) for e in mine
    )
    if fed_before and not gritty:
        yield "The diary tells of no grit for two months: a spoonful of crushed eggshell or sand (common practice)."
    yield from _cocoons(fed, mine)


def _cocoons(fed: Fed, mine: Sequence[Entry]) -> Iterator[str]:
    seen = next((e for e in reversed(mine) if "cocoon" in e.text.lower()), None)
    point = next((feed.HATCHING[key] for key in fed.bed.species if key in feed.HATCHING), None)
    if seen is None or point is None or fed.now is None:
        return
    spans, now = _spans(fed, seen.at), fed.now
    ends = []
    for base in (point.base - feed.BASE_OFF, point.base, point.base + feed.BASE_OFF):
        left = point.total(base) - clocks.summed(spans, base=base)
        ends.append(0.0 if left <= 0 else left / (now - base) if now > base else math.inf)
    when = words.clock_time(seen.at, fed.tz, fed.at)
    if max(ends) <= 0:
        guess = f"base {point.base:g} °C, proposal"
        yield f"The cocoons seen {when} have hatched by now, as far as warmth tells ({point.source}; {guess})."
    elif math.isinf(max(ends)):
        yield f"The cocoons seen {when} wait for warmth ({point.source}; base {point.base:g} ± {feed.BASE_OFF:g} °C, proposal)."
    else:
        yield (
            f"Of the cocoons seen {when} the freshest hatch in about {min(ends):.0f} to {max(ends):.0f} days at this warmth,"
            f" the others before ({point.source}; base {point.base:g} ± {feed.BASE_OFF:g} °C, proposal)."
        )


def _lacks(fed: Fed, worm: Species | None, last: Entry | None) -> Iterator[str]:
    if worm is None:
        yield "no worm of the settings is known to share this bin"
    if last is None:
        yield f"the diary does not say when it was fed: `vermistat diary {fed.bed.id} fed 0.5 kg`"
    if fed.now is None:
        yield "no thermometer of its living zones speaks"
    if fed.worms is None:
        yield "the settings do not say how many kg of `worms` live in it, so no amount is told"
