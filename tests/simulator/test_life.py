"""Life speaks when its clock says so, and falls silent when it is told to."""

import queue

import pytest

from monitor.clock import ScaledClock, SteppedClock
from monitor.readings import HOUR, MINUTE
from monitor.simulator.life import Life
from monitor.simulator.story import SPEED, START, Story, Yard

SOON = 20


class Heard:
    def __init__(self):
        self.said = queue.Queue()

    def __call__(self, topic, payload):
        self.said.put((topic, payload))

    def next(self, count):
        return [self.said.get(timeout=SOON) for _ in range(count)]


def told(until):
    return [(m.topic, m.payload) for m in Story().until(until)]


def test_at_first_it_says_what_belongs_to_the_first_minute_and_then_waits_for_its_clock():
    clock, heard = SteppedClock(START), Heard()
    life = Life(clock=clock, publish=heard)
    life.start()
    try:
        first = told(START)
        assert first == heard.next(len(first))
        clock.move_to(START + HOUR)
        whole = told(START + HOUR)
        assert whole[len(first) :] == heard.next(len(whole) - len(first))
    finally:
        assert life.stop()
    assert heard.said.empty()


def test_after_stop_nothing_is_said_however_far_the_clock_moves():
    clock, heard = SteppedClock(START), Heard()
    life = Life(clock=clock, publish=heard)
    life.start()
    heard.next(1)
    assert life.stop()
    so_far = heard.said.qsize()
    clock.move_to(START + 10 * HOUR)
    assert so_far == heard.said.qsize()
    assert life.stop()


def test_under_the_demos_clock_half_an_hour_passes_by_itself():
    heard = Heard()
    life = Life(clock=ScaledClock(START, SPEED), publish=heard)
    life.start()
    try:
        wanted = [m.topic for m in Story().until(START + 30 * MINUTE)]
        assert wanted == [topic for topic, _ in heard.next(len(wanted))]
    finally:
        assert life.stop()


def test_a_clock_that_waits_stands_until_it_is_begun():
    clock = ScaledClock(START, 100_000, waits=True)
    assert (START, START) == (clock.now(), clock.now())
    clock.begin()
    first = clock.now()
    clock.begin()
    assert START <= first <= clock.now()
    while clock.now() == START:
        pass


def test_whoever_lives_in_the_beds_too_is_asked_with_the_time_and_a_yard_goes_on_from_its_own():
    yard, asked = Yard(lambda _: (3.0, 0.0), at=START), queue.Queue()
    clock, heard = SteppedClock(START + HOUR), Heard()
    life = Life(clock=clock, publish=heard, yard=yard, meanwhile=asked.put)
    life.start()
    try:
        assert START + HOUR == asked.get(timeout=SOON)
        assert START + HOUR < yard.at
    finally:
        assert life.stop()


def test_a_probe_that_cannot_speak_does_not_silence_the_others(caplog):
    clock, heard = SteppedClock(START), Heard()

    def publish(topic, payload):
        if topic == "probes/tub":
            raise OSError("no radio")
        heard(topic, payload)

    life = Life(clock=clock, publish=publish)
    life.start()
    others = [m for m in told(START) if m[0] != "probes/tub"]
    try:
        assert others == heard.next(len(others))
    finally:
        assert life.stop()
    assert "could not speak" in caplog.text


def test_stopping_before_starting_is_no_error():
    assert Life(clock=SteppedClock(START), publish=pytest.fail).stop()
