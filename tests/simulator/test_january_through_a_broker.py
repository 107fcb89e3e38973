"""`vermistat demo --january` shares every line of the daemon: its first days through the embedded broker."""

import threading

from monitor.january import january, january_house
from monitor.simulator.month import EVERY, START


def test_days_are_lived_through_mqtt_and_the_post_is_counted_at_the_end():
    said = []
    assert 0 == january(port=0, days=1, stop=threading.Event(), say=said.append)
    assert "── Thursday 1 January: no post" in said
    assert any(line.startswith("ana: 0 in 1 days") for line in said)
    assert "The demo has ended." == said[-1]


def test_a_quarter_is_said_stored_and_judged():
    with january_house(0) as lived:
        assert START + EVERY == lived.quarter()
        assert 13 == lived.running.store.last_arrival()
        memory = lived.running.rounds.stands.memory
        assert {"tub-far", "trays-upper", "longbox-damp", "crate-core", "shed-air"} <= memory.keys()


def test_it_ends_when_it_is_told_to():
    stop, said = threading.Event(), []
    stop.set()
    january(port=0, stop=stop, say=said.append)
    assert not [line for line in said if "January" in line and "──" in line]
