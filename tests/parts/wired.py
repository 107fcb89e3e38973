"""Wire mistakes as files: what probes are known, what arrives, and what becomes of it, one line each.

probe fig-west temperature Cel probes/fig-west field=/v time=/at every=300 points=2700:12,1450:80
bin fig                     somebody may say on vermistat/orchard/fig/working that they work in it
publisher shed              a publisher whose word of its probes is heard on publishers/shed
topic probes/other          when it is not the first probe's, or the first bin's
retained                    or: backlog, when the message is that
received 1970-01-01T…       when it does not arrive at NOW
> payload, one line each; >b as Python writes bytes; >* 70000 text repeats the text
kept fig-west 21.5 good 2026-11-25T12:00:00.000Z
undated fig-west 21.5
told shed: alive, heard 2026-11-25T12:00:00.000Z: {"fig-west": {…}}
worked fig 90 min from 2026-11-25T12:00:00.000Z by ana: what they say of it
refused fig-west: not JSON: the reason that is kept and shown
"""

import ast
import json
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime

from monitor.intake import publishers
from monitor.intake.payloads import Decoder
from monitor.intake.pump import Pump
from monitor.intake.quality import Trust
from monitor.intake.working import asides
from monitor.readings import MINUTE, SECOND, Measures
from monitor.rules import Point, Probe, Source, Unit
from monitor.store.memory import MemoryStore
from monitor.wire import Delivery, Inbox

NOW = 1_795_608_000_000
"""2026-11-25T12:00:00Z."""
FOREVER = 1 << 62
SITE = "vermistat/orchard"


@dataclass
class Case:
    """One file, read."""

    probes: list = field(default_factory=list)
    bins: list = field(default_factory=list)
    publishers: list = field(default_factory=list)
    topic: str | None = None
    retained: bool = False
    backlog: bool = False
    received_at: int = NOW
    payload: bytes = b""
    expected: list = field(default_factory=list)


def read(text):
    """A Case out of a file's text."""
    case, lines = Case(), []
    for line in text.splitlines():
        word, _, rest = line.partition(" ")
        if word == "probe":
            case.probes.append(_probe(*rest.split()))
        elif word == "bin":
            case.bins.append(rest)
        elif word == "publisher":
            case.publishers.append(rest)
        elif word in ("retained", "backlog"):
            setattr(case, word, True)
        elif word == "topic":
            case.topic = rest
        elif word == "received":
            case.received_at = millis(rest)
        elif word.startswith(">"):
            lines.append(_bytes(word, rest))
        elif word in ("kept", "undated", "worked", "told", "refused"):
            case.expected.append(line)
        else:
            assert not line or word == "#", f"no such line: {line!r}"
    case.payload = b"\n".join(lines)
    if case.topic is None:
        case.topic = _first_topic(case)
    return case


def _first_topic(case):
    if case.publishers:
        return publishers.topic_of(case.publishers[0])
    return case.probes[0].source.topic if case.probes else f"{SITE}/{case.bins[0]}/working"


def _bytes(word, rest):
    if word == ">b":
        return ast.literal_eval(f"b'{rest}'")
    if word == ">*":
        count, _, text = rest.partition(" ")
        return text.encode() * int(count)
    assert word == ">"
    return rest.encode()


def _probe(id_, measures, sends, topic, *more):
    how = dict(each.split("=", 1) for each in more)
    points = tuple(Point(*map(float, pair.split(":"))) for pair in how.pop("points", "").split(",") if pair)
    every = int(how.pop("every", 0)) * SECOND or None
    return Probe(id_, Measures(measures), Source(topic, Unit(sends), **how), every, points)


def millis(text):
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def _said(at):
    return datetime.fromtimestamp(at / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def pump(probes, store, inbox, keep=None, aside=None):
    """The daemon's own pump without its thread: `_commit` is one turn of it."""
    return Pump(
        inbox=inbox, decoder=Decoder({p.id: p for p in probes}), trust=Trust(), keep=keep or store.keep,
        acknowledge=lambda deliveries: None, delivered=(), patience=lambda: 0.0, window=20_000, beat=lambda: None,
        asides=aside,
    )  # fmt: skip


def outcome(case):
    """What the store holds after the message came through decoder, trust and pump, in the words of the files."""
    store, inbox, worked = MemoryStore(), Inbox(10), []

    def ask(at, who, what, alarm=0, note="", *, body="{}"):
        told = json.loads(body)
        assert what == "working"
        worked.append(
            f"worked {told['bin']} {told['for'] / MINUTE:g} min from {_said(at)} by {who}: {note}".strip()
        )

    aside = {**asides("orchard", case.bins, ask), **publishers.asides(case.publishers, store)}
    moved = pump(case.probes, store, inbox, aside=aside)
    inbox.put(Delivery(1, 1, 1, False, case.retained, case.topic, case.payload, case.received_at, case.backlog))
    assert moved._commit()
    kept = [
        f"kept {r.probe} {r.value:g} {r.quality.name.lower().replace('_', '-')} {_said(r.at)}"
        for probe in case.probes
        for r in store.window(probe.id, -FOREVER, FOREVER)
    ]
    undated = [f"undated {u.probe} {u.value:g}" for u in reversed(store.undated())]
    refused = [f"refused {r.probe or '-'}: {r.kind}: {r.reason}" for r in reversed(store.refusals())]
    return kept + undated + worked + _told(store) + refused


def _told(store):
    found = publishers.publishers_in(store.standing(publishers.KIND))
    return [
        f"told {who}: {'alive' if one.alive else 'gone'}, heard {_said(one.heard) if one.heard else 'never'}: "
        + json.dumps({name: asdict(probe) for name, probe in one.probes.items()}, ensure_ascii=False)
        for who, one in found.items()
    ]
