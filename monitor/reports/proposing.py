"""A proposal for one alarm as a sentence that can be acted on."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from monitor import words
from monitor.alarms.proposals import Fault, Proposal, Remedy
from monitor.checks.findings import Condition
from monitor.checks.system import DELAYS
from monitor.readings import MINUTE
from monitor.reports.alarm_shapes import ProposalShape
from monitor.reports.saying import Saying


def proposal_facts(proposed: Proposal, saying: Saying) -> ProposalShape:
    """The change with its numbers, and as a sentence in the site's own units."""
    spans = proposed.remedy in (Remedy.OFF_DELAY, Remedy.ON_DELAY, Remedy.INTERVAL)
    before, after = (
        None if value is None else value / MINUTE if spans else value
        for value in (proposed.before, proposed.after)
    )
    return {
        "about": saying.about(proposed.key, None),
        "fault": str(proposed.fault),
        "remedy": str(proposed.remedy),
        "sentence": f"{_blame(proposed, saying)}: {_SAYS[proposed.remedy](proposed, saying)}.",
        "before": before,
        "after": after,
        "unit": "min" if spans else proposed.unit,
    }


def _blame(one: Proposal, saying: Saying) -> str:
    about = saying.about(one.key, None)
    times = words.amount(one.times, "time")
    return {
        Fault.CHATTERING: f"“{about}” came and went {times} within {words.duration(one.window)}",
        Fault.FLEETING: f"“{about}” was gone before anybody could act, {times}",
        Fault.STALE: f"“{about}” has stood for {words.duration(one.window)}",
        Fault.FREQUENT: f"“{about}” is told more often than all else, {times}",
    }[one.fault]


def _deadband(one: Proposal, saying: Saying) -> str:
    back, now, then = (_apart(value, one.unit, saying) for value in (one.far, one.before, one.after))
    kept = f"a deadband of {then} instead of {now} would have kept it one alarm"
    return f"it came back {back} past its limit in between; {kept}"


def _off(one: Proposal, _saying: Saying) -> str:
    pause, now, then = (words.duration(round(value or 0)) for value in (one.far, one.before, one.after))
    kept = f"an off-delay of {then} instead of {now} would have kept it one alarm"
    return f"it was well for up to {pause} in between; {kept}"


def _on(one: Proposal, _saying: Saying) -> str:
    lasted, now, then = (words.duration(round(value or 0)) for value in (one.far, one.before, one.after))
    return f"the longest was over after {lasted}; a delay of {then} instead of {now} would have kept all of them quiet"


def _limit(one: Proposal, saying: Saying) -> str:
    side = "low" if one.below else "high"
    far, now, then = (_value(value, one.unit, saying) for value in (one.far, one.before, one.after))
    accept = f"accept it with a {side} end of comfort of {then} instead of {now}"
    return f"it went to {far}; if the worms are well with that, {accept}, else change the bed"


def _calibrate(_one: Proposal, _saying: Saying) -> str:
    why = "those it has are older than half a year, or undated"
    return f"before you change a limit, take two new calibration points in its own bedding; {why}"


def _interval(one: Proposal, _saying: Saying) -> str:
    longest, every = words.duration(round(one.far or 0)), words.duration(round(one.after or 0))
    slow = f"if it is meant to be so slow, write `every: {every}` at the probe"
    return f"its longest silence was {longest}; {slow}, else look at its battery and its reach"


def _together(one: Proposal, saying: Saying) -> str:
    other = saying.about(one.other, None) if one.other else "another alarm"
    return f"“{other}” comes with it nearly each time; find the cause that they share, and shelve the one that tells you less"


def _look(one: Proposal, _saying: Saying) -> str:
    if one.key.condition in (Condition.SILENT, Condition.STUCK, Condition.FAULTY):
        return "no setting cures that; mend or replace the probe, or take it out of the settings"
    if one.key.condition in DELAYS:
        return "no setting cures that; `vermistat now` and the log say what it lacks"
    if one.harm:
        return "its limits are those of harm, so leave them; look at where the probe lies, and then at the bed"
    return "a limit that would have kept quiet comes too near to harm, so leave it; change the bed"


_SAYS: Mapping[Remedy, Callable[[Proposal, Saying], str]] = {
    Remedy.DEADBAND: _deadband,
    Remedy.OFF_DELAY: _off,
    Remedy.ON_DELAY: _on,
    Remedy.LIMIT: _limit,
    Remedy.CALIBRATE: _calibrate,
    Remedy.INTERVAL: _interval,
    Remedy.TOGETHER: _together,
    Remedy.LOOK: _look,
}


def _apart(value: float | None, unit: str, saying: Saying) -> str:
    found = value or 0.0
    return words.difference(found, saying.units) if unit == "°C" else f"{found:g} points"


def _value(value: float | None, unit: str, saying: Saying) -> str:
    found = value or 0.0
    return words.limit(found, saying.units) if unit == "°C" else words.percent(found)
