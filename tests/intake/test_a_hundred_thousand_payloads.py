"""Random and mutated payloads of all three kinds through decoder, trust, pump and store: none stops them, every one
is counted, nothing is kept that is no number. Seeded: what fails once fails always.
"""

import json
import math
import random
from itertools import islice

import pytest

from monitor.intake.payloads.parts import BEYOND
from monitor.intake.working import asides
from monitor.readings import RESOLUTION, RefusalKind
from monitor.store.memory import MemoryStore
from monitor.store.sqlite import SqliteStore
from monitor.wire import Delivery, Inbox
from parts.mangled import KINDS, NOW, PROBES, mangled, payloads
from parts.wired import pump

BATCH = 5_000
SENT = {"plain": 40_000, "json": 30_000, "senml": 30_000}
POSSIBLE = set(RefusalKind) - {RefusalKind.FAULT}
STRANGE = "probes/nobody"


def deliveries(seed, kind):
    """As a broker hands them over: now and then on a new connection that first sends some again, some retained,
    some at QoS 0, some on a topic that nobody reads.
    """
    chance = random.Random(seed)
    connection, packet, sent = 1, 0, []
    stream = payloads(seed, SENT[kind], KINDS[kind])
    for number, (probe, payload) in enumerate(stream):
        at = NOW + number * 1000
        if number % 9_973 == 9_972:
            connection += 1
            for again in sent[-50:]:
                yield again._replace(connection=connection, dup=True, backlog=True, received_at=at)
            sent.clear()
        packet = packet % 65_535 + 1
        topic = STRANGE if chance.random() < 0.01 else PROBES[probe].source.topic
        one = Delivery(
            connection, packet, chance.choice((1, 1, 1, 0)), False, chance.random() < 0.02, topic, payload, at,
            chance.random() < 0.02,
        )  # fmt: skip
        if one.qos:
            sent.append(one)
        yield one


class Counted:
    """A store that keeps, and a list of everything it was handed."""

    def __init__(self, store):
        self.store, self.batches = store, []

    def keep(self, batch):
        self.batches.append(batch)
        return self.store.keep(batch)


def run(store, kind, seed=20261125):
    """The pump, after everything came through it in batches, and how many deliveries there were."""
    kept, inbox = Counted(store), Inbox(BATCH)
    moved = pump(PROBES.values(), store, inbox, kept.keep)
    stream, sent = deliveries(seed, kind), 0
    while batch := list(islice(stream, BATCH)):
        for one in batch:
            inbox.put(one)
        sent += len(batch)
        assert moved._commit(), moved._error
    return moved.counts(), kept.batches, sent


@pytest.fixture(scope="module", params=SENT)
def flood(request, tmp_path_factory):
    store = SqliteStore(tmp_path_factory.mktemp("flood") / "kept.db")
    try:
        yield request.param, store, *run(store, request.param)
    finally:
        store.close()


def test_none_stops_it_and_each_is_counted_once(flood):
    kind, _, counts, batches, sent = flood
    assert SENT[kind] <= sent == counts.deliveries
    assert 0 == counts.failures
    outcomes = counts.new + counts.same + counts.other + counts.undated + counts.refused + counts.again
    if kind == "senml":  # a pack may hold several records of one name, and a topic without any is a refusal
        handed = sum(len(b.readings) + len(b.undated) + len(b.refusals) for b in batches)
        assert sent <= outcomes == handed + counts.again
    else:
        assert sent == outcomes
    assert counts.again > 0
    assert counts.undated > 0


def test_nothing_is_kept_that_is_no_number(flood):
    _, store, counts, _, _ = flood
    kept = store.after(0)
    assert counts.new == len(kept) == store.counted()
    assert [] == [r for r in kept if not (math.isfinite(r.value) and abs(r.value) <= BEYOND + 1)]
    assert [] == [r for r in kept if not 0 <= r.at < 2**63 or r.probe not in PROBES]
    undated = store.undated(1_000_000)
    assert counts.undated == len(undated)
    assert [] == [u for u in undated if not math.isfinite(u.value)]


def test_what_is_refused_is_counted_by_topic_and_kind_and_can_be_shown(flood):
    kind, store, counts, batches, _ = flood
    told = store.refusal_counts()
    assert counts.refused == sum(told.values())
    refusals = [refusal for batch in batches for refusal in batch.refusals]
    assert counts.refused == len(refusals)
    assert [] == [r for r in refusals if len(r.excerpt) > 200 or not 0 < len(r.reason) <= 300]
    assert "".join(r.reason for r in refusals).isprintable()
    expected = {
        "plain": {RefusalKind.NOT_A_NUMBER, RefusalKind.EMPTY, RefusalKind.UNKNOWN_TOPIC},
        "json": POSSIBLE - {RefusalKind.NOT_SENML, RefusalKind.WRONG_UNIT, RefusalKind.TOO_LONG},
        "senml": POSSIBLE - {RefusalKind.TOO_LONG},
    }
    assert expected[kind] <= {r.kind for r in refusals} <= POSSIBLE


def test_right_payloads_among_them_are_kept_as_they_are():
    """The control: with no accidents every one of them is a reading of its own."""
    for kind, probes in KINDS.items():
        store, inbox = MemoryStore(), Inbox(BATCH)
        moved = pump(PROBES.values(), store, inbox)
        for number, (probe, payload) in enumerate(payloads(7, 3_000, probes, spoilt=0, noise=0)):
            inbox.put(
                Delivery(1, number + 1, 1, False, False, PROBES[probe].source.topic, payload, NOW + 1000 * number)
            )
        assert moved._commit()
        assert (3_000, 0) == (moved.counts().new, moved.counts().refused), kind


def test_memory_and_disk_keep_the_same_of_the_same_flood(tmp_path, monkeypatch):
    monkeypatch.setitem(SENT, "senml", 5_000)
    memory, disk = MemoryStore(), SqliteStore(tmp_path / "kept.db")
    try:
        assert run(memory, "senml", 3)[0] == run(disk, "senml", 3)[0]
        assert [(r.probe, r.at, round(r.value * RESOLUTION), r.quality) for r in memory.after(0)] == [
            (r.probe, r.at, round(r.value * RESOLUTION), r.quality) for r in disk.after(0)
        ]
    finally:
        disk.close()


def test_mutated_messages_of_work_are_asked_for_or_refused():
    """The fourth kind of message: no reading, but something to be done before it is acknowledged."""
    chance, asked, store, inbox = random.Random(4), [], MemoryStore(), Inbox(BATCH)
    aside = asides(
        "orchard", ["fig"], lambda at, who, what, alarm=0, note="", *, body: asked.append((who, note, body))
    )
    moved = pump(PROBES.values(), store, inbox, aside=aside)
    sent = 5_000
    for number in range(sent):
        told = {"for": chance.randint(0, 720), "who": "ana", "note": "turning", "at": (NOW + number * 1000) / 1000}
        right_one = chance.choice((b"90", b"0", json.dumps(told).encode()))
        payload = mangled(chance, right_one, b"[1, 2]") if chance.random() < 0.7 else right_one
        at, retained = NOW + number * 1000, chance.random() < 0.05
        inbox.put(Delivery(1, number + 1, 1, False, retained, "vermistat/orchard/fig/working", payload, at))
    assert moved._commit(), moved._error
    counts = moved.counts()
    assert sent == counts.deliveries == len(asked) + counts.refused
    assert 1_500 < len(asked) < sent - 1_500
    assert "".join(who + note for who, note, _ in asked).isprintable()
    assert [] == [body for _, _, body in asked if not 0 <= json.loads(body)["for"] <= 12 * 3_600_000]
