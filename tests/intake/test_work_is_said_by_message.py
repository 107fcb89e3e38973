"""A message on a bin's own topic says that somebody works in it: what it may say, what is refused, and that it is done before
it is acknowledged.
"""

import json
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.probes import probe
from monitor.errors import StoreBusy
from monitor.intake import working
from monitor.intake.payloads import Decoder
from monitor.intake.pump import Pump
from monitor.intake.quality import Trust
from monitor.intake.working import Said, asides, read
from monitor.readings import HOUR, MINUTE, Refusal, RefusalKind
from monitor.store.memory import MemoryStore
from monitor.wire import Delivery, Inbox

NOW = 1_790_000_000_000
"""2026-09-21T14:13:20Z."""
TOPIC = "vermistat/orchard/fig/working"


def delivery(payload, *, packet=1, **how):
    made = {
        "connection": 1,
        "qos": 1,
        "dup": False,
        "retained": False,
        "topic": TOPIC,
        "received_at": NOW,
        "backlog": False,
    }
    body = payload if isinstance(payload, bytes) else json.dumps(payload).encode()
    return Delivery(packet=packet, payload=body, **(made | how))


SAID = [
    (b"90", Said(NOW, 90 * MINUTE)),
    (b" 0.5\n", Said(NOW, MINUTE // 2)),
    (b"0", Said(NOW, 0)),
    (b"720", Said(NOW, 12 * HOUR)),
    ({"for": 90}, Said(NOW, 90 * MINUTE)),
    ({"for": "90"}, Said(NOW, 90 * MINUTE)),
    ({"for": 0, "who": "ana", "note": "done"}, Said(NOW, 0, "ana", "done")),
    ({"for": 60, "at": "2026-09-21T13:13:20Z"}, Said(NOW - HOUR, HOUR, dated=True)),
    ({"for": 60, "at": NOW / 1000 - 60}, Said(NOW - MINUTE, HOUR, dated=True)),
    ({"for": 60, "at": "2026-09-21T14:13:50Z"}, Said(NOW, HOUR, dated=True)),  # its clock is half a minute ahead
]


@pytest.mark.parametrize(("payload", "said"), SAID)
def test_a_number_of_minutes_or_a_document_says_how_long(payload, said):
    assert said == read(delivery(payload))


@pytest.mark.parametrize("how", [{"retained": True}, {"backlog": True}])
@pytest.mark.parametrize("payload", [b"90", b"0", {"for": 90, "who": "ana"}])
def test_what_was_kept_or_waited_counts_only_with_a_time_of_its_own(payload, how):
    refused = read(delivery(payload, **how))
    assert (RefusalKind.BAD_TIME, NOW, None) == (refused.kind, refused.received_at, refused.probe)
    assert "no time of its own" in refused.reason
    dated = {"for": 90, "at": "2026-09-21T14:00:00Z"}
    assert Said(NOW - 800_000, 90 * MINUTE, dated=True) == read(delivery(dated, **how))


REFUSED = [
    (b"", RefusalKind.EMPTY, "An empty message: somebody cleared this topic at the broker."),
    (b"soon", RefusalKind.NOT_A_NUMBER, "“soon” where minutes are needed"),
    (b"-5", RefusalKind.NOT_A_NUMBER, "-5 minutes are no time to work: send 0 to 720, and 0 when you are done."),
    (b"721", RefusalKind.NOT_A_NUMBER, "721 minutes are no time to work"),
    (b"nan", RefusalKind.NOT_A_NUMBER, "“nan”"),
    (b"[90]", RefusalKind.NOT_THERE, "There is no `for`"),
    (b"{90", RefusalKind.NOT_JSON, "Not JSON"),
    (b'"' + b"x" * 5000, RefusalKind.TOO_LONG, "A message of 5,001 bytes: send a number of minutes."),
    ({}, RefusalKind.NOT_THERE, 'There is no `for`: send {"for": 90}, in minutes, or 0 when you are done.'),
    ({"for": True}, RefusalKind.NOT_A_NUMBER, "“true” where minutes are needed"),
    ({"for": 90, "minutes": 1}, RefusalKind.NOT_THERE, "“minutes” is not known here: send `for`, `at`, `who` and `note`"),
    ({"for": 90, "who": 7}, RefusalKind.NOT_THERE, "`who` is no text of at most 64 characters."),
    ({"for": 90, "note": "x" * 1001}, RefusalKind.NOT_THERE, "`note` is no text of at most 1000 characters."),
    ({"for": 90, "at": "soon"}, RefusalKind.BAD_TIME, "“soon”"),
    ({"for": 90, "at": "2026-09-21T15:00:00Z"}, RefusalKind.BAD_TIME, "is still to come: set the clock of what sends"),
    ({"for": 90, "at": "1970-01-01T00:00:00Z"}, RefusalKind.BAD_TIME, "the probe's clock was never set"),
]  # fmt: skip


@pytest.mark.parametrize(("payload", "kind", "reason"), REFUSED)
def test_anything_else_is_refused_with_what_to_do(payload, kind, reason):
    refused = read(delivery(payload))
    assert isinstance(refused, Refusal)
    assert (kind, TOPIC) == (refused.kind, refused.topic)
    assert reason in refused.reason


@given(st.binary(max_size=60) | st.dictionaries(st.sampled_from(working.KEYS), st.none() | st.text() | st.floats()).map(
    lambda found: json.dumps(found).encode()
))  # fmt: skip
def test_no_bytes_break_it(payload):
    said = read(delivery(payload))
    assert isinstance(said, Refusal) or 0 <= said.length <= 12 * HOUR


def test_control_characters_go_no_further():
    assert "ana�[1m" == read(delivery({"for": 5, "who": "ana\x1b[1m"})).who
    assert "�" == read(delivery(b'{"for": 5, "note": "\\ud800"}')).note


# In the pump


class Site:
    """A pump over a memory store, run by hand."""

    def __init__(self, *, delivered=()):
        self.store, self.inbox, self.acknowledged = MemoryStore(), Inbox(1000), []
        self.fails = None
        self.pump = Pump(
            inbox=self.inbox,
            decoder=Decoder({"p": probe("p")}),
            trust=Trust(),
            keep=self.keep,
            acknowledge=self.acknowledged.extend,
            delivered=delivered,
            patience=lambda: 1.0,
            window=1000,
            beat=lambda: None,
            asides=asides("orchard", ["fig", "plum"], self.ask),
        )

    def ask(self, *args, **how):
        if self.fails == "ask":
            raise StoreBusy("locked")
        return self.store.ask(*args, **how)

    def keep(self, batch):
        if self.fails == "keep":
            raise StoreBusy("locked")
        return self.store.keep(batch)

    def comes(self, *deliveries):
        for one in deliveries:
            self.inbox.put(one)
        return self.pump._commit()

    def asked(self):
        return [(r.at, r.who, r.what, r.note, json.loads(r.body)) for r in self.store.asked()]


def test_it_is_left_as_a_request_and_acknowledged_after_that():
    site = Site()
    assert site.comes(delivery({"for": 90, "who": "ana", "note": "turning"}))
    assert [(NOW, "ana", "working", "turning", {"bin": "fig", "for": 90 * MINUTE, "dated": False})] == site.asked()
    assert [1] == [d.packet for d in site.acknowledged]
    assert 0 == site.store.counted()


def test_it_is_no_reading_and_readings_beside_it_are_kept():
    site = Site()
    site.comes(
        delivery(b"20.5", topic="probes/p"), delivery(b"90", packet=2), delivery(b"21", topic="probes/p", packet=3)
    )
    assert (2, 1, []) == (site.store.counted(), len(site.asked()), site.store.refusals())
    assert [1, 2, 3] == [d.packet for d in site.acknowledged]


def test_what_is_refused_is_kept_shown_and_acknowledged():
    site = Site()
    site.comes(delivery(b"soon"))
    assert ([], [TOPIC], 1) == (site.asked(), [r.topic for r in site.store.refusals()], len(site.acknowledged))


@pytest.mark.parametrize("fails", ["ask", "keep"])
def test_nothing_is_acknowledged_until_it_is_durable_and_then_once(fails):
    site = Site()
    site.fails = fails
    assert not site.comes(delivery(b"20.5", topic="probes/p"), delivery(b"90", packet=2))
    assert [] == site.acknowledged
    site.fails = None
    assert site.comes()
    assert (1, 1, 2) == (len(site.asked()), site.store.counted(), len(site.acknowledged))


def test_one_that_comes_again_after_a_reconnect_is_only_acknowledged():
    site = Site()
    site.comes(delivery(b"90"))
    again = Site(delivered=site.store.delivered())
    again.comes(delivery(b"90", connection=2, dup=True, backlog=True))
    assert ([], 1) == (again.asked(), len(again.acknowledged))
    assert [] == again.store.refusals()


@pytest.mark.parametrize("topic", ["vermistat/orchard/sloe/working", "vermistat/other/fig/working", TOPIC + "/x"])
def test_no_other_topic_is_taken(topic):
    site = Site()
    site.comes(delivery(b"90", topic=topic))
    assert ([], [RefusalKind.UNKNOWN_TOPIC]) == (site.asked(), [r.kind for r in site.store.refusals()])


def test_the_deed_is_done_only_when_it_is_called():
    store = MemoryStore()
    deed = asides("orchard", ["fig"], store.ask)[TOPIC](delivery(b"90"))
    assert isinstance(deed, partial)
    assert [] == store.asked()
