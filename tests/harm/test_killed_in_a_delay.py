"""A delay is read off the readings' own times, so a death in the middle of it changes nothing: the alarm is raised,
and ends, at the very readings at which it would have.
"""

import json
from contextlib import closing

import pytest

from monitor.readings import MINUTE
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
    limits:
      temperature: {comfort: 15..29 °C, harm: [{above: 32 °C, lasting: 10 min}], deadband: 1 °C, off_delay: 10 min}
    zones: {only: {probes: {vat-v: {measures: temperature, topic: vat, field: /v, time: /at}}}}
"""
VALUES = (28.0, 33.0, 33.1, 33.2, 33.3, 33.4, 33.5, 28.5, 28.4, 28.3, 28.2, 28.1, 28.0)
"""°C, a reading every two and a half minutes: beyond 32 from number 1 on, back below 31 from number 7 on."""
STEP = 5 * MINUTE // 2
RAISED, RETURNED = 5, 11
"""The readings at which ten minutes are full."""
KILLED_AFTER = {3, 9}
"""Deaths by hand within the delays, besides those at the points where they are stored as begun."""


def steps(folder, *, kill, without=()):
    """(event, number of the reading) of every step of the vat's alarm, and how often the daemon died."""
    with Mosquitto(QUEUE) as broker, House(folder, broker, BINS) as house, closing(Talk(broker)) as talk:
        begin = now() - len(VALUES) * STEP
        daemon = house.daemon(kill="delay" if kill else None, without=without).up()
        deaths = 0
        for number, value in enumerate(VALUES):
            at = begin + number * STEP
            talk.publish("vat", json.dumps({"v": value, "at": iso(at)}))
            until(
                lambda at=at: house.judged("vat-v", at) or daemon.process.poll() is not None, "it is judged", SOON
            )
            if kill and number in KILLED_AFTER:
                daemon.kill()
            if kill and daemon.process.poll() is not None:
                deaths += 1
                daemon = house.daemon(kill="delay", without=without).up()
        with house.kept() as store:
            moves = [t for t in store.transitions() if t.key.condition == "hot"]
        return [(str(t.event), (t.at - begin) / STEP) for t in moves], deaths


EXPECTED = [("raised", RAISED), ("returned", RETURNED)]


@pytest.mark.parametrize("deaths", [0, 2 + len(KILLED_AFTER)], ids=["left alone", "killed four times"])
def test_the_alarm_steps_at_the_same_readings(tmp_path, deaths):
    assert (EXPECTED, deaths) == steps(tmp_path, kill=deaths > 0)


def test_control_a_delay_that_is_counted_in_memory_is_not_full_in_time(tmp_path):
    found, _ = steps(tmp_path, kill=True, without=["delays_in_memory"])
    assert EXPECTED != found
