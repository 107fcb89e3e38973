"""No *on* for a mat outlives what it says of itself, whatever becomes of the daemon."""

import json
import signal
from contextlib import closing, contextmanager
from datetime import datetime

import pytest

from monitor.readings import MINUTE, SECOND
from parts.follower import Follower
from parts.harm_house import House
from parts.harm_life import Talk, iso, now
from parts.mosquitto import Mosquitto
from parts.overheard import V5, V311, kept, listening
from parts.road import until

MAT, ALIVE = "vermistat/yard/mats/pad", "vermistat/yard/alive"
GONE = {"alive": False, "at": None, "valid_until": None}
"""What the broker says when nobody has taken leave."""
BINS = """
places: {yard: {}}
mats: {pad: {warms: vat.only, control: thermostat, set_to: 18 °C, follow: true}}
bins:
  vat:
    species: eisenia-fetida
    stands_in: yard
    limits: {temperature: {comfort: 14..24 °C, harm: [{below: 12 °C, lasting: 10 min}, {above: 31 °C}]}}
    zones:
      only: {probes: {vat-v: {measures: temperature, topic: vat, field: /v, time: /at}}}
      mat:
        role: at-the-mat
        limits: {temperature: {harm: [{above: 16 °C, lasting: 30 min}]}}
        probes: {mat-v: {measures: temperature, topic: mat, field: /v, time: /at}}
"""
HOLDS = 3
"""Seconds that what a switch is told holds in these tests, in place of ten minutes."""


@contextmanager
def heated(folder, *, protocol="auto", without=()):
    """(broker, house, daemon, talk) with a bed too cold for a quarter of an hour, and a switch told to have its mat on."""
    with (
        Mosquitto() as broker,
        House(folder, broker, BINS, protocol=protocol) as house,
        closing(Talk(broker)) as talk,
    ):
        with listening(broker, protocol=V311 if protocol == "3.1.1" else V5) as heard:
            daemon = house.daemon(holds=HOLDS, without=without).up()
            cold(talk)
            heard.wait(MAT, lambda told: told and told["on"], "its switch is told to have it on")
        yield broker, daemon, talk


def cold(talk, mat=15.0):
    """A quarter of an hour below twelve degrees, up to now."""
    for ago in range(15, -1, -1):
        at = iso(now() - ago * MINUTE)
        talk.publish("vat", json.dumps({"v": 10.0 + ago / 100, "at": at}))
        talk.publish("mat", json.dumps({"v": mat + ago / 100, "at": at}))


def over(told):
    """Wait until the time has come that a word gives for its end."""
    end = datetime.fromisoformat(told["valid_until"]).timestamp() * 1000
    until(lambda: now() > end + SECOND, "its time is over")


def test_no_on_outlives_its_time_when_the_daemon_is_killed(tmp_path):
    with heated(tmp_path) as (broker, daemon, _), closing(Follower(broker, MAT, ALIVE)) as switch:
        told = kept(broker)[MAT]
        assert told["on"], "who comes later is told too"
        until(lambda: switch.on, "a switch follows")
        daemon.kill()
        with listening(broker) as heard:
            assert GONE == heard.wait(ALIVE, lambda said: not said["alive"], "the will is read out")
        over(told)
        assert not switch.on
        left = kept(broker)
    assert MAT not in left
    assert GONE == left[ALIVE]


def test_without_an_end_at_the_broker_it_does(tmp_path):
    """The control: the same daemon, but its messages are kept until somebody says otherwise."""
    with heated(tmp_path, without=["tell_mats_for_ever"]) as (broker, daemon, _):
        daemon.kill()
        told = kept(broker)[MAT]
        over(told)
        left = kept(broker)
    assert left[MAT]["on"]
    assert told["valid_until"] == left[MAT]["valid_until"], "only the time it carries tells a reader"


def test_a_broker_that_forgets_nothing_is_given_no_on_to_keep(tmp_path):
    """MQTT 3.1.1: who listens is told, who comes later hears nothing but whether somebody is there."""
    with heated(tmp_path, protocol="3.1.1") as (broker, daemon, _):
        assert {ALIVE} == kept(broker, protocol=V311).keys()
        daemon.kill()
        with listening(broker, protocol=V311) as heard:
            heard.wait(ALIVE, lambda said: not said["alive"], "the will is read out")
        assert {ALIVE: GONE} == kept(broker, protocol=V311)


def test_a_daemon_that_ends_in_order_switches_off_and_leaves_nothing(tmp_path):
    with heated(tmp_path) as (broker, daemon, _):
        with listening(broker) as heard:
            assert 0 == daemon.stop()
            heard.wait("vermistat/yard/vat/advice", lambda said: said is None, "everything is cleared")
            mats = heard.of(MAT)
        assert [False, None] == [told and told["on"] for told in mats[-2:]]
        assert "Vermistat stops." == mats[-2]["why"]
        left = kept(broker)
        assert {ALIVE} == left.keys()
        assert (False, True) == (left[ALIVE]["alive"], left[ALIVE]["at"] is not None)


def test_what_holds_is_said_again_when_the_broker_was_away(tmp_path):
    with heated(tmp_path) as (broker, daemon, _):
        broker.kill()
        (broker.folder / "mosquitto.db").unlink(missing_ok=True)
        broker.start()
        daemon.up(2)
        with listening(broker) as heard:
            assert heard.wait(MAT, lambda told: told and told["on"], "it is on")["on"]
            assert heard.wait(ALIVE, lambda said: said["alive"], "somebody judges")
            heard.wait("vermistat/yard/vat/state", lambda said: said["alarms"], "how the bed is")


@pytest.mark.parametrize(
    ("probe", "value", "why"),
    [("vat", 31.0, "believed"), ("mat", 16.2, "its limit 16")],
    ids=["a jump", "the limit"],
)
def test_it_is_switched_off_in_the_round_that_sees_it(tmp_path, probe, value, why):
    with heated(tmp_path) as (broker, _, talk), listening(broker) as heard:
        talk.publish(probe, json.dumps({"v": value, "at": iso(now())}))
        told = heard.wait(MAT, lambda said: said and not said["on"], "it is off")
        assert why in told["why"]


ENDS = {
    "the broker is killed": lambda broker, daemon: broker.kill(),
    "the daemon stands still": lambda broker, daemon: daemon.tell(signal.SIGSTOP),
}


@pytest.mark.parametrize("end", ENDS)
def test_a_switch_that_follows_as_the_how_to_says_is_off_whatever_ends(tmp_path, end):
    with heated(tmp_path) as (broker, daemon, _), closing(Follower(broker, MAT, ALIVE)) as switch:
        until(lambda: switch.on, "it is on")
        ENDS[end](broker, daemon)
        until(lambda: not switch.on, "it is off")


def test_it_is_on_for_longer_than_one_word_holds_while_that_is_said_again(tmp_path):
    """The control: nothing ends."""
    with heated(tmp_path) as (broker, _, _talk), closing(Follower(broker, MAT, ALIVE)) as switch:
        until(lambda: switch.on, "it is on")
        begun = now()
        until(lambda: switch.on and now() > begun + (HOLDS + 1) * SECOND, "it is still on, or again")
