"""The pump by itself, on a clock that moves when it waits: when it commits, and what it does when it cannot."""

import json

import pytest

from intake.probes import probe
from monitor.errors import StoreBusy, StoreFull
from monitor.intake.payloads import Decoder
from monitor.intake.pump import STALL, Pump
from monitor.intake.quality import Trust
from monitor.readings import Quality, RefusalKind
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch, Delivered
from monitor.wire import Delivery, Inbox

PLAIN = probe("p")
DATED = probe("d", field="/v", time="/at")
SHIFTED = probe("s", name="s", topic="probes/s")
NOW = 1_790_000_000_000
ON_TIME, FAILS = True, False


class Waiting(Inbox):
    """An inbox in which waiting costs time on the test's clock and nothing else."""

    def __init__(self):
        super().__init__(10_000)
        self.seconds = 100.0
        self.script = []

    def wait(self, at_least, seconds):
        """Wait: what the script brings by then comes in."""
        end = self.seconds + seconds
        while self.script and self.script[0][0] <= end:
            at, deliveries = self.script.pop(0)
            self.seconds = max(self.seconds, at)
            for one in deliveries:
                self.put(one)
            if len(self) >= at_least:
                return
        self.seconds = end


class Site:
    def __init__(self, *, window=1000, delivered=(), keep=None):
        self.store = MemoryStore()
        self.inbox = Waiting()
        self.acknowledged = []
        self.batches = []
        self.fails = None
        self.pump = Pump(
            inbox=self.inbox,
            decoder=Decoder({p.id: p for p in (PLAIN, DATED, SHIFTED)}),
            trust=Trust(),
            keep=self.keep,
            acknowledge=self.acknowledged.extend,
            delivered=delivered,
            patience=lambda: self.inbox.seconds,
            window=window,
            beat=lambda: None,
        )
        self.packet = 0

    def keep(self, batch):
        if self.fails:
            raise self.fails
        self.batches.append(batch)
        return self.store.keep(batch)

    def delivery(self, payload, *, probe="p", packet=None, **how):
        self.packet = self.packet % 65_535 + 1
        made = {
            "connection": 1,
            "qos": 1,
            "dup": False,
            "retained": False,
            "received_at": NOW,
            "backlog": False,
        } | how
        raw = payload if isinstance(payload, bytes) else str(payload).encode()
        number = self.packet if packet is None else packet
        return Delivery(packet=number, topic=f"probes/{probe}", payload=raw, **made)

    def came(self, *deliveries):
        for one in deliveries:
            self.inbox.put(one)
        return self

    def turns(self, count=1):
        for _ in range(count):
            self.pump._turn()
        return self

    def flush(self):
        """A flush without a second thread: ask, let the pump take its turn, read the answer."""
        self.pump._asked += 1
        self.pump._turn()
        self.pump._asked -= 1
        return self.pump.flush(0)

    def live_for(self, seconds):
        end = self.inbox.seconds + seconds
        while self.inbox.seconds < end:
            self.pump._turn()
        return self

    def readings(self, probe="p"):
        return [(r.at - NOW, r.value, r.quality.name) for r in self.store.window(probe, 0, 1 << 60)]

    def undated(self):
        return [u.value for u in self.store.undated(1000)]


# When it commits


def test_eight_probes_a_minute_are_one_commit_a_minute():
    site = Site()
    for minute in range(60):
        apart = [
            (100.0 + 60 * minute + 7 * i, [site.delivery(20 + i, received_at=NOW + minute * 60_000)])
            for i in range(8)
        ]
        site.inbox.script += apart
    for _ in range(60):
        site.live_for(60)
        assert site.flush().ok
    assert 480 == site.store.counted()
    assert 60 == len(site.batches)


def test_probes_that_all_speak_at_once_are_no_broker_that_stopped():
    site = Site()
    for minute in range(60):
        at_once = [site.delivery(20, received_at=NOW + minute * 60_000 + i) for i in range(15)]
        site.inbox.script.append((101.0 + 60 * minute, at_once))
    for _ in range(60):
        site.live_for(60)
        site.flush()
    # fifteen may be a stop: one look a minute, and nothing is learned from it
    assert len(site.batches) <= 2 * 60
    assert 500 == site.pump._commit_at


def test_half_the_window_is_committed_without_being_asked():
    site = Site(window=100)
    site.came(*[site.delivery(20) for _ in range(49)]).turns()
    assert [] == site.batches
    site.came(site.delivery(20)).turns()
    assert [50] == [len(b.readings) for b in site.batches]
    assert 50 == len(site.acknowledged)


def test_a_broker_that_stopped_is_answered_and_its_window_learned():
    site = Site()
    site.came(*[site.delivery(20) for _ in range(20)])
    started = site.inbox.seconds
    while not site.batches:
        site.turns()
    assert site.inbox.seconds - started <= 3 * STALL
    site.inbox.script.append((site.inbox.seconds, [site.delivery(20) for _ in range(20)]))
    site.turns(5)
    assert 10 == site.pump._commit_at
    site.came(*[site.delivery(20, connection=2) for _ in range(20)]).turns(3)
    assert 500 == site.pump._commit_at, "another connection, another window"


# When it cannot


@pytest.mark.parametrize("error", [StoreBusy("locked"), StoreFull("no room"), OverflowError("a fault")])
def test_what_cannot_be_kept_stays_in_hand_and_is_not_acknowledged(error):
    site = Site()
    site.came(site.delivery(20), site.delivery(21, received_at=NOW + 1000))
    site.fails = error
    flushed = site.flush()
    assert (False, str(error), False) == (flushed.ok, flushed.error, flushed.blind)
    assert [20, 21] == [r.value for r in flushed.in_hand]
    assert [] == site.acknowledged
    site.came(site.delivery(22, received_at=NOW + 2000))
    assert [20, 21, 22] == [r.value for r in site.flush().in_hand]
    site.fails = None
    assert site.flush().ok
    assert [(0, 20, "GOOD"), (1000, 21, "GOOD"), (2000, 22, "GOOD")] == site.readings()
    assert [1, 2, 3] == [d.packet for d in site.acknowledged]
    assert [3] == [len(b.readings) for b in site.batches]


def test_it_tries_again_by_itself_and_ever_more_slowly():
    site = Site()
    site.came(*[site.delivery(20) for _ in range(12)])
    site.fails = StoreBusy("locked")
    site.live_for(300)
    assert 9 <= site.pump.counts().failures <= 15  # 1, 2, 4, 8, 16, 30, 30 … seconds apart
    site.fails = None
    site.live_for(31)
    assert 12 == len(site.acknowledged)
    assert 12 == site.store.counted()


def test_with_its_hands_full_it_is_blind_and_says_so():
    site = Site(window=100)
    site.fails = StoreFull("no room")
    site.came(*[site.delivery(20) for _ in range(150)])
    flushed = site.flush()
    assert flushed.blind
    assert 100 == len(flushed.in_hand)
    assert 50 == len(site.inbox)
    site.fails = None
    assert site.flush().ok
    assert 150 == site.store.counted()


def test_nobody_at_work_is_an_answer_too():
    site = Site().came()
    site.came(site.delivery(20))
    assert "has not answered" in site.pump.flush(0.01).error


def test_a_fault_of_ours_is_refused_like_a_bad_payload(monkeypatch):
    site = Site()
    site.came(site.delivery(20), site.delivery(21))
    judge = site.pump._trust.judge

    def stumble(probe, value, **how):
        if value == 20:
            raise ZeroDivisionError
        return judge(probe, value, **how)

    monkeypatch.setattr(site.pump._trust, "judge", stumble)
    assert site.flush().ok
    assert [21] == [v for _, v, _ in site.readings()]
    said = "ZeroDivisionError: nothing is wrong with your probe. Please report this, with the message."
    assert [(RefusalKind.FAULT, said)] == [(r.kind, r.reason) for r in site.store.refusals()]
    assert 2 == len(site.acknowledged)


# Times


def test_values_of_one_millisecond_are_put_one_after_the_other():
    site = Site()
    same = [site.delivery(20 + i, received_at=NOW) for i in range(4)]
    site.came(*same, site.delivery(30, received_at=NOW + 2), site.delivery(31, received_at=NOW + 9)).flush()
    assert [(0, 20), (1, 21), (2, 22), (3, 23), (4, 30), (9, 31)] == [(at, v) for at, v, _ in site.readings()]


def test_a_clock_that_is_set_back_is_followed():
    site = Site()
    site.came(site.delivery(20, received_at=NOW), site.delivery(21, received_at=NOW - 3_600_000)).flush()
    assert [-3_600_000, 0] == [at for at, _, _ in site.readings()]


def test_its_own_time_is_its_time_even_from_the_backlog():
    site = Site()
    body = json.dumps({"v": 20, "at": NOW // 1000 - 7200}).encode()
    site.came(site.delivery(body, probe="d", backlog=True)).flush()
    (reading,) = site.store.latest("d")
    assert (NOW - 7_200_000, True, Quality.STALE) == (reading.at, reading.own_time, reading.quality)
    assert [] == site.batches[0].delivered


def test_a_time_relative_to_now_counts_from_the_arrival():
    site = Site()
    pack = json.dumps([{"n": "s", "t": -60, "v": 20}, {"n": "s", "v": 21}]).encode()
    site.came(site.delivery(pack, probe="s")).flush()
    assert [(-60_000, 20, "GOOD"), (0, 21, "GOOD")] == site.readings("s")
    # nobody knows it again by its time, so by its packet
    assert 1 == len(site.batches[0].delivered)
    site.came(site.delivery(pack, probe="s", connection=2, backlog=True, dup=True)).flush()
    assert [20, 21] == site.undated()


def test_a_retained_value_without_a_time_is_shown_only():
    site = Site()
    site.came(site.delivery(60, retained=True), site.delivery(21, received_at=NOW + 1)).flush()
    assert [(0, 60, "RETAINED"), (1, 21, "GOOD")] == site.readings()
    site.came(site.delivery(61, retained=True, backlog=True, connection=2, received_at=NOW + 5)).flush()
    assert [] == site.undated()


# Again


def known(site, *packets, value=20):
    site.came(*[site.delivery(value, packet=p, received_at=NOW + p) for p in packets]).flush()
    return site


def again(site, packet, *, value=20, connection=2, dup=True):
    before = site.pump.counts().again
    site.came(site.delivery(value, packet=packet, connection=connection, backlog=True, dup=dup)).flush()
    return site.pump.counts().again == before + 1


def test_the_same_packet_and_payload_after_a_reconnect_is_the_same_delivery():
    site = known(Site(), 1, 2)
    assert again(site, 1)
    assert again(site, 2)
    assert 2 == len(site.readings())
    assert [] == site.undated()
    assert 4 == len(site.acknowledged)


def test_it_is_taken_for_it_once_only():
    site = known(Site(), 1)
    assert again(site, 1)
    assert not again(site, 1)
    assert [20] == site.undated()


def test_another_packet_or_payload_is_another_delivery():
    site = known(Site(), 1)
    assert not again(site, 2)
    assert not again(site, 1, value=21)
    assert [20, 21] == site.undated()


def test_on_the_same_connection_nothing_comes_again():
    site = known(Site(), 1)
    assert not again(site, 1, connection=1)


def test_after_the_marker_nothing_comes_again():
    site = known(Site(), 1, 2)
    site.came(site.delivery(30, packet=9, connection=2)).flush()
    assert not again(site, 1)
    assert not again(site, 2, connection=3), "what one connection did not bring again was acknowledged"


def test_it_may_come_again_on_a_third_connection():
    site = known(Site(), 1)
    assert again(site, 1, connection=2)
    assert again(site, 1, connection=3)


def test_a_packet_identifier_that_was_used_anew_means_the_new_message():
    site = known(Site(), 1)
    body = json.dumps({"v": 20, "at": NOW // 1000}).encode()
    site.came(site.delivery(body, probe="d", packet=1)).flush()
    assert not again(site, 1)


def test_after_a_restart_it_knows_what_the_store_knows():
    before = known(Site(), 1, 2)
    after = Site(delivered=before.store.delivered())
    assert again(after, 2, connection=1)
    assert not again(after, 3, connection=1)


def test_only_the_newest_are_remembered():
    old = [Delivered(p, 5) for p in range(1, 5001)]
    site = Site(delivered=old, window=1000)
    assert 2000 == len(site.pump._again._known)


def test_without_the_flag_it_is_a_new_message_whatever_else_it_is_like():
    site = known(Site(), 1)
    assert not again(site, 1, dup=False)
    assert [20] == site.undated(), "kept and shown, not judged"
    assert 2 == len(site.acknowledged)


def test_a_new_message_under_the_same_identifier_may_come_again_like_any_other():
    site = known(Site(), 1)
    assert not again(site, 1, dup=False, connection=2)
    assert again(site, 1, connection=3)
    assert [20] == site.undated()


def test_without_quality_of_service_there_is_no_packet_to_know_again():
    site = Site()
    site.came(site.delivery(20, qos=0, packet=0)).flush()
    assert [] == site.batches[0].delivered


def test_a_delivery_that_came_again_and_nothing_else_needs_no_commit():
    site = known(Site(), 1)
    again(site, 1)
    assert 1 == len(site.batches)


# Other settings


def test_other_settings_hold_from_the_next_batch():
    site = Site()
    site.came(site.delivery(20)).flush()
    other = probe("other", topic="probes/p")
    site.pump.use(Decoder({"other": other}))
    site.came(site.delivery(21)).flush()
    assert [20] == [v for _, v, _ in site.readings("p")]
    assert [21] == [v for _, v, _ in site.readings("other")]


def test_stopping_keeps_and_acknowledges_what_is_there():
    site = Site()
    site.came(site.delivery(20))
    site.pump.start()
    site.pump.stop()
    assert [Batch] == [type(b) for b in site.batches]
    assert 1 == len(site.acknowledged)
