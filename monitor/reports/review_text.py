"""How well the alarms serve, in sentences: the proposal first, then every figure beside what is printed."""

from __future__ import annotations

from collections.abc import Mapping

from monitor import words
from monitor.reports.alarm_shapes import OftenShape, PersonRateShape, ReviewShape
from monitor.reports.saying import Saying, millis

TITLES: Mapping[str, str] = {
    "rate": "Told",
    "most": "Most in 24 h",
    "busy": "Days with more than 10",
    "flood": "In a flood",
    "chattering": "Chattering",
    "fleeting": "Fleeting",
    "stale": "Stale, at most at once",
    "frequent": "The most frequent alone",
    "low": "Low priority",
    "medium": "Medium priority",
    "high": "High priority",
    "unnamed": "Put aside by nobody",
}


def review_text(facts: ReviewShape, saying: Saying) -> str:
    """The proposal first, then each figure with what is printed and what that is for a keeper."""
    since = saying.clock(millis(facts["since"]))
    lines = [f"{words.amount(facts['told'], 'alarm')} told since {since}, {facts['days']:g} days."]
    if not facts["enough"]:
        lines.append("The standards want 30 days before a figure is believed.")
    proposed = facts["proposal"]
    lines += [
        "",
        "Proposal",
        f"  {proposed['sentence'] if proposed else 'No alarm serves badly: nothing to change.'}",
    ]
    lines += ["", "Figures"]
    for figure in facts["figures"]:
        lines.append(
            f"  {TITLES[figure['name']]}: {figure['value']:g} {figure['unit']}".rstrip() + f" ({figure['grade']})"
        )
        lines.append(f"    For a keeper: {figure['keeper']}. Printed: {figure['published']} [{figure['mark']}].")
    for title, found in (
        ("Chattering", facts["chattering"]),
        ("Fleeting", facts["fleeting"]),
        ("Stale now", facts["stale"]),
        ("Most frequent", facts["frequent"]),
    ):
        if found:
            lines += ["", title, *(f"  {_line(one)}" for one in found)]
    lines += ["", "Notices", *(f"  {_person(one)}" for one in facts["people"])] if facts["people"] else []
    lines += ["", _quiet_words(facts)]
    sources = dict.fromkeys(figure["source"] for figure in facts["figures"])
    lines += ["", "Where it is printed", *(f"  {source}" for source in sources)]
    return "\n".join(lines)


def _line(one: OftenShape) -> str:
    share = "" if one["share"] is None else f", {one['share']:g} % of all"
    return f"{one['about']}: {words.amount(one['times'], 'time')}{share}"


def _person(one: PersonRateShape) -> str:
    woken = f", woken {words.amount(one['woken'], 'time')}" if one["woken"] else ""
    often = f"{one['a_day']:g} a day, {one['most_in_a_day']} in 24 h at most"
    return f"{one['person']}: {words.amount(one['notices'], 'notice')}, {often}{woken}"


def _quiet_words(facts: ReviewShape) -> str:
    quiet = facts["quiet"]
    now = f"{quiet['shelved']} shelved, {quiet['by_design']} explained by another"
    often = words.amount(facts["shelvings"], "time")
    return f"Not told now: {now}, {quiet['out_of_service']} out of service. Shelved in all this time: {often}."
