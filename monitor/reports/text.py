"""The same facts in sentences, for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from monitor import words
from monitor.reports.shapes import (
    AlarmShape,
    BinShape,
    LimitShape,
    NowShape,
    OrderShape,
    SpeciesShape,
    ValueShape,
    WhyShape,
)
from monitor.rules import Rules

NOTHING = "Nothing needs doing."


def now_text(facts: NowShape) -> str:
    """What needs doing first, then every bin."""
    orders = [(p["place"], o) for p in facts["advice"] for o in p["orders"]]
    orders.sort(key=lambda pair: not pair[1]["urgent"])
    lines = [f"{facts['site']}: what needs doing", ""]
    lines += [line for place, order in orders for line in _order(order, place)] or [NOTHING]
    lines += ["", "The bins", ""]
    lines += [line for bed in facts["bins"] for line in _bin(bed)]
    if facts["last_round"] is None:
        lines.append("No round was ever judged here: is `vermistat run` running?")
    return "\n".join(lines)


def _order(order: OrderShape, place: str) -> Iterator[str]:
    numbers = ", ".join(str(n) for n in order["alarms"])
    yield f"{'! ' if order['urgent'] else '- '}{order['words']}" + (f" (alarm {numbers})" if numbers else "")
    yield f"    {order['why']}"
    yield from (f"    {caution}" for caution in order["cautions"][:1])


def _bin(bed: BinShape) -> Iterator[str]:
    yield f"{bed['name']} ({', '.join(bed['species'])}, {bed['place']}): {bed['sentence']}"
    for zone in bed["zones"]:
        values = "; ".join(_value(v) for v in zone["values"]) or "nothing heard yet"
        yield f"    {zone['id']} ({zone['role']}): {values}"


def _value(value: ValueShape) -> str:
    age = words.duration(value["age_seconds"] * 1000)
    old = "" if value["fresh"] else ", too old to judge by"
    unit = f" {value['unit']}"
    return f"{value['probe']} {value['value']:g}{unit}, {age} ago{old}"


def alarms_text(facts: Sequence[AlarmShape], rules: Rules) -> str:
    """One paragraph for each alarm."""
    if not facts:
        return "No alarm stands."
    return "\n\n".join("\n".join(_alarm(a, rules)) for a in facts)


def _alarm(alarm: AlarmShape, rules: Rules) -> Iterator[str]:
    level = f" ({alarm['level']})" if alarm["level"] else ""
    yield f"{alarm['number']}  {alarm['subject']}: {alarm['condition']}{level}, {alarm['priority']} priority"
    yield f"    {alarm['state']}; since {_local(alarm['since'], rules)}"
    yield f"    {alarm['arithmetic']}"
    if alarm["source"]:
        yield f"    limit: {alarm['source']} ({alarm['mark']})"
    if alarm["suppressed_by"]:
        yield f"    not told: explained by {alarm['suppressed_by']}"


def why_text(facts: WhyShape, rules: Rules) -> str:
    """One alarm from the reading to the telling."""
    lines = [f"Alarm {facts['number']}: {facts['subject']} is {facts['condition']}", ""]
    lines += [f"  {line}" for line in facts["evidence"]]
    lines += ["", "What happened"]
    for step in facts["steps"]:
        who = f" by {step['who']}" if step["who"] else ""
        lines.append(f"  {_local(step['at'], rules)}  {step['event']}{who}: {step['cause']}")
    if facts["advice"]:
        lines += ["", "What was advised"]
        for order in facts["advice"]:
            lines += [f"  {order['words']}: {order['why']}", *(f"    {c}" for c in order["cautions"])]
    lines += ["", "Who was told, and why"]
    for told in facts["told"]:
        until = f" until {_local(told['until'], rules)}" if told["until"] else ""
        notice = f" (notice {told['notice']})" if told["notice"] else ""
        lines.append(
            f"  {_local(told['at'], rules)}  {told['person']}: {told['verdict']}{until}{notice}, {told['reason']}"
        )
    if facts["diary"]:
        lines += ["", "Diary", *(f"  {entry}" for entry in facts["diary"])]
    return "\n".join(lines)


def _local(instant: str, rules: Rules) -> str:
    at = datetime.fromisoformat(instant).astimezone(ZoneInfo(rules.site.timezone))
    return at.strftime("%Y-%m-%d %H:%M")


def species_text(facts: SpeciesShape) -> str:
    """One species: each limit with its source."""
    lines = [f"{facts['key']}: {facts['latin']} ({facts['common']})"]
    lines += [_limit(limit, "temperature") for limit in facts["temperature"]]
    lines += [_limit(limit, "moisture") for limit in facts["moisture"]]
    lines += [f"  note: {note}" for note in facts["notes"]]
    if facts["warning"]:
        lines.append(f"  beware: {facts['warning']}")
    return "\n".join(lines)


def _limit(limit: LimitShape, quantity: str) -> str:
    side = "at or below" if limit["below"] else "at or above"
    lasting = limit["lasting_minutes"]
    after = "at once" if lasting == 0 else f"after {words.duration(round(lasting * 60_000))}"
    return (
        f"  {quantity}, out of {limit['level']} {side} {limit['value']:g} {limit['unit']}, {after}"
        if limit["level"] == "comfort"
        else f"  {quantity}, {limit['level']} {side} {limit['value']:g} {limit['unit']}, {after}"
    ) + f" [{limit['source']}; {limit['mark']}]"
