"""What was heard on the broker: which probe reads it, and for what nobody reads the lines that would add it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from monitor import words
from monitor.intake.found import Found, line, numbers, probe_id
from monitor.intake.payloads.parts import shown
from monitor.readings import Millis
from monitor.reports.saying import instant
from monitor.reports.shapes import HeardTopicShape, ListenShape
from monitor.rules import Probe, Rules

MOST = 500
"""Topics that are kept while listening; more of them are only counted (ours)."""


@dataclass(slots=True)
class Ears:
    """What is heard while it is heard: of each topic the newest payload and how many there were."""

    topics: dict[str, tuple[bytes, int, bool]] = field(default_factory=dict)
    more: int = 0

    def hear(self, topic: str, payload: bytes, retained: bool) -> None:
        """One message."""
        known = self.topics.get(topic)
        if known is None and len(self.topics) >= MOST:
            self.more += 1
            return
        self.topics[topic] = (payload, known[1] + 1 if known else 1, retained)


def listen_facts(ears: Ears, rules: Rules, *, topics: str, seconds: float, at: Millis) -> ListenShape:
    """Every topic that was heard, those that nobody reads first."""
    by_topic: dict[str, list[Probe]] = {}
    for probe in rules.probes().values():
        by_topic.setdefault(probe.source.topic, []).append(probe)
    taken = set(rules.probes())
    ours = f"vermistat/{rules.site.id}/"
    rows = [
        _topic(topic, heard, by_topic, taken, at)
        for topic, heard in sorted(ears.topics.items())
        if not topic.startswith(ours)
    ]
    rows.sort(key=lambda row: (not row["lines"], bool(row["known"])))
    return {"at": instant(at), "seconds": seconds, "filter": topics, "topics": rows, "more": ears.more}


def _topic(
    topic: str, heard: tuple[bytes, int, bool], by_topic: Mapping[str, list[Probe]], taken: set[str], at: Millis
) -> HeardTopicShape:
    payload, count, retained = heard
    known = by_topic.get(topic, [])
    read = {(p.source.field, p.source.name) for p in known}
    unread = [f for f in numbers(topic, payload, at) if (f.field, f.name) not in read]
    return {
        "topic": topic,
        "messages": count,
        "retained": retained,
        "last": shown(payload).strip("“”"),
        "known": [p.id for p in known],
        "lines": list(_lines(topic, unread, taken)),
    }


def _lines(topic: str, unread: list[Found], taken: set[str]) -> Iterator[str]:
    for found in unread:
        yield line(probe_id(topic, found, taken), topic, found)


def listen_text(facts: ListenShape) -> str:
    """The same in sentences."""
    rows = facts["topics"]
    head = f"Listened to {facts['filter']} for {facts['seconds']:g} s: {words.amount(len(rows), 'topic')}."
    lines = [head if not facts["more"] else f"{head} {facts['more']} more messages, of further topics."]
    if not rows:
        lines += ["", "Nothing was heard. Do the probes publish to this broker, and to these topics?"]
    nobody = [row for row in rows if row["lines"]]
    if nobody:
        lines += ["", "Nobody reads these. To add one, write its line below `probes:` of a zone or a place:"]
    for row in nobody:
        lines += ["", f"  {_heard(row)}", *(f"      {each}" for each in row["lines"])]
    rest = [row for row in rows if not row["lines"]]
    if rest:
        lines += ["", "The others:", *(f"  {_heard(row)}" for row in rest)]
    return "\n".join(lines)


def _heard(row: HeardTopicShape) -> str:
    kept = ", kept by the broker and of unknown age" if row["retained"] else ""
    read = (
        f"; read by {words.joined(row['known'])}" if row["known"] else "" if row["lines"] else "; holds no number"
    )
    return f"{row['topic']}: {words.amount(row['messages'], 'message')}, the last {row['last']}{kept}{read}"
