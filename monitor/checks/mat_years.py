"""A mat over the year: in spring it has not been needed for a week; in autumn nobody has tried it since the last cold.

One afternoon with each mat on, before the frost, finds dead ones and teaches their beds how strong they are.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from monitor import words
from monitor.bed.enough import Now
from monitor.bed.living import Told, control_of, limits_of, local_hour
from monitor.bed.mats import QUIET_NIGHTS, Trial, hours_to_tell, noise, not_needed
from monitor.bed.plan import ALWAYS, Plan
from monitor.checks.ahead import Nights
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding, Kind, Subject
from monitor.readings import DAY, Millis
from monitor.rules import Control, Level, Mat, Rules, Units

KIND = "mat year"
"""Of the documents that stand between rounds, by `mat:long-mat`."""
EVENING, MORNING = 20, 9
"""Local hours at which the one and the other is looked at (proposal)."""
NEAR = 1.0
"""K above its limit that a night still counts as needing the mat (proposal)."""
UNTRIED: Millis = 30 * DAY
"""So long without it a mat is tried before it is needed (proposal)."""
COMES_NEAR = 4.0
"""K above its limit at which the cold that is to come is near enough to try the mat (proposal)."""
PUT_AWAY: Millis = 2 * DAY
"""So long off, it is as good as put away (proposal)."""
USUAL_TRIAL = 4
"""Hours that a mat is tried whose strength is not known (proposal)."""


@dataclass(frozen=True, slots=True)
class MatYear:
    """Of one mat: the newest hour that counted, P(too cold with it off) of the last evenings, and when it was on last."""

    at: Millis
    evenings: tuple[float | None, ...] = ()
    used_at: Millis | None = None


Years = Mapping[str, MatYear]
"""By mat."""


def year_text(one: MatYear) -> str:
    """As it is kept."""
    return json.dumps([one.at, one.evenings, one.used_at])


def year_of(body: str) -> MatYear:
    """The reverse."""
    at, evenings, used_at = json.loads(body)
    return MatYear(at, tuple(evenings), used_at)


def years_in(standing: Mapping[tuple[str, str], str]) -> dict[str, MatYear]:
    """Those among what stands between rounds."""
    return {key.partition(":")[2]: year_of(body) for (kind, key), body in standing.items() if kind == KIND}


def look_at_mat_years(
    rules: Rules, hours: Nights, before: Years, *, standing: Collection[AlarmKey]
) -> tuple[dict[str, MatYear], list[Finding]]:
    """One hour of every mat whose own zone is told of in it."""
    years, findings = {}, []
    for mat in rules.mats.values():
        pair = control_of(mat, rules)
        told = hours.get(pair[0], {}).get(pair[1]) if pair else None
        was = before.get(mat.id, MatYear(0))
        if pair is None or told is None or told.at <= was.at:
            continue
        bed = rules.bins[pair[0]]
        zone = next(z for z in bed.zones if z.id == pair[1])
        limits = limits_of(bed, zone)
        limit = limits.low.value if limits is not None and limits.low is not None else told.limits[0]
        used = told.at if (told.drive.duty or 0.0) > 0 or mat.control is Control.ALWAYS else was.used_at
        year = MatYear(told.at, was.evenings, used)
        subject = Subject(Kind.MAT, mat.id, bed.place)
        clock = int(local_hour(told.at, rules.site.timezone))
        if clock == EVENING and limit is not None:
            year = replace(year, evenings=(*was.evenings, _chance_off(told, limit + NEAR))[-QUIET_NIGHTS:])
            findings += _unneeded(year, AlarmKey(subject, Condition.MAT_UNNEEDED), standing, zone=zone.id)
        if (clock == MORNING or used == told.at) and limit is not None:
            findings += _untried(
                mat,
                told,
                year,
                AlarmKey(subject, Condition.MAT_UNTRIED),
                standing=standing,
                limit=limit,
                units=rules.site.units,
            )
        years[mat.id] = year
    return years, findings


def _chance_off(told: Told, limit: float) -> float | None:
    """P(colder than `limit` tonight with the mat off); None where that is not known."""
    forecast = told.forecast
    if forecast is None or not forecast.may_alarm or not told.bed.learned.zone.warmed:
        return None
    off = Now(told.bed.learned, told.room, told.at, forecast.now, (limit, None), told.outdoor).ask(Plan())
    return None if off is None else off.least[0].chance


def _unneeded(year: MatYear, key: AlarmKey, standing: Collection[AlarmKey], *, zone: str) -> list[Finding]:
    in_use = year.used_at is not None and year.at - year.used_at < PUT_AWAY
    stands = in_use and not_needed(year.evenings)
    if not stands and key not in standing:
        return []
    text = (
        f"on each of the last {QUIET_NIGHTS} evenings {zone} was less than 5 % likely to get too cold with it off"
        if stands
        else f"{zone} may need it again, or it is put away"
    )
    return [Finding(key, Level.COMFORT if stands else None, year.at, year.at, Evidence(text, zone=zone))]


def _untried(
    mat: Mat,
    told: Told,
    year: MatYear,
    key: AlarmKey,
    *,
    standing: Collection[AlarmKey],
    limit: float,
    units: Units,
) -> list[Finding]:
    hidden = mat.control is Control.THERMOSTAT and mat.state is None
    idle = year.used_at is None or year.at - year.used_at > UNTRIED
    if key in standing and not idle:
        return [Finding(key, None, year.at, year.at, Evidence("it has been on"))]
    forecast = told.forecast
    if hidden or not idle or forecast is None or not forecast.may_alarm:
        return []
    coldest = forecast.least[1].point
    if not limit < coldest < limit + COMES_NEAR or forecast.now <= limit:
        return []
    last = "nobody knows when it was on last" if year.used_at is None else f"it was last on {_days(year)} days ago"
    least, edge = words.temperature(coldest, units), words.limit(limit, units)
    text = f"{last}, and nights come near its limit: {least} expected within 24 h, {edge} the limit"
    evidence = Evidence(text, statistic=f"{trial_hours(told)} h")
    return [Finding(key, Level.COMFORT, year.at, year.at, evidence)]


def _days(year: MatYear) -> int:
    return round((year.at - (year.used_at or year.at)) / DAY)


def trial_hours(told: Told) -> int:
    """For how many hours a mat is tried so that its bed can tell."""
    forecast = told.forecast
    if forecast is None or not told.bed.learned.zone.warmed:
        return USUAL_TRIAL
    now = Now(told.bed.learned, told.room, told.at, forecast.now, told.limits, told.outdoor)
    off, on = now.ask(Plan()), now.ask(ALWAYS)
    if off is None or on is None:
        return USUAL_TRIAL
    hours = hours_to_tell(Trial(told.at, off.paths[0], on.paths[0], noise(told.bed.watch)))
    return max(2, min(8, hours or USUAL_TRIAL))
