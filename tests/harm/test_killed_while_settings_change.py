"""Killed while changed settings are taken up: afterwards either the old ones are in force or the new ones, whole."""

import json
import os
from contextlib import closing

import pytest

from monitor.store.sqlite import SqliteStore
from parts.harm_house import QUEUE, SOON, House
from parts.harm_life import Talk, iso, now
from parts.mosquitto import Mosquitto
from parts.road import until

BINS = """
places: {yard: {}}
bins:
  vat:
    species: eisenia-fetida
    stands_in: yard
    limits: {temperature: {comfort: 15..29 °C, harm: [{above: 32 °C}]}}
    zones: {only: {probes: {vat-v: {measures: temperature, topic: vat, field: /v, time: /at}}}}
"""
CHANGES = (("  vat:", "  tun:\n    was: vat"), ("vat-v: {", "tun-v: {was: vat-v, "), ("15..29", "16..29"))
NAMES = {"old": ("vat", "vat-v"), "new": ("tun", "tun-v")}


def edit(house):
    text = house.settings.read_text()
    for old, new in CHANGES:
        assert old in text
        text = text.replace(old, new)
    beside = house.settings.with_suffix(".new")
    beside.write_text(text)
    os.replace(beside, house.settings)


def told(store):
    """Which settings are in force, and under which ids there is what was told before."""
    bed, probe = NAMES["new" if store.in_force().number == 2 else "old"]
    others = [p for names in NAMES.values() for p in names if p not in (bed, probe)]
    (alarm,) = store.load().alarms
    assert (bed, 1) == (alarm.key.subject.id, alarm.number)
    assert 1 <= len(store.window(probe, 0, 2**60))
    assert [[], []] == [store.window(other, 0, 2**60) for other in others]
    events = [str(t.event) for t in store.transitions()]
    assert (["raised", "renamed"] if bed == "tun" else ["raised"]) == events
    amended = [a for row in store.taken_up() for a in row.amendments]
    assert (["comfort from"] if bed == "tun" else []) == [a.limit for a in amended]
    return store.in_force().number


@pytest.mark.parametrize(("point", "found"), [("taking up", 1), ("taken up", 2)])
def test_all_of_it_or_nothing_and_once(tmp_path, point, found):
    with Mosquitto(QUEUE) as broker, House(tmp_path, broker, BINS) as house, closing(Talk(broker)) as talk:
        daemon = house.daemon(kill=point, nth=2).up()
        hot = now()
        talk.publish("vat", json.dumps({"v": 33.0, "at": iso(hot)}))
        house.until(lambda store: store.load().alarms, "the alarm")
        edit(house)
        daemon.killed(point)
        store = SqliteStore(house.store)  # as the next daemon will find it, with nothing done yet
        try:
            assert found == told(store)
        finally:
            store.close()
        house.daemon().up()
        house.until(lambda store: store.in_force().number == 2, "the new settings")
        talk.publish("vat", json.dumps({"v": 33.1, "at": iso(now())}))
        until(lambda: house.ask(lambda store: len(store.window("tun-v", 0, 2**60)) == 2), "the next reading", SOON)
        assert 2 == house.ask(told)
