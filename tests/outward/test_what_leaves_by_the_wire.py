"""The wire's part in telling other programs: the will, last words, access lists, and what a broker forgets."""

import pytest

from intake.probes import probe
from monitor.addresses import Secret
from monitor.wire import Will
from parts.mosquitto import Mosquitto
from parts.overheard import V5, V311, kept, listening
from parts.road import Road, until

WILL = Will("vermistat/yard/alive", b'"gone"')


def road(broker, **more):
    wired = {"will": WILL} | more.pop("wired", {})
    return Road(broker.port, [probe("fig-west")], wired=wired, **more)


@pytest.mark.parametrize(("name", "version"), [("5", V5), ("3.1.1", V311)])
def test_the_will_is_kept_when_the_connection_is_lost_and_not_when_leave_is_taken(name, version):
    with Mosquitto() as broker:
        with road(broker, protocol=name):
            pass
        assert {} == kept(broker, protocol=version)
        with road(broker, protocol=name) as way:
            number = way.wire.link().connection
            way.cut()
            assert way.wire.link().connection > number
            assert {WILL.topic: "gone"} == kept(broker, protocol=version)


def test_every_last_word_is_taken_before_leave_however_many_there_are():
    """700: far more than are on their way at once, and than are handed to the client at once."""
    with Mosquitto() as broker, listening(broker) as heard:
        with road(broker) as way:
            assert all(way.wire.publish(f"vermistat/yard/last/{n}", str(n)) for n in range(700))
        until(lambda: len(heard.messages) >= 700, "every one is heard")
        assert [str(n).encode() for n in range(700)] == [body for _, body, _ in heard.messages]


def test_what_still_holds_is_asked_for_whenever_a_connection_comes_up():
    greeted = []
    with Mosquitto() as broker, road(broker, wired={"greeted": lambda: greeted.append(1)}) as way:
        until(lambda: greeted, "it is asked for")
        way.cut()
        until(lambda: len(greeted) == 2, "it is asked for again")


def test_who_asks_may_publish_at_once():
    with Mosquitto() as broker, listening(broker) as heard:
        ways = []
        wired = {"greeted": lambda: ways[0].wire.publish("vermistat/yard/alive", "true", retain=True)}
        ways.append(road(broker, wired=wired))
        with ways[0]:
            assert heard.wait(WILL.topic, bool, "it is said")


def test_an_access_list_that_keeps_us_quiet_is_said_and_everything_else_goes_on():
    acl = "user vermistat\ntopic readwrite vermistat/tests/marker\ntopic read probes/#\n"
    with (
        Mosquitto(users={"vermistat": "wet-hay"}, acl=acl) as broker,
        road(broker, user="vermistat", password=Secret("wet-hay"), protocol="5") as way,
    ):
        assert "" == way.wire.link().detail
        assert way.wire.publish("vermistat/yard/alive", "true", retain=True)
        until(lambda: way.wire.link().detail, "it says so")
        assert way.wire.link().up
        assert way.wire.link().detail == (
            "The broker does not let us write vermistat/yard/alive, so other programs hear nothing: "
            "allow vermistat/yard/# in its access list."
        )


def test_a_broker_that_forgets_nothing_keeps_only_what_is_to_be_kept_anyway():
    with Mosquitto() as broker, road(broker, protocol="3.1.1") as way:
        way.wire.publish("vermistat/yard/mats/pad", '"on"', retain=True, expiry_s=60)
        way.wire.publish("vermistat/yard/alive", '"here"', retain=True, expiry_s=60, kept_anyway=True)
        with listening(broker, protocol=V311) as heard:
            heard.wait("vermistat/yard/alive", bool, "it is kept")
        assert {"vermistat/yard/alive": "here"} == kept(broker, protocol=V311)


def test_a_broker_of_version_5_keeps_both_and_counts_their_time_down():
    with Mosquitto() as broker, road(broker, protocol="5") as way:
        way.wire.publish("vermistat/yard/mats/pad", '"on"', retain=True, expiry_s=60)
        with listening(broker) as heard:
            heard.wait("vermistat/yard/mats/pad", bool, "it is kept")
        assert {"vermistat/yard/mats/pad": "on"} == kept(broker)
