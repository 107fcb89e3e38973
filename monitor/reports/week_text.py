"""The week for a terminal, and for the plain part of a mail."""

from __future__ import annotations

from collections.abc import Iterator

from monitor import words
from monitor.reports.saying import Saying, millis, value_words
from monitor.reports.week_shapes import BandShape, WeekBinShape, WeekShape, WeekZoneShape


def week_title(facts: WeekShape) -> str:
    """What the week is called."""
    return f"{facts['site']}: the week of {facts['days']}{'' if facts['over'] else ', so far'}"


def week_text(facts: WeekShape, saying: Saying) -> str:
    """Each bin in a sentence, then what it stands on, then what to look at."""
    lines = [week_title(facts), facts["sentence"]]
    for bed in facts["bins"]:
        lines += ["", bed["name"], *(f"  {line}" for line in _bin(bed, saying))]
    if facts["mats"]:
        lines += ["", "Mats", *(f"  {mat['sentence']}" for mat in facts["mats"])]
    if facts["others"]:
        lines += ["", "Probes and the watching itself", *(f"  {_other(one['about'])}" for one in facts["others"])]
    looks = [f"{bed['name']}: {line}" for bed in facts["bins"] for line in bed["look_at"]]
    lines += ["", "To look at next week", *(f"  {line}" for line in looks or ["Nothing in particular."])]
    if facts["hours"] not in (168, round(facts["hours"])) or not facts["over"]:
        lines += ["", f"The week is {facts['hours']:g} hours old."]
    return "\n".join(lines)


def _other(about: str) -> str:
    return f"{about}."


def _bin(bed: WeekBinShape, saying: Saying) -> Iterator[str]:
    yield bed["sentence"]
    for zone in bed["zones"]:
        yield zone_line(zone, saying)


def zone_line(zone: WeekZoneShape, saying: Saying) -> str:
    """One quantity of a zone: its extremes, and hours by band."""
    name = f"{zone['zone']} {zone['measures']}"
    low, high, unit = zone["lowest"], zone["highest"], zone["unit"]
    if low is None or high is None:
        return f"{name}: no reading that can be believed"
    ends = (
        f"{value_words(low['value'], unit, saying.units)} ({saying.in_week(millis(low['at']))}) to "
        f"{value_words(high['value'], unit, saying.units)} ({saying.in_week(millis(high['at']))})"
    )
    bands = [*_comfort(zone["comfort"]), *_harm(zone["harm"], zone["known"])]
    silent = f"silent {_hours(zone['silent'])}" if zone["silent"] >= 0.1 else ""
    return f"{name}: {'; '.join(filter(None, (ends, *bands, silent)))}"


def _comfort(band: BandShape | None) -> Iterator[str]:
    if band:
        yield f"comfort {_hours(band['below'])} below, {_hours(band['inside'])} in, {_hours(band['above'])} above"


def _harm(band: BandShape | None, known: float) -> Iterator[str]:
    if band and band["below"] + band["above"]:
        yield f"in harm {_hours(band['below'])} below, {_hours(band['above'])} above"
    elif band and known:
        yield "never in harm"


def _hours(hours: float) -> str:
    return f"{round(hours, 1):g} h"


def week_subject(facts: WeekShape) -> str:
    """The head of the mail."""
    return words.shorten(f"{week_title(facts)}. {facts['sentence']}", 90)
