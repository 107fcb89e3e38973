"""What a mat's watch says of it: that it is on and its bed does not feel it, or that it would be too warm all night.

Told of the zone that its thermostat is taken to lie in, else the first it warms: away from the mat numbers are not good enough.
"""

from __future__ import annotations

from collections.abc import Collection

from monitor import words
from monitor.bed.enough import Now, is_too_strong
from monitor.bed.living import Told, control_of
from monitor.bed.mats import ANSWERS_WITHIN, DEAD, KNOWN, ON, Trial, Worked, answered, noise
from monitor.bed.plan import Plan, rolled
from monitor.bed.zone import doubts, used
from monitor.checks.ahead import Nights
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding, Kind, Subject
from monitor.readings import HOUR
from monitor.rules import Control, Level, Mat, Rules, Units

PART = 0.3
"""Share of the first of two hours that a mat must have been on for its bed to be asked (proposal)."""


def look_at_mats(rules: Rules, hours: Nights, *, standing: Collection[AlarmKey]) -> list[Finding]:
    """Findings about mats whose own zone is told of in this round."""
    found = []
    for mat in rules.mats.values():
        pair = control_of(mat, rules)
        told = hours.get(pair[0], {}).get(pair[1]) if pair else None
        if pair is None or told is None:
            continue
        subject = Subject(Kind.MAT, mat.id, rules.bins[pair[0]].place)
        dead, strong = (AlarmKey(subject, c) for c in (Condition.MAT_DEAD, Condition.MAT_STRONG))
        units = rules.site.units
        found += _dead(told, dead, standing, zone=pair[1], units=units)
        found += _strong(mat, told, strong, standing, zone=pair[1], units=units)
    return found


def _dead(told: Told, key: AlarmKey, standing: Collection[AlarmKey], *, zone: str, units: Units) -> list[Finding]:
    watch = told.bed.watch
    unanswered = _did_not_answer(told, zone, units)
    if unanswered is not None:
        return [Finding(key, Level.COMFORT, told.at, told.at - ANSWERS_WITHIN * HOUR, unanswered)]
    if not watch.mat_dead and key not in standing:
        return []
    if not watch.mat_dead and watch.dead > 0:
        return []  # what it says now is not sure either way
    since = watch.since if watch.since is not None else told.at
    b = used(told.bed.learned.zone)[1]
    says = f"evidence {watch.dead:.1f}, told from {DEAD:g}"
    held = words.duration(max(told.at - since, HOUR))
    text = (
        f"by {told.drive.known} it was on in the last {held}, and {zone} did not feel it: it should add"
        f" {words.rate(b, units)} ({says})"
        if watch.mat_dead
        else f"{zone} feels it again"
    )
    return [Finding(key, Level.COMFORT if watch.mat_dead else None, told.at, since, Evidence(text, zone=zone))]


def _did_not_answer(told: Told, zone: str, units: Units) -> Evidence | None:
    """Two hours after a mat was switched on: what its bed has done, against what it does with it and without. None where it
    answered, where that cannot be told, and at any other hour.
    """
    hours = told.bed.learned.zone.recent
    duties = [hour.duty for hour in hours]
    airs = [hour.air_c for hour in hours[-ANSWERS_WITHIN:] if hour.air_c is not None]
    if len(hours) != ANSWERS_WITHIN + 1 or None in duties or len(airs) < ANSWERS_WITHIN:
        return None
    before, first, last = (duty or 0.0 for duty in duties)
    start, end = hours[1].start_c, hours[-1].end_c
    model = told.bed.learned.zone
    sure = model.warmed and used(model)[1] > KNOWN * doubts(model)[1]
    if not sure or start is None or end is None or not (before <= ON and first > PART and last > 1 - ON):
        return None
    ends = []
    for on in (0.0, 1.0):
        plan = Plan(((first * on, last * on),))
        ends.append(rolled(used(model), start, [airs], plan)[0])
    trial = Trial(told.at - ANSWERS_WITHIN * HOUR, ends[0], ends[1], noise(told.bed.watch))
    if answered(trial, ANSWERS_WITHIN, end) is not Worked.NO:
        return None
    now, off, with_it = (words.temperature(t, units) for t in (end, ends[0].warmth[-1], ends[1].warmth[-1]))
    return Evidence(
        f"by {told.drive.known} it was switched on two hours ago, and {zone} did not answer: {now} now, "
        f"{with_it} expected with it and {off} without",
        value=end,
        unit="°C",
        zone=zone,
    )


def _strong(
    mat: Mat, told: Told, key: AlarmKey, standing: Collection[AlarmKey], *, zone: str, units: Units
) -> list[Finding]:
    if mat.control is Control.THERMOSTAT or told.forecast is None or told.limits[1] is None:
        return []
    model = told.bed.learned.zone
    a, b, c = used(model)
    ends = (
        max(told.forecast.now, max(told.room.past[-1:], key=lambda t: t or 0.0, default=None) or 0.0) + (b + c) / a
    )
    sure = model.known and b > KNOWN * doubts(model)[1] and told.forecast.may_alarm
    strong = sure and ends > told.limits[1] and is_too_strong(now_of(told))
    if not strong and key not in standing:
        return []
    text = (
        f"with it on all night {zone} comes to harm by heat, from {words.limit(told.limits[1], units)} on, and with it off "
        f"it does not: it lifts {zone} by up to {words.difference(round(b / a), units)}"
        if strong
        else f"with it on all night {zone} does not get too hot"
    )
    return [Finding(key, Level.COMFORT if strong else None, told.at, told.at, Evidence(text, zone=zone))]


def now_of(told: Told) -> Now:
    """What is told of a zone, for asking more. It must have a forecast."""
    assert told.forecast is not None  # noqa: S101 - whoever asks has looked
    return Now(told.bed.learned, told.room, told.at, told.forecast.now, told.limits, told.outdoor)
