"""The same facts in sentences, for a terminal: one thing a line, what belongs to it indented below."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from monitor import words
from monitor.advice.cautions import sourced
from monitor.readings import Measures
from monitor.reports.notes import ERROR
from monitor.reports.saying import RAW, Saying, limit_words, millis, value_words
from monitor.rules import Role, Units

if TYPE_CHECKING:
    from monitor.reports.shapes import (
        AirShape,
        AlarmShape,
        AlarmsShape,
        BinShape,
        CheckShape,
        HeldShape,
        NowShape,
        OrderShape,
        ReadingShape,
        SentShape,
        ShelfShape,
        StepShape,
        ToldShape,
        ValueShape,
        WhyShape,
        WorkShape,
        ZoneShape,
    )

IN = "    "
NOT_JUDGED = {Role.FINISHED: "finished, not judged", Role.EDGE: "edge, not judged"}


def now_text(facts: NowShape, saying: Saying) -> str:
    """What needs doing first, then every bin, then what else there is to know."""
    aside = [order for order in facts["to_do"] if order["shelved"]]
    urgent = [order for order in facts["to_do"] if order["urgent"] and not order["shelved"]]
    later = [order for order in facts["to_do"] if not order["urgent"] and not order["shelved"]]
    lines = [f"{facts['site']} at {saying.clock(saying.at)}. {rounds_text(facts, saying)}"]
    lines += [facts["clock"]["sentence"]] if facts["clock"] else []
    lines += _block("Urgent", (line for o in urgent for line in _order(o)))
    lines += _block("To do", (line for o in later for line in _order(o)))
    lines += _block("Put aside for now", (line for o in aside for line in _order(o)))
    if facts["to_do"]:
        first = next((o for o in facts["to_do"] if not o["seen"]), facts["to_do"][0])
        lines += ["", _how_to_answer(first["alarms"][0])]
    elif not any(note["kind"] == "no advice" for note in facts["notes"]):
        lines += ["", "Nothing needs doing." if facts["watching"] else "Nothing was to do when last looked at."]
    lines += _block("The bins", (line for bed in facts["bins"] for line in _bin(bed, saying)))
    lines += _block("The mats", (mat["sentence"] for mat in facts["mats"]))
    lines += _block("The air", (air_text(air, saying) for air in facts["air"]))
    lines += _block("Also", (note["sentence"] for note in facts["notes"]))
    return "\n".join(lines)


def _block(title: str, lines: Iterable[str]) -> list[str]:
    found = list(lines)
    return ["", title, *(f"  {line}" for line in found)] if found else []


def rounds_text(facts: NowShape, saying: Saying) -> str:
    """When it was last judged, and whether somebody still does."""
    last = facts["last_round"]
    if last is None:
        return "Nobody watches: no round was ever judged here. Start `vermistat run`."
    ago = saying.ago(millis(last))
    if facts["watching"]:
        return f"Last judged {ago} ago."
    when = saying.when(millis(last))
    said = f"NOBODY WATCHES: last judged {ago} ago, {when}."
    return f"{said} Start `vermistat run`, or see in its log why it stopped."


def _order(order: OrderShape) -> Iterator[str]:
    numbers = words.joined([str(number) for number in order["alarms"]])
    seen = ", seen" if order["seen"] else ""
    yield f"{order['sentence']} (alarm{'s' if len(order['alarms']) > 1 else ''} {numbers}{seen})"
    yield f"{IN}{order['why']}"
    yield from (f"{IN}{caution}" for caution in order["cautions"][:1])


def _how_to_answer(number: int) -> str:
    return (
        f"Seen it? `vermistat seen {number}`. Done it? `vermistat done {number}`. Why? `vermistat why {number}`."
    )


def _bin(bed: BinShape, saying: Saying) -> Iterator[str]:
    yield f"{bed['name']}: {bed['sentence']}"
    yield IN + "; ".join(zone_text(zone, saying) for zone in bed["zones"])


def zone_text(zone: ZoneShape, saying: Saying) -> str:
    """A zone with what it measures: "near 21.2 °C, 40 s ago"."""
    role = NOT_JUDGED.get(Role(zone["role"]), "at the mat" if zone["role"] == Role.AT_THE_MAT else "")
    name = f"{zone['id']} ({role})" if role and role != zone["id"] else zone["id"]
    return f"{name} {_values(zone['values'], saying)}"


def air_text(air: AirShape, saying: Saying) -> str:
    """The air of a place: "Shed: 11.1 °C and 77 %RH humidity, 6 s ago"."""
    return f"{air['name']}: {_values(air['values'], saying)}"


def _values(values: Sequence[ValueShape], saying: Saying) -> str:
    """Values of one age together: "11.1 °C and 77 % moisture, 6 s ago"."""
    together: dict[str, list[str]] = {}
    for value in values:
        together.setdefault(_age(value), []).append(_value(value, saying))
    return "; ".join(f"{words.joined(shown)}{age}" for age, shown in together.items()) or "has no probe"


def _value(value: ValueShape, saying: Saying) -> str:
    doubt = " (doubtful, see below)" if value["doubt"] else ""
    if value["value"] is None:
        return f"{value['measures']} not known{doubt}"
    shown = value_words(value["value"], value["unit"], saying.units)
    if value["unit"] == RAW:
        return f"{value['measures']} {shown}{doubt}"
    return f"{shown}{'' if value['measures'] == Measures.TEMPERATURE else ' ' + value['measures']}{doubt}"


def _age(value: ValueShape) -> str:
    if value["age_seconds"] is None:
        return ""
    old = "" if value["fresh"] else ", TOO OLD TO JUDGE BY"
    return f", {words.duration(value['age_seconds'] * 1000)} ago{old}"


# ── alarms ────────────────────────────────────────────────────────────────────────────────────────────────────


def alarms_text(facts: AlarmsShape, saying: Saying) -> str:
    """Those that stand, those that are over and not seen, those that are not told, and what keeps them from it."""
    alarms = facts["alarms"]
    groups: dict[str, list[AlarmShape]] = {title: [] for title in GROUPS}
    for alarm in alarms:
        groups[_group(alarm)].append(alarm)
    unsure = [facts["clock"]["sentence"], ""] if facts["clock"] else []
    lines: list[str] = []
    for title, group in groups.items():
        lines += _block(title, (line for alarm in group for line in _alarm(alarm, saying)))
    lines += _block("Shelved, and not there now", (_shelf(s, saying) for s in facts["shelves"] if not s["stands"]))
    lines += _block("Worked in", (_work(work, saying) for work in facts["works"]))
    if not alarms:
        return "\n".join([*unsure, "No alarm stands.", *lines])
    return "\n".join([*unsure, *lines[1:], "", _answers(alarms)])


OVER, SHELVED, OUT = (
    "Over, and not seen by anybody yet",
    "Shelved, and so not told",
    "Out of service, and so not told",
)
EXPLAINED = "Explained by another alarm, and so not told"
GROUPS = ("Standing", OVER, EXPLAINED, SHELVED, OUT)


def _group(alarm: AlarmShape) -> str:
    if alarm["state"].startswith("returned"):
        return OVER
    if alarm["shelved"]:
        return SHELVED
    if alarm["out_of_service"]:
        return OUT
    return EXPLAINED if alarm["suppressed_by"] else "Standing"


def _shelf(shelf: ShelfShape, saying: Saying) -> str:
    return f"{shelf['number']}  {shelf['about']}; {_held('shelved by', shelf, saying)}"


def _work(work: WorkShape, saying: Saying) -> str:
    return f"{work['about']}: {_held('by', work, saying)}. What its probes say is told to nobody."


def _held(what: str, hold: HeldShape, saying: Saying) -> str:
    note = f", “{hold['note']}”" if hold["note"] else ""
    return f"{what} {hold['who']} from {_when(hold['since'], saying)} until {_when(hold['until'], saying)}{note}"


def _alarm(alarm: AlarmShape, saying: Saying) -> Iterator[str]:
    since = saying.clock(millis(alarm["since"]))
    matters = f"{alarm['priority']} priority, {_state(alarm, saying)}"
    yield f"{alarm['number']}  {alarm['about']}; since {since}, {matters}"
    yield f"{IN}{alarm['sentence']}"
    if alarm["source"]:
        yield f"{IN}The limit comes from: {alarm['source']} [{alarm['mark']}]."
    if alarm["suppressed_by"]:
        yield f"{IN}Explained by {alarm['suppressed_by']}."
    for what, hold in (("Shelved by", alarm["shelved"]), ("Worked in by", alarm["out_of_service"])):
        if hold:
            yield f"{IN}{_held(what, hold, saying)}."


def _state(alarm: AlarmShape, saying: Saying) -> str:
    if alarm["state"] == "acknowledged":
        when = f" {saying.when(millis(alarm['seen_at']))}" if alarm["seen_at"] else ""
        return f"seen by {alarm['seen_by'] or 'somebody'}{when}"
    return "not seen yet" if alarm["needs_answer"] else "not seen yet (it ends by itself)"


def _answers(alarms: Sequence[AlarmShape]) -> str:
    first = next((a["number"] for a in alarms if a["needs_answer"]), alarms[0]["number"])
    return (
        f"Seen it? `vermistat seen {first}`. Done what it asks? `vermistat done {first} a few words`."
        f" What to do: `vermistat now`. All about it: `vermistat why {first}`."
    )


# ── one alarm ─────────────────────────────────────────────────────────────────────────────────────────────────


def why_text(facts: WhyShape, saying: Saying) -> str:
    """One alarm from the reading to the telling."""
    lines = [f"Alarm {facts['number']}. {facts['about']}.", facts["sentence"]]
    lines += _block("What was measured", _measured(facts, saying))
    lines += _block("What happened", (_step(step, saying) for step in facts["steps"]))
    lines += _block("What was advised", _advised(facts["advice"], saying))
    lines += _block("With every caution", _cautions(facts["advice"]))
    lines += _block(
        "Who was told, and who was not", (line for told in facts["told"] for line in told_text(told, saying))
    )
    if not facts["told"]:
        lines += ["", "Nobody was told: the settings named nobody."]
    diary = (f"{_when(e['at'], saying)}  {e['who']}, {e['deed']}: {e['text'] or '–'}" for e in facts["diary"])
    lines += _block("Diary", diary)
    return "\n".join(lines)


def _measured(facts: WhyShape, saying: Saying) -> Iterator[str]:
    for one in facts["evidence"]:
        yield f"{_when(one['at'], saying)}  {one['event']}: {one['sentence']}"
        if saying.units is Units.US and one["limit"] is not None and one["unit"] == "°C":
            yield f"{IN}Reckoned in °C: {one['arithmetic'].rstrip('.')}."
    limits = {(e["limit"], e["unit"], e["source"], e["mark"]): None for e in facts["evidence"] if e["source"]}
    for limit, unit, source, mark in limits:
        shown = f" of {limit_words(limit, unit, saying.units)}" if limit is not None else ""
        yield f"The limit{shown} comes from: {source} [{mark}]."
    for probe in dict.fromkeys(r["probe"] for r in facts["readings"]):
        said = [_reading(r, saying) for r in facts["readings"] if r["probe"] == probe]
        yield f"{probe} then: {', '.join(said)}."


def _reading(reading: ReadingShape, saying: Saying) -> str:
    believed = "" if reading["believed"] else ", not believed"
    shown = value_words(reading["value"], reading["unit"], saying.units)
    return f"{shown} ({_when(reading['at'], saying)}{believed})"


def _step(step: StepShape, saying: Saying) -> str:
    note = f" “{step['note']}”" if step["note"] else ""
    until = f" Until {_when(step['until'], saying)}." if step["until"] else ""
    return f"{_when(step['at'], saying)}  {step['event']}: {step['cause']}{until}{note}"


def _advised(orders: Sequence[OrderShape], saying: Saying) -> Iterator[str]:
    """Each act with its reason; what stands behind them once for all."""
    for order in orders:
        yield f"{_when(order['at'], saying)}  {order['words'][:1].upper()}{order['words'][1:]}."
        yield f"{IN}{order['why']}"
    yield from dict.fromkeys(line for order in orders for line in order["more"])


def _cautions(orders: Sequence[OrderShape]) -> Iterator[str]:
    return (sourced(caution) for caution in dict.fromkeys(c for order in orders for c in order["cautions"]))


def told_text(told: ToldShape, saying: Saying) -> Iterator[str]:
    """Whether one person was told of a step, why, and what became of the notice: a line each."""
    until = f" until {_when(told['until'], saying)}" if told["until"] else ""
    yield (
        f"{_when(told['at'], saying)}  {told['person']}, of “{told['event']}”: {told['verdict']}{until}."
        f" {told['reason']}"
    )
    if told["sent"]:
        yield f"{IN}Notice {told['notice']}, {'; '.join(_sent(sent, saying) for sent in told['sent'])}"


def _sent(sent: SentShape, saying: Saying) -> str:
    if sent["sent_at"] is not None:
        return f"sent by {sent['channel']} {saying.when(millis(sent['sent_at']))}"
    if not sent["tries"]:
        return f"not sent yet by {sent['channel']}"
    error = f": {words.shorten(sent['error'], ERROR)}" if sent["error"] else ""
    return f"by {sent['channel']} {sent['state']} after {words.amount(sent['tries'], 'try', 'tries')}{error}"


def _when(instant: str, saying: Saying) -> str:
    return saying.clock(millis(instant))


# ── settings ──────────────────────────────────────────────────────────────────────────────────────────────────


def check_text(facts: CheckShape) -> str:
    """What accepted settings will do."""
    lines = [f"Accepted: {words.joined(facts['files'])}.", *facts["explained"]]
    if not any(str(facts["store"]) in line for line in lines):
        lines.insert(2, f"Everything is kept in {facts['store']}.")
    if facts["understood"]:
        lines += ["", f"The sender understands the address of {words.joined(facts['understood'])}."]
    return "\n".join(lines)
