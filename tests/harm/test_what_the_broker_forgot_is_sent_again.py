"""A broker is killed with −9 while it saves by itself every half hour only, as it does when nobody told it otherwise. What it
had taken from a publisher and not handed on is gone with it, and comes again, with the time it was read at.
"""

import pytest

from monitor.publisher.held import Held
from monitor.readings import MINUTE
from monitor.store.memory import MemoryStore
from parts.mosquitto import Mosquitto
from parts.road import until
from parts.sending import Sending, daemon

DEFAULT = "autosave_interval 1800"
"""Mosquitto's own default, in words."""
BROKER = "max_queued_messages 0\n" + DEFAULT


def killed_with_what_it_had_taken(protocol="auto", *, whole=True):
    """The sensor, what the daemon's store holds in the end (some before, some lost with the broker, some after), what is held."""
    store = MemoryStore()
    with Mosquitto(BROKER) as broker, Sending(broker.port, "fig", protocol=protocol) as sending:
        source = sending.sources["fig"]
        with daemon(broker.port, "fig", store=store, protocol=protocol) as road:
            until(lambda: len(road.values("fig")) >= 5, "the first readings")
            road.wire.stop()
        lost = sending.read(10)
        until(lambda: all(r.taken for r in sending.waiting() if r.value <= lost[-1]), "the broker has taken them")
        broker.kill()
        broker.start()
        with daemon(broker.port, "fig", store=store, protocol=protocol) as road:
            sending.up()
            sending.read(2)
            mark = source.last
            until(lambda: mark in road.values("fig"), "a reading from after it")
            sending.read(40)
            mark = source.last
            until(lambda: mark in road.values("fig"), "a reading from long after it")

            def kept():
                return [r for r in store.window("fig", 0, 1 << 60) if r.value <= mark]

            until(lambda: len(kept()) >= mark * 8 or not whole, "whatever was missing")
            return source, kept(), sending.held
    return None


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_nothing_is_lost_and_nothing_kept_twice_and_each_has_the_time_it_was_read_at(protocol):
    source, kept, held = killed_with_what_it_had_taken(protocol)
    assert [n / 8 for n in range(1, len(kept) + 1)] == [r.value for r in kept]
    assert len(kept) >= 55
    late = [r for r in kept if abs(r.at - source.times[r.value]) > MINUTE]
    assert [] == late
    assert 0 == held.dropped


def test_control_without_marks_what_the_broker_had_taken_is_lost(monkeypatch):
    monkeypatch.setattr(Held, "mark", lambda *_, **__: 0)
    source, kept, _ = killed_with_what_it_had_taken(whole=False)
    missing = set(source.times) - {r.value for r in kept}
    assert len([value for value in missing if value < kept[-1].value]) >= 10
